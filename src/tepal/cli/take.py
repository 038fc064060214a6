"""`tepal take`: files into a ledger."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.ledger import Taken, Vocabulary
    from tepal.tables import Refused

_SHOWN = 20
_NOTES = 2  # more of them stand each on a line of its own
_FEW = 3  # so many of a kind are told one by one on a terminal


def take(
    *files: Path,
    ledger: str,
    site: str | None = None,
    station: str | None = None,
    by: str | None = None,
    on: str | None = None,
    corrects: Annotated[bool, Parameter(negative=())] = False,
    insist: Annotated[bool, Parameter(negative=())] = False,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Take files into a ledger: entries, tables, maps, daily weather, photos, voice notes, folders that `give` made.

    Good lines go in, bad lines are refused and named. Taking the same file again adds nothing. The ledger is made if
    it is not there.

    Parameters
    ----------
    files: Path
        entries.jsonl; CSV of stops with counts, plants with looks, treatments or daily weather; GHCN-Daily (.dly or
        .csv); maps as GeoJSON, GPX, KML, KMZ, GeoPackage or Shapefile (zipped or not); JPEG, PNG or HEIC photos;
        voice notes (.webm, .m4a, .ogg); folders made by `tepal give`.
    ledger: str
        The ledger: a file, or postgresql://…
    site: str
        The site of tables, maps, photos and voice notes, whatever they say; of entries that name none.
    station: str
        The weather station of the files; otherwise a column `station`, otherwise the file's name.
    by: str
        Who saw it, where the files do not say.
    on: str
        The day (YYYY-MM-DD) of rows, tracks and photos without a date.
    corrects: bool
        Let days of weather replace what the ledger knows of those days.
    insist: bool
        Take what looks like a slip: a site's name that is nearly that of another, a place far from its site.
    photos: Path
        Folder for the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from datetime import date, timedelta

    from tepal.ledger import Defaults
    from tepal.ledger import take as take_files
    from tepal.tables import Refused, parse_date

    if not files:
        raise Refused("no files", where="command line", rule="Name what to take.", step="tepal take FILES --ledger L")
    defaults = Defaults(
        site=site,
        by=by,
        station=station,
        on=None if on is None else parse_date(on, "--on"),
        # East of here the day may already have turned.
        today=date.today() + timedelta(days=1),
    )
    found = take_files(
        files, ledger, defaults=defaults, words=_vocabulary(), photos=photos, corrects=corrects, insist=insist
    )
    if json_output:
        _out.emit(_plain(found, ledger))
    elif found.added or found.already or not found.refused:
        _say(found, ledger)
    _warn(found.refused)
    if not found.refused:
        return _out.DONE
    return _out.IN_PART if found.added or found.already else _out.REFUSED


def _vocabulary() -> Vocabulary:
    """The weed group's words for headers and cells: the one place where flora and ledger meet for this command."""
    from tepal.flora import load
    from tepal.ledger import LookForm, Vocabulary
    from tepal.ledger.formats import words_of

    flora = load()
    taxa: dict[str, str] = {}
    first_words: dict[str, list[str]] = {}
    for taxon in flora.taxa.values():
        english = words_of(taxon.english_name.split("(")[0])
        latin = " ".join(words_of(taxon.scientific_name.split("(")[0]).split()[:2])
        for name in (words_of(taxon.code), english, latin):
            taxa.setdefault(name, taxon.code)
        if taxon.pigweed:
            first_words.setdefault(english.split()[0], []).append(taxon.code)
    # "Palmer" and "redroot" are what people write, where only one pigweed is called so.
    for word, codes in first_words.items():
        if len(codes) == 1:
            taxa.setdefault(word, codes[0])
    looks = {
        character.name: LookForm(character.name, character.states, character.unit)
        for character in flora.characters.values()
        if character.look
    }
    return Vocabulary(taxa, looks, frozenset(words_of(name) for name in flora.ingredients))


def _plain(found: Taken, ledger: str) -> dict[str, Any]:
    from tepal.ledger.formats import grouped

    return {
        "ledger": ledger if "://" not in ledger else "postgresql",
        "added": found.added,
        "already": found.already,
        "refused": [
            {
                "file": one.where.file,
                "line": one.where.line,
                "field": one.where.column,
                "what": one.what,
                "rule": one.rule,
                "step": one.step,
            }
            | ({"count": alike.count, "lines": alike.lines} if alike.count > 1 else {})
            for alike in grouped(found.refused)
            for one in [alike.first]
        ],
        "noticed": list(found.noticed),
        "new_sites": list(found.new_sites),
        "understood": [{"file": u.file, "holds": u.holds, "notes": list(u.notes)} for u in found.understood],
    }


def _say(found: Taken, ledger: str) -> None:
    for one in found.understood:
        if len(one.notes) <= _NOTES:
            _out.say(f"{one.file}: {one.holds}" + "".join(f"; {note}" for note in one.notes) + ".")
            continue
        _out.say(f"{one.file}: {one.holds}.")
        for note in one.notes:
            _out.say(f"  {note}")
    for note in found.noticed:
        _out.say(f"Taken, but look at it: {note}")
    shown = ledger if "://" not in ledger else "the ledger"
    into = shlex.quote(ledger) if "://" not in ledger else "postgresql://…"  # an address may hold a password
    for name in found.new_sites[:_SHOWN]:
        _out.say(f"{name}: a new site, of which only the name is known. Its boundary, when you have it:")
        _out.say(f"  tepal take FIELD.geojson --site {shlex.quote(name)} --ledger {into}")
    if len(found.new_sites) > _SHOWN:
        _out.say(f"{len(found.new_sites) - _SHOWN:,} more sites are new, and only their names are known.")
    new = f"{found.added:,} new" if found.added else "Nothing new"
    were = "was" if found.already == 1 else "were"
    _out.say(f"{new} in {shown}" + (f"; {found.already:,} {were} there already" if found.already else "") + ".")


def _warn(refused: tuple[Refused, ...]) -> None:
    from tepal.ledger.formats import grouped

    told = grouped(refused, few=_FEW)
    for alike in told[:_SHOWN]:
        _out.warn(str(alike))
    left = sum(alike.count for alike in told[_SHOWN:])
    if left:
        _out.warn(f"{left:,} more were refused; --json names each.")

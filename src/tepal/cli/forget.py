"""`tepal forget`: a person's data, or one photo or voice note, removed for good."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def forget(
    person: str | None = None,
    *,
    ledger: str,
    yes: Annotated[bool, Parameter(negative=())] = False,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Remove a person's data from the ledger for good; what was seen stays, and of the rest an id and a hash.

    One photo or voice note goes by the id of its entry, with its original (tepal history tells ids). Without --yes it
    only says how much would be removed. It cannot be undone. What was given out before, copies of the ledger, letters,
    and the originals of photos that came with a person's reports are not reached.

    Parameters
    ----------
    person: str
        The name as in the record, or the id of an entry: of a party, a photo or a voice note. Without it: clear what an
        earlier run could not.
    ledger: str
        The ledger: a file, or postgresql://…
    yes: bool
        Do it.
    photos: Path
        Folder for the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger, clear_traces
    from tepal.ledger import forget as remove
    from tepal.tables import Refused

    with Ledger.open(ledger, photos=photos) as book:
        if person is None:
            cleared = clear_traces(book)
            if json_output:
                _out.emit({"removed": [], "thinned": [], "left": [], "cleared": cleared})
            elif cleared:
                _out.say("Nothing forgotten before is left in the ledger's file. To forget a person, name one.")
            return _end(cleared, ())
        found = remove(book, person, do=False)
        if not yes:
            raise Refused(
                f"{_entries(len(found.removed))} would be removed and {len(found.thinned)} thinned; nothing was done",
                where="command line",
                rule="Forgetting cannot be undone.",
                step="Add --yes to do it.",
            )
        found = remove(book, person)
    if json_output:
        _out.emit(
            {
                "removed": found.removed,
                "thinned": found.thinned,
                "left": found.left,
                "photos_kept": found.photos,
                "sounds_removed": found.sounds,
                "originals_removed": found.originals,
                "cleared": found.cleared,
            }
        )
    elif found.originals:
        _out.say(f"Forgotten, with its original: of {_entries(len(found.removed))} only an id and a hash is left.")
        if found.thinned:
            _out.say(f"What was seen stays in {_entries(len(found.thinned))} that named it.")
    else:
        _out.say(
            f"Forgotten: of {_entries(len(found.removed))} only an id and a hash is left; in "
            f"{_entries(len(found.thinned))} what was seen stays, without the person."
        )
        if found.sounds:
            spoken = "1 voice note" if found.sounds == 1 else f"{found.sounds} voice notes"
            _out.say(f"Gone with them: {spoken} that they spoke.")
        if found.photos:
            kept = "1 photo" if found.photos == 1 else f"{found.photos} photos"
            _out.say(f"Kept beside the ledger: {kept} that came with their reports.")
    return _end(bool(found.cleared), found.left)


def _entries(count: int) -> str:
    return "1 entry" if count == 1 else f"{count:,} entries"


def _end(cleared: bool, left: tuple[str, ...]) -> int:
    for id in left[:20]:
        _out.warn(f"The name still stands in entry {id}: in a site's id, or as a word that may mean something else.")
    if not cleared:
        _out.warn(
            "Another program has the ledger open, so that old bytes may still be in its file. Close it, then run "
            "`tepal forget --ledger L`."
        )
    return _out.DONE if cleared and not left else _out.IN_PART

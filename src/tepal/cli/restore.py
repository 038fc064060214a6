"""`tepal restore`: a ledger made of a backup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def restore(
    file: Path,
    /,
    *,
    ledger: str,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Make a ledger of a backup: every row and every photo as it was, or nothing at all.

    Nothing is overwritten. What is in the backup is compared with its hashes before anything is written, and what was
    written is read back. A backup of a file can be restored to PostgreSQL, and the other way round.

    Parameters
    ----------
    file: Path
        What `tepal backup` made.
    ledger: str
        Where the ledger will be: a file that is not there yet, or an empty database (postgresql://…).
    photos: Path
        Folder for the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.cli._counting import counting
    from tepal.cli._held import held_in_words
    from tepal.ledger.keeping import restore as bring_back
    from tepal.words import Words

    words = Words()
    with counting(words) as progress:
        found = bring_back(file, ledger, photos=photos, progress=progress)
    if json_output:
        _out.emit(
            {
                "made_at": found.made_at,
                "tables": found.tables,
                "photos": found.photos,
                "photos_already": found.photos_there,
                "last_seq": found.last_seq,
                "missing_photos": found.missing,
                "damaged_photos": found.damaged,
            }
        )
        return _out.DONE
    _out.say(
        words.t(
            "Restored as it was on {moment} UTC: {entries} and {photos}, compared row for row.",
            moment=found.made_at[:16].replace("T", " "),
            **held_in_words(words, found.tables, found.photos + found.photos_there),
        )
    )
    if found.missing or found.damaged:
        _out.say(
            words.plural(
                "{count} original was missing or damaged already when the backup was made; `tepal check` names it.",
                "{count} originals were missing or damaged already when the backup was made; `tepal check` names them.",
                len(found.missing) + len(found.damaged),
            )
        )
    if found.tables.get("office_device"):
        _out.say(
            words.t(
                "Devices that could speak to it then can do so again: look at the people's page, and revoke those that "
                "were revoked since."
            )
        )
    return _out.DONE

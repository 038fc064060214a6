"""`tepal give`: a ledger out as open files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def give(
    folder: Path,
    /,
    *,
    ledger: str,
    force: Annotated[bool, Parameter(negative=())] = False,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Give a ledger out as open files: entries.jsonl, photos, voice notes, weather, and views of what stands.

    The views are CSV for spreadsheets, and GeoJSON, GPX and GeoPackage for maps.

    `tepal take FOLDER` takes them in again, the same entries in the same order.

    Parameters
    ----------
    folder: Path
        An empty or new folder, or one that `give` made of this ledger.
    ledger: str
        The ledger: a file, or postgresql://…
    force: bool
        Write into a folder that has other files; those stay.
    photos: Path
        Folder of the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger
    from tepal.ledger import give as give_files

    with Ledger.open(ledger, photos=photos) as book:
        given = give_files(book, folder, force=force)
    if json_output:
        _out.emit(
            {
                "folder": str(folder),
                "files": given.files,
                "entries": given.entries,
                "weather_batches": given.batches,
                "missing_photos": given.missing_photos,
            }
        )
    else:
        from tepal.words import Words

        words = Words()
        entries = words.plural("{n} entry", "{n} entries", given.entries, n=f"{given.entries:,}")
        batches = words.plural("{n} batch of weather", "{n} batches of weather", given.batches, n=f"{given.batches:,}")
        _out.say(words.t("Now in {folder}: {entries} and {batches}.", folder=folder, entries=entries, batches=batches))
    for sha256 in given.missing_photos:
        _out.warn(f"The original {sha256} is not beside the ledger; its entry is given without it.")
    return _out.IN_PART if given.missing_photos else _out.DONE

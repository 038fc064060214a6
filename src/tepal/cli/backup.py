"""`tepal backup`: all of a ledger as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def backup(
    to: Path,
    /,
    *,
    ledger: str,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Keep all of a ledger in one new file, while others write to it: the record, people, photos, voice notes.

    It is there whole or not at all, and holds what stood at one moment. The file is a ZIP of plain text and photos;
    only its owner can read it. `tepal restore` makes a ledger of it.

    Parameters
    ----------
    to: Path
        A new file; or a folder, in which it is named for the ledger and the moment.
    ledger: str
        The ledger: a file, or postgresql://…
    photos: Path
        Folder of the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.cli._counting import counting
    from tepal.cli._held import held_in_words
    from tepal.ledger.keeping import backup as keep
    from tepal.words import Words

    words = Words()
    with counting(words) as progress:
        kept = keep(ledger, to, photos=photos, progress=progress)
    if json_output:
        _out.emit(
            {
                "file": str(kept.file),
                "size_bytes": kept.size_bytes,
                "tables": kept.tables,
                "photos": kept.photos,
                "last_seq": kept.last_seq,
                "missing_photos": kept.missing,
                "damaged_photos": kept.damaged,
                "left_out": kept.others,
            }
        )
    else:
        _out.say(
            words.t(
                "Kept in {file}: {entries} and {photos}, {size} MB, read back and found whole.",
                file=kept.file,
                size=words.number(kept.size_bytes / 1e6, 1),
                **held_in_words(words, kept.tables, kept.photos),
            )
        )
        _out.say(
            words.t(
                "It holds names, contacts, infested sites and the office's people and devices: only you "
                "may read it (mode 0600). Keep it on another machine, as safe as the ledger."
            )
        )
    for sha256 in kept.missing:
        _out.warn(
            words.t("The original {name} is named by an entry and was not there; it is not in the backup.", name=sha256)
        )
    for name in kept.damaged:
        _out.warn(words.t("The original {name} is damaged; it was kept as it is. `tepal check` tells more.", name=name))
    for name in kept.others:
        _out.warn(words.t("Table {name} is no part of a ledger; it is not in the backup.", name=name))
    return _out.IN_PART if kept.missing or kept.damaged else _out.DONE

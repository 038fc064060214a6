"""`tepal check`: is a ledger, or a backup, whole?"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.ledger.keeping import Checked
    from tepal.words import Words

_SHOWN = 20  # of one kind; JSON has all


def check(
    *,
    ledger: str | None = None,
    backup: Path | None = None,
    photos: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Look whether a ledger is whole: each entry, batch of weather and photo against its hash, and what points at what.

    Nothing is changed. What is wrong is named, with what to do; the exit code is then 1.

    Parameters
    ----------
    ledger: str
        The ledger: a file, or postgresql://…
    backup: Path
        A backup to look at, instead of a ledger.
    photos: Path
        Folder of the originals of photos and voice notes; beside the ledger if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.cli._counting import counting
    from tepal.ledger.keeping import check as look
    from tepal.ledger.keeping import check_backup
    from tepal.tables import Refused
    from tepal.words import Words

    words = Words()
    with counting(words) as progress:
        if ledger is not None and backup is None:
            found = look(ledger, photos=photos, words=words, progress=progress)
        elif backup is not None and ledger is None:
            found = check_backup(backup, words=words, progress=progress)
        else:
            raise Refused(
                "neither or both of --ledger and --backup",
                where="command line",
                rule="One thing is looked at.",
                step="Name a ledger, or a backup.",
            )
    if json_output:
        _out.emit(
            {
                "whole": not found.findings,
                "findings": [
                    {"kind": one.kind, "where": one.where, "what": one.what, "step": one.step} for one in found.findings
                ],
                "entries": found.entries,
                "forgotten": found.forgotten,
                "weather_batches": found.batches,
                "photos": found.photos,
                "last_seq": found.last_seq,
                "waiting_photos": found.waiting,
            }
        )
    else:
        _say(found, words)
    return _out.IN_PART if found.findings else _out.DONE


def _say(found: Checked, words: Words) -> None:
    told: Counter[str] = Counter()
    for one in found.findings:
        told[one.kind] += 1
        if told[one.kind] <= _SHOWN:
            _out.say(f"{one.what} {one.step}")
    for count in told.values():
        if count > _SHOWN:
            _out.say(
                words.plural("{count} more like it; --json names it.", "{count} more like these; --json names them.",
                             count - _SHOWN)
            )  # fmt: skip
    if found.waiting:
        _out.say(
            words.plural(
                "{count} original came or was named within a day and waits for its other half. That is usual.",
                "{count} originals came or were named within a day and wait for their other half. That is usual.",
                len(found.waiting),
            )
        )
    looked = words.t(
        "Looked at {entries} ({forgotten} with forgotten data), {batches} and {photos}.",
        entries=words.plural("{count} entry", "{count} entries", found.entries),
        forgotten=words.number(found.forgotten),
        batches=words.plural("{count} batch of weather", "{count} batches of weather", found.batches),
        photos=words.plural("{count} photo or voice note", "{count} photos and voice notes", found.photos),
    )
    if found.findings:
        wrong = words.plural("{count} thing is not as it should be.", "{count} things are not as they should be.",
                             len(found.findings))  # fmt: skip
        _out.say(f"{looked} {wrong}")
    else:
        _out.say(f"{looked} {words.t('All of it is whole.')}")

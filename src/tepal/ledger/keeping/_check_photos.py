"""The originals: each is what its name says, each is named by an entry, and each that is named is there."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tepal.ledger.keeping._files import ORIGINAL, Progress, blocks, originals
from tepal.ledger.keeping._findings import Seen
from tepal.words import Words

WAITS = timedelta(days=1)
"""So long a photo may lie there without its entry, and an entry without its photo: phones send one after the other."""


def look_at_photos(
    folder: Path | None, seen: Seen, words: Words, *, now: datetime, progress: Progress
) -> tuple[str, ...]:
    """Find what is wrong with the originals; the photos that wait for their entry or the other way round."""
    there, waiting = set(), []
    for path in originals(folder):
        sha256 = path.stem
        there.add(sha256)
        size = _look_at(path, seen, words, progress)
        if size is None:
            continue
        if sha256 not in seen.photos:
            if now - datetime.fromtimestamp(path.stat().st_mtime, UTC) < WAITS:
                waiting.append(sha256)
                continue
            what = words.t("The original {name} is named by no entry.", name=path.name)
            step = words.t("A broken run may have left it, or a phone still holds its entry. If neither, delete it.")
            seen.found("photo_without_entry", path.name, what, step)
        elif seen.sizes.get(sha256, size) != size:
            what = words.t("The original {name} has another length than its entry says.", name=path.name)
            step = words.t("Amend its entry.")
            seen.found("photo_length", path.name, what, step)
    for sha256, (id, got_at) in seen.photos.items():
        if sha256 in there:
            continue
        if now - datetime.fromisoformat(got_at).astimezone(UTC) < WAITS:
            waiting.append(sha256)
            continue
        what = words.t("Entry {id} names the original {photo}, which is not there.", id=id, photo=sha256)
        step = words.t("Let the phone that took it send it, take the file in again, or fetch it from a backup.")
        seen.found("photo_missing", sha256, what, step)
    _look_for_scraps(folder, seen, words, now)
    return tuple(waiting)


def _look_at(path: Path, seen: Seen, words: Words, progress: Progress) -> int | None:
    """Compare an original with its name; its size, None where it is not what it was."""
    digest, size = hashlib.sha256(), 0
    restore = words.t("Fetch it from a backup (photos/ in the file), or from the phone that took it.")
    try:
        with path.open("rb") as file:
            for part in blocks(file):
                digest.update(part)
                size += len(part)
                progress(len(part))
    except OSError as problem:
        what = words.t(
            "The original {name} cannot be read: {reason}.", name=path.name, reason=problem.strerror or problem
        )
        seen.found("photo_unreadable", path.name, what, restore)
        return None
    if digest.hexdigest() != path.stem:
        what = words.t("The original {name} is damaged: its content is not what its name says.", name=path.name)
        seen.found("photo_damaged", path.name, what, restore)
        return None
    return size


def _look_for_scraps(folder: Path | None, seen: Seen, words: Words, now: datetime) -> None:
    if folder is None or not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        if path.is_file() and not ORIGINAL.match(path.name):
            if now - datetime.fromtimestamp(path.stat().st_mtime, UTC) < WAITS:
                continue
            what = words.t("{name} lies among the originals and is none.", name=path.name)
            step = words.t("A broken run may have left it. Look at it, then delete it or move it away.")
            seen.found("scrap", path.name, what, step)

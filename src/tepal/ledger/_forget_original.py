"""One photo or voice note removed for good, with its original: what was seen beside it stays."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from tepal.ledger._append_only import FORGOTTEN
from tepal.ledger._bodies import Photo, Plant, Report, Sound
from tepal.ledger._entry import Entry, body_plain, entry_from_plain
from tepal.ledger._store import Ledger
from tepal.ledger.formats._photos import EXTENSIONS
from tepal.ledger.formats._sounds import SOUND_EXTENSIONS

_SUFFIXES = (*EXTENSIONS.values(), *SOUND_EXTENSIONS.values())
# Beside the originals lie what was made of them, and what has come of them in parts.
_BESIDE = (".copies/{digest}-*", ".parts/*-{digest}")
_MOST_WORDS = 20_000  # of any remark


@dataclass(frozen=True, slots=True)
class Gone:
    """Entries as they are to stand, and the hash of the original that goes with them."""

    changed: tuple[Entry, ...]
    sha256: str


def is_original(one: Entry | None) -> bool:
    """Whether an entry stands for a photo or a voice note."""
    return one is not None and isinstance(one.body, (Photo, Sound))


def without_original(log: Collection[Entry], id: str) -> Gone:
    """All that names the original of the entry `id` (of kind photo or sound), without it.

    The entries that stand for it and what amends them keep id and hash alone; plants and reports that it came with
    keep what was seen and said, and say that something was forgotten.
    """
    one = next(entry for entry in log if entry.id == id)
    assert isinstance(one.body, (Photo, Sound))
    sha256 = one.body.sha256
    gone: set[str] = set()
    # In order of arrival: what amends comes after what it amends.
    for entry in log:
        named = isinstance(entry.body, (Photo, Sound)) and entry.body.sha256 == sha256
        if named or (entry.amends in gone and isinstance(entry.body, (Photo, Sound))):
            gone.add(entry.id)
    changed = [_tombstone(entry) for entry in log if entry.id in gone]
    changed += [
        _thinned(entry, sha256)
        for entry in log
        if isinstance(entry.body, (Plant, Report)) and sha256 in entry.body.photos
    ]
    return Gone(tuple(changed), sha256)


def remove_original(ledger: Ledger, sha256: str) -> None:
    """The file itself, the copies that were made of it, and parts of it that had come in.

    Raises
    ------
    Refused
        If it is not known where originals lie.
    """
    folder = ledger.photos
    for suffix in _SUFFIXES:
        (folder / f"{sha256}{suffix}").unlink(missing_ok=True)
    for pattern in _BESIDE:
        for path in folder.glob(pattern.format(digest=sha256)):
            path.unlink(missing_ok=True)


def _tombstone(one: Entry) -> Entry:
    data = one.plain() | {"kind": "forgotten", "body": {"was": one.kind}, "forgotten": one.content_hash()}
    return entry_from_plain(data, where=f"entry {one.id}")


def _thinned(one: Entry, sha256: str) -> Entry:
    body = body_plain(one.body)
    photos = [name for name in body.pop("photos") if name != sha256]
    # The store lets a body change only where it says so itself.
    words = body.get("words", "")[: _MOST_WORDS - len(FORGOTTEN) - 1]
    body["words"] = f"{words} {FORGOTTEN}".strip()
    new = body | ({"photos": photos} if photos else {})
    data = one.plain() | {"body": new, "forgotten": one.content_hash()}
    return entry_from_plain(data, where=f"entry {one.id}")

"""Why a store could not be opened or written, in words, and what to do about it."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from tepal.tables import Refused

_ALL_OR_NOTHING = "What is taken goes in as one whole; nothing was added."
# What SQLite and PostgreSQL say (a part of it, in small letters), what it means, and what to do.
_WHY_NOT = (
    ("disk is full", "the disk is full", "Make room on it, then try again."),
    ("no space left", "the disk is full", "Make room on it, then try again."),
    ("readonly", "the ledger may only be read here", "Check the rights of the file and of its folder."),
    ("read-only", "the ledger may only be read here", "Check the rights of the file and of its folder."),
    ("locked", "another program has been writing to it for a minute", "Wait until it is done, then try again."),
    ("disk i/o", "the disk could not be written", "Check its room and its health, then try again."),
)


class NotWritten(Refused):
    """The store itself could not be written: not a fault of what was to go in."""


def not_written(problem: SQLAlchemyError, shown: str) -> NotWritten:
    """Why a transaction could not be written, and what to do; nothing of it is in the ledger."""
    reason = reason_of(problem)
    known = _known_reason(reason)
    if known is not None:
        return NotWritten(known[0], where=shown, rule=_ALL_OR_NOTHING, step=known[1])
    return NotWritten(
        f"the ledger could not be written: {reason}",
        where=shown,
        rule=_ALL_OR_NOTHING,
        step="Check the disk, the rights and the server; then take the files again.",
    )


def not_opened(problem: SQLAlchemyError, shown: str) -> Refused:
    """Why a store could not be opened, and what to do."""
    reason = reason_of(problem)
    known = _known_reason(reason)
    return Refused(
        known[0] if known else f"the ledger cannot be opened: {reason}",
        where=shown,
        rule="A ledger must be there, on a disk with room, in a folder that may be written.",
        step=known[1] if known else "Check the name, the rights and whether the server runs.",
    )


def shown_as(where: str | Path) -> str:
    """Where a store is, as it may be told."""
    # A URL may hold a password; a refusal is read aloud and logged.
    text_ = str(where)
    if "://" in text_ and "@" in text_:
        scheme, rest = text_.split("://", 1)
        return f"{scheme}://…@{rest.rsplit('@', 1)[1]}"
    return text_


def reason_of(problem: SQLAlchemyError) -> str:
    """What the driver said, in its first line."""
    inner = getattr(problem, "orig", None) or problem
    return str(inner).strip().splitlines()[0][:200]


def _known_reason(reason: str) -> tuple[str, str] | None:
    return next(((what, step) for sign, what, step in _WHY_NOT if sign in reason.casefold()), None)

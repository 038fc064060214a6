"""What the office's book holds, and how a row of it is read and written: people, devices, invitations."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, cast

from sqlalchemy import Row

from tepal.serve._roles import Role
from tepal.tables import Refused

_MOST_NAME = 200


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works with the record. `left_at`: nobody any more."""

    id: str
    name: str
    role: Role
    laboratory: str | None
    made_at: datetime
    left_at: datetime | None
    sites: frozenset[str]
    calls: frozenset[str]


@dataclass(frozen=True, slots=True)
class Device:
    """A phone, a browser or a program that speaks for a person."""

    id: str
    person: str
    name: str
    made_at: datetime
    used_at: datetime
    revoked_at: datetime | None


@dataclass(frozen=True, slots=True)
class Invitation:
    """A way in that works once; `code` is known only in the moment of making."""

    id: str
    person: str
    made_at: datetime
    expires_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None
    code: str | None = None

    def open(self, now: datetime) -> bool:
        return self.used_at is None and self.revoked_at is None and now < self.expires_at


def person_of(row: Row[Any], grants: Any) -> Person:
    return Person(
        row.id,
        row.name,
        cast(Role, row.role),
        row.laboratory,
        moment_of(row.made_at),
        _maybe(row.left_at),
        frozenset(one.site for one in grants if one.site is not None),
        frozenset(one.entry for one in grants if one.entry is not None),
    )


def device_of(row: Row[Any]) -> Device:
    return Device(row.id, row.person, row.name, moment_of(row.made_at), moment_of(row.used_at), _maybe(row.revoked_at))


def invitation_of(row: Row[Any]) -> Invitation:
    ended = _maybe(row.revoked_at)
    return Invitation(row.id, row.person, moment_of(row.made_at), moment_of(row.expires_at), _maybe(row.used_at), ended)


def alike(name: str) -> str:
    """The same for two names that one reads alike: "Sam" and "SAM"."""
    return unicodedata.normalize("NFKC", name).casefold()


def one_line(text: str, what: str) -> str:
    """The text without needless blanks.

    Raises
    ------
    Refused
        If it is empty, longer than a name, or holds what cannot be printed.
    """
    text = " ".join(text.split())
    if not 1 <= len(text) <= _MOST_NAME or not text.isprintable():
        raise Refused(
            f"{what} {text[:40]!r}", where=what, rule=f"It is one line of 1 to {_MOST_NAME} signs.", step="Correct it."
        )
    return text


def as_text(moment: datetime) -> str:
    # One zone, one form: texts of moments then sort as the moments do.
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def moment_of(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _maybe(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)

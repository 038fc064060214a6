"""The office's own book: people, devices, invitations, assignments. In the same store; never given out."""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, datetime, timedelta
from typing import cast

from sqlalchemy import Connection, Table, delete, insert, select, update

from tepal.ledger import Ledger, new_id
from tepal.ledger._schema import assignments, devices, invitations, people
from tepal.serve._book import (
    Device,
    Invitation,
    Person,
    alike,
    as_text,
    device_of,
    invitation_of,
    moment_of,
    one_line,
    person_of,
)  # fmt: skip
from tepal.serve._roles import ROLES, Role, Who
from tepal.serve._uses import Uses
from tepal.tables import Refused

# A device that is in use is noted only now and then: a write for every request would be most of all writes.
_USE_IS_NOTED = timedelta(minutes=5)
# A phone that lay in a drawer from one season to the next is invited anew.
_IDLE = timedelta(days=200)
_CODE_BYTES, _TOKEN_BYTES = 24, 32


def still_let_in(connection: Connection, who: Who) -> bool:
    """Whether the device is let in at this moment. Asked under the write lock: who is shown out writes no more."""
    query = (
        select(devices.c.id)
        .join(people, people.c.id == devices.c.person)
        .where(devices.c.id == who.device, devices.c.revoked_at.is_(None), people.c.left_at.is_(None))
    )
    return connection.execute(query).first() is not None


def hashed(secret: str) -> str:
    """What the store keeps of a token or a code. They are long and random: a slow hash would add nothing."""
    return hashlib.sha256(secret.encode()).hexdigest()


class Office:
    """The office's book in a ledger's store."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._uses = Uses(ledger)

    def close(self) -> None:
        """Write down what is still to be written."""
        self._uses.close()

    def people(self) -> list[Person]:
        """Everybody, by name; those who left last."""
        with self._ledger.connected() as connection:
            rows = connection.execute(select(people)).all()
            grants = connection.execute(select(assignments)).all()
        found = [person_of(row, [one for one in grants if one.person == row.id]) for row in rows]
        return sorted(found, key=lambda one: (one.left_at is not None, one.name.casefold()))

    def person(self, id: str) -> Person:
        """One of them.

        Raises
        ------
        Refused
            If there is none.
        """
        with self._ledger.connected() as connection:
            row = connection.execute(select(people).where(people.c.id == id)).first()
            grants = connection.execute(select(assignments).where(assignments.c.person == id)).all()
        if row is None:
            raise _no("person", id)
        return person_of(row, grants)

    def add_person(self, name: str, role: str, *, now: datetime, laboratory: str | None = None) -> Person:
        """Enter somebody.

        Raises
        ------
        Refused
            If the name is taken or no name, or there is no such role.
        """
        name = one_line(name, "name")
        if role not in ROLES:
            raise Refused(f"role {role!r}", where="role", rule=f"A role is one of {', '.join(ROLES)}.", step="Choose.")
        laboratory = one_line(laboratory or name, "laboratory") if role == "laboratory" else None
        id = new_id()
        row = {"id": id, "name": name, "role": role, "laboratory": laboratory, "made_at": as_text(now), "left_at": None}
        with self._ledger.connected(write=True) as connection:
            # Under the lock: of two at once the second sees the first. "Sam" and "SAM" are one name to who reads it.
            if alike(name) in {alike(one) for one in connection.execute(select(people.c.name)).scalars()}:
                raise Refused(
                    f"{name!r} is in the office's book already",
                    where="name",
                    rule="Entries say by name who made them: a name is one person.",
                    step="Add what tells the two apart (where they live, say), or invite the one that is there.",
                )
            connection.execute(insert(people).values(row))
        return self.person(id)

    def leave(self, person: str, *, now: datetime) -> None:
        """Somebody works here no longer: every device and invitation of theirs ends. What they entered stays."""
        self.person(person)
        ended = {"revoked_at": as_text(now)}
        with self._ledger.connected(write=True) as connection:
            connection.execute(
                update(people).where(people.c.id == person, people.c.left_at.is_(None)).values(left_at=as_text(now))
            )
            for table in (devices, invitations):
                connection.execute(
                    update(table).where(table.c.person == person, table.c.revoked_at.is_(None)).values(ended)
                )

    def come_back(self, person: str) -> None:
        """Who left works here again, under the same name. What they may see is given anew, and so are devices.

        Raises
        ------
        Refused
            If there is no such person.
        """
        self.person(person)
        with self._ledger.connected(write=True) as connection:
            back = connection.execute(
                update(people).where(people.c.id == person, people.c.left_at.is_not(None)).values(left_at=None)
            )
            if back.rowcount:
                connection.execute(delete(assignments).where(assignments.c.person == person))

    def invite(self, person: str, *, now: datetime, lasts: timedelta) -> Invitation:
        """A code that lets one device in, once.

        Raises
        ------
        Refused
            If there is no such person, or they have left.
        """
        if self.person(person).left_at is not None:
            raise Refused(
                "they have left", where="person", rule="Who left has no way in.", step="Say first that they are back."
            )
        code = secrets.token_urlsafe(_CODE_BYTES)
        made = Invitation(new_id(), person, now, now + lasts, None, None, code)
        row = {
            "id": made.id,
            "person": person,
            "code_hash": hashed(code),
            "made_at": as_text(now),
            "expires_at": as_text(made.expires_at),
        }
        with self._ledger.connected(write=True) as connection:
            connection.execute(insert(invitations).values(row))
        return made

    def invitations(self) -> list[Invitation]:
        """All of them, the newest first."""
        with self._ledger.connected() as connection:
            rows = connection.execute(select(invitations).order_by(invitations.c.made_at.desc())).all()
        return [invitation_of(row) for row in rows]

    def revoke_invitation(self, id: str, *, now: datetime) -> None:
        """The code works no longer.

        Raises
        ------
        Refused
            If there is none such.
        """
        self._revoke(invitations, id, "invitation", now)

    def join(self, code: str, device: str, *, now: datetime) -> tuple[str, Who]:
        """A code becomes a device and its token, which is told this once.

        Raises
        ------
        Refused
            If the code is unknown, used, ended or too old: all in the same words.
        """
        name = one_line(device, "device")
        token, id = secrets.token_urlsafe(_TOKEN_BYTES), new_id()
        with self._ledger.connected(write=True) as connection:
            row = connection.execute(select(invitations).where(invitations.c.code_hash == hashed(code))).first()
            if row is None or row.used_at or row.revoked_at or now >= moment_of(row.expires_at):
                raise Refused(
                    "this invitation does not work",
                    where="code",
                    rule="An invitation works once, until its day.",
                    step="Ask the office for a new one.",
                )
            connection.execute(update(invitations).where(invitations.c.id == row.id).values(used_at=as_text(now)))
            connection.execute(
                insert(devices).values(
                    id=id, person=row.person, name=name, token_hash=hashed(token), made_at=as_text(now),
                    used_at=as_text(now),
                )
            )  # fmt: skip
        who = self.who(token, now=now, by_cookie=False)
        assert who is not None
        return token, who

    def who(self, token: str, *, now: datetime, by_cookie: bool) -> Who | None:
        """Whose device holds this token; None where it is nobody's (any more)."""
        digest = hashed(token)
        with self._ledger.connected() as connection:
            row = connection.execute(
                select(devices, people.c.name.label("who"), people.c.role, people.c.laboratory)
                .join(people, people.c.id == devices.c.person)
                .where(devices.c.token_hash == digest, devices.c.revoked_at.is_(None), people.c.left_at.is_(None))
            ).first()
            if row is None:
                return None
            grants = connection.execute(
                select(assignments.c.site, assignments.c.entry).where(assignments.c.person == row.person)
            ).all()
        used = self._uses.last(row.id, moment_of(row.used_at))
        if now - used > _IDLE:
            return None
        if now - used > _USE_IS_NOTED:
            self._uses.note(row.id, now.astimezone(UTC))
        return Who(
            id=row.person,
            name=row.who,
            role=cast(Role, row.role),
            device=row.id,
            device_name=row.name,
            sites=frozenset(one.site for one in grants if one.site is not None),
            calls=frozenset(one.entry for one in grants if one.entry is not None),
            laboratory=row.laboratory,
            form_token=hashed(f"form {token}"),
            by_cookie=by_cookie,
        )

    def devices(self, person: str | None = None) -> list[Device]:
        """Devices, of one person or all, the last used first."""
        query = select(devices).order_by(devices.c.used_at.desc())
        if person is not None:
            query = query.where(devices.c.person == person)
        with self._ledger.connected() as connection:
            return [device_of(row) for row in connection.execute(query)]

    def revoke_device(self, id: str, *, now: datetime) -> None:
        """The device is let in no longer, from its next request on.

        Raises
        ------
        Refused
            If there is none such.
        """
        self._revoke(devices, id, "device", now)

    def _revoke(self, table: Table, id: str, what: str, now: datetime) -> None:
        with self._ledger.connected(write=True) as connection:
            done = connection.execute(update(table).where(table.c.id == id).values(revoked_at=as_text(now)))
            if not done.rowcount:
                raise _no(what, id)

    def assign(self, person: str, *, now: datetime, site: str | None = None, entry: str | None = None) -> None:
        """Let a person see a site, or hand them a call. Twice changes nothing.

        Raises
        ------
        Refused
            If there is no such person.
        """
        self.person(person)
        same = assignments.c.site == site if site is not None else assignments.c.entry == entry
        with self._ledger.connected(write=True) as connection:
            known = connection.execute(select(assignments.c.id).where(assignments.c.person == person, same)).first()
            if known is None:
                connection.execute(
                    insert(assignments).values(id=new_id(), person=person, site=site, entry=entry, made_at=as_text(now))
                )

    def unassign(self, person: str, *, site: str | None = None, entry: str | None = None) -> None:
        """Take it back; what was not given changes nothing."""
        same = assignments.c.site == site if site is not None else assignments.c.entry == entry
        with self._ledger.connected(write=True) as connection:
            connection.execute(delete(assignments).where(assignments.c.person == person, same))


def _no(what: str, id: str) -> Refused:
    return Refused(f"no {what} {id[:40]!r}", where=what, rule="It must be in the office's book.", step="Look there.")

"""`tepal invite`: a way into the office's server, for one device of one person."""

from __future__ import annotations

import sys
from typing import Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out


def invite(
    name: str,
    *,
    ledger: str,
    role: Literal["coordinator", "scout", "grower", "laboratory"] | None = None,
    site: Annotated[list[str] | None, Parameter(negative=(), consume_multiple=True)] = None,
    laboratory: str | None = None,
    days: float = 7.0,
    url: str = "http://127.0.0.1:8321",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Invite a person's device: a link and its QR code, which work once. The first coordinator comes in this way.

    Who is in the office's book already keeps their role. The link is as good as a key: give it to that person alone.

    Parameters
    ----------
    name: str
        Who is invited. Entries say by this name who made them.
    ledger: str
        The ledger: a file, or postgresql://…; made if it is not there.
    role: str
        coordinator, scout, grower or laboratory. The first person is a coordinator, others scouts, if not given.
    site: list[str]
        Sites that the person may see, by id or name.
    laboratory: str
        For a laboratory: its name as samples have it, if that is not the person's.
    days: float
        How many days the invitation lasts.
    url: str
        The address under which the server is reached.
    json_output: bool
        Print one JSON object.
    """
    from datetime import timedelta

    from tepal.ledger import Ledger
    from tepal.serve import Office, Settings
    from tepal.serve._invite import link, qr_terminal
    from tepal.tables import Refused

    if not 0 < days <= 60:
        raise Refused(f"--days {days:g}", where="command line", rule="It lasts up to 60 days.", step="Correct it.")
    settings = Settings(public_url=url)
    now = settings.now()
    with Ledger.open(ledger, create=True) as book:
        office = Office(book)
        sites = [book.find_site(one).id for one in site or ()]
        everybody = office.people()
        plain = " ".join(name.split())
        person = next((one for one in everybody if one.name.casefold() == plain.casefold()), None)
        if person is None:
            wanted = role or ("scout" if everybody else "coordinator")
            person = office.add_person(plain, wanted, laboratory=laboratory, now=now)
        elif role not in (None, person.role):
            raise Refused(
                f"--role {role}, and {person.name} is {person.role}",
                where="command line",
                rule="Who is in the office's book keeps their role.",
                step="Leave --role out, or give the person another name for the other role.",
            )
        if person.left_at is not None:
            office.come_back(person.id)
        for one in sites:
            office.assign(person.id, site=one, now=now)
        made = office.invite(person.id, now=now, lasts=timedelta(days=days))
    address = link(made, settings)
    if json_output:
        _out.emit(
            {
                "person": {"id": person.id, "name": person.name, "role": person.role},
                "code": made.code,
                "link": address,
                "expires_at": made.expires_at,
            }
        )
        return _out.DONE
    if sys.stdout.isatty():
        _out.say(qr_terminal(address))
    _out.say(f"For {person.name} ({person.role}), one device, until {made.expires_at:%Y-%m-%d %H:%M} UTC:")
    _out.say(address)
    _out.say("It works once, and is as good as a key: give it to that person alone.")
    return _out.DONE

"""Whether somebody let the office in, and who: what a person needs to know before they drive to a site."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from tepal.ledger import Entry, Ledger, Party, standing
from tepal.ledger._rows import entry_of, of_kinds
from tepal.ledger._schema import entries as table
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Permission:
    """The last word on whether a site may be entered. `by` and `reach` (empty where not known) name who said yes.

    Who said no is named to nobody: there is nothing to call them for.
    """

    given: bool
    on: date | None = None
    by: str = ""
    reach: str = ""

    def text(self, words: Words) -> str:
        """One sentence or two."""
        if not self.given:
            if self.on is None:
                return words.t("Do not go in: entry was refused.")
            return words.t("Do not go in: entry was refused on {day}.", day=words.day(self.on, year=True))
        if self.on is None:
            said = words.t("We may go in: {name} said so.", name=self.by)
        else:
            said = words.t("We may go in: {name} said so on {day}.", name=self.by, day=words.day(self.on, year=True))
        return f"{said} {self.reach}".strip()


def unasked(words: Words) -> str:
    """Where nobody said yes or no."""
    return words.t("Nobody has said yet whether we may go in. Ask before you go.")


def permission_of(parties: Iterable[Entry], as_of: date) -> Permission | None:
    """The last word on or before a day, of party entries of one site that stand; None where nobody was asked.

    A yes without a day covers every day, a no without a day counts from when it was written down.
    """
    said = [
        (_from(one, one.body), one.seq or 0, one.body)
        for one in parties
        if isinstance(one.body, Party) and one.body.consent_to_enter is not None
    ]
    heard = sorted(((since, seq, body) for since, seq, body in said if since <= as_of), key=lambda item: item[:2])
    if not heard:
        return None
    body = heard[-1][2]
    if not body.consent_to_enter:
        return Permission(False, body.consent_on)
    return Permission(True, body.consent_on, body.name, body.contact or "")


def permissions(ledger: Ledger, sites: Iterable[str], as_of: date) -> Mapping[str, Permission]:
    """The last word on each of these sites of which there is one."""
    wanted = sorted(sites)
    with ledger.connected() as connection:
        query = of_kinds(("party",)).where(table.c.site.in_(wanted))
        log = [entry_of(row) for row in connection.execute(query)]
    of_site: dict[str, list[Entry]] = {}
    for one in standing(log).entries:
        of_site.setdefault(str(one.site), []).append(one)
    found = {site: permission_of(entries, as_of) for site, entries in of_site.items()}
    return {site: one for site, one in found.items() if one is not None}


def permission_plain(found: Permission | None, words: Words) -> dict[str, Any]:
    """As a phone is told of it; `given` is null where nobody was asked."""
    if found is None:
        return {"given": None, "text": unasked(words)}
    on = {} if found.on is None else {"on": found.on.isoformat()}
    who = {"by": found.by, "reach": found.reach} if found.given else {}
    return {"given": found.given, "text": found.text(words), **on, **who}


def _from(one: Entry, body: Party) -> date:
    if body.consent_on is not None:
        return body.consent_on
    return date.min if body.consent_to_enter else (body.on or one.made_at.date())

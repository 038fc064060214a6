"""People on record: who has to do with a site, what they may be told, and whether they let the office in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from tepal.ledger._bodies import Party
from tepal.ledger._entry import Entry, body_plain, entry
from tepal.ledger._store import Ledger
from tepal.tables import Refused

_LINE = "command line"


@dataclass(frozen=True, slots=True)
class Recorded:
    """A party entry that was made, and the one it corrects, if the person was on record at the site."""

    made: Entry
    corrects: Entry | None


def parties(ledger: Ledger, site: str) -> tuple[Entry, ...]:
    """The party entries of a site that stand, in order of arrival."""
    return ledger.standing(site).of("party")


def record_party(
    ledger: Ledger,
    name: str,
    *,
    site: str,
    roles: Sequence[str] = (),
    contact: str | None = None,
    consent: bool | None = None,
    consent_on: date | None = None,
    by: str = "office",
) -> Recorded:
    """Record a person at a site. Who is on record there is corrected: what is not given stays as it was.

    Raises
    ------
    Refused
        If there is no such site, the person is new and has no role, nothing is new, or a rule is broken.
    """
    where = ledger.find_site(site).id
    name = " ".join(name.split())
    old = next((one for one in reversed(parties(ledger, where)) if _is(one, name)), None)
    given: dict[str, Any] = {
        "roles": list(dict.fromkeys(roles)) or None,
        "contact": contact,
        "consent_to_enter": consent,
        "consent_on": None if consent_on is None else consent_on.isoformat(),
    }
    if consent_on is not None and consent is None:
        raise Refused(
            "--consent-on without --consent", where=_LINE, rule="The day is that of a yes or a no.", step="Add it."
        )
    if consent is not None and consent_on is None:
        # The day of an earlier word is not that of this one.
        given["consent_on"] = date.today().isoformat()
    given = {key: value for key, value in given.items() if value is not None}
    if old is None and "roles" not in given:
        raise Refused(
            f"no role for {name!r}",
            where=_LINE,
            rule="A person on record is something to the site.",
            step="Give --role owner, farms, sprays, harvests, decides, pays or may_be_told.",
        )
    before = {} if old is None else body_plain(old.body)
    body = {**before, "name": name if old is None else before["name"], **given}
    if body == before:
        raise Refused("nothing new", where=_LINE, rule="It stands so in the record.", step="Say what has changed.")
    made = entry("party", body, by=by, site=where, amends=None if old is None else old.id, where=_LINE)
    added = ledger.add([made])
    if added.refused:
        raise added.refused[0].why
    return Recorded(made, old)


def _is(one: Entry, name: str) -> bool:
    return isinstance(one.body, Party) and " ".join(one.body.name.split()).casefold() == name.casefold()

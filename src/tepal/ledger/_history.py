"""Everything that was ever said of a site, in order of arrival, with what became of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from tepal.ledger._bodies import Move
from tepal.ledger._entry import ALWAYS, Entry, event_date
from tepal.ledger._standing import standing
from tepal.ledger._store import Ledger

Status = Literal["stands", "amended", "withdrawn"]


@dataclass(frozen=True, slots=True)
class Told:
    """One entry with its fate. `amended_by` and `withdrawn_by` are ids that themselves stand; `rivals` the other
    amendments of the same entry that stand beside it, of which the last to arrive counts."""

    entry: Entry
    on: date | None
    status: Status
    counts: bool
    amended_by: tuple[str, ...] = ()
    withdrawn_by: tuple[str, ...] = ()
    rivals: tuple[str, ...] = ()


def history(entries: Iterable[Entry]) -> tuple[Told, ...]:
    """Each entry of a log, in its order. `entries` must hold what they amend, as the entries of one site do."""
    log = list(entries)
    stands = standing(log)
    counting = {entry.id for entry in stands.entries}
    withdrawn = set(stands.withdrawn)
    rivals = {
        claim.id: tuple(other.id for other in dispute.claims if other.id != claim.id)
        for dispute in stands.disputes
        for claim in dispute.claims
    }
    above: dict[str, list[Entry]] = {}
    for entry in log:
        if entry.amends is not None and entry.id not in withdrawn:
            above.setdefault(entry.amends, []).append(entry)
    told = []
    # Withdrawing an entry takes its amendments along, though no withdrawal names them.
    gone: set[str] = set()
    for entry in log:
        amendments = [one.id for one in above.get(entry.id, ()) if one.kind != "withdraw" and one.id not in withdrawn]
        taken = tuple(one.id for one in above.get(entry.id, ()) if one.kind == "withdraw")
        is_gone = entry.id in withdrawn or (entry.amends in gone and entry.kind != "withdraw")
        if is_gone:
            gone.add(entry.id)
        status: Status = "withdrawn" if is_gone else "amended" if amendments else "stands"
        on = event_date(entry)
        told.append(
            Told(
                entry,
                None if on == ALWAYS else on,
                status,
                entry.id in counting,
                () if is_gone else tuple(amendments),
                taken,
                rivals.get(entry.id, ()),
            )
        )
    return tuple(told)


def touches(entry: Entry, site: str) -> bool:
    """Whether an entry is of a site, or moves something from it or to it."""
    body = entry.body
    return entry.site == site or (isinstance(body, Move) and site in (body.from_site, body.to_site))


def site_log(ledger: Ledger, site: str, *, known_to: int | None = None) -> list[Entry]:
    """All entries of a site, and movements from it or to it that were entered for another; in order of arrival."""
    log = ledger.entries(site, known_to=known_to)
    known = {entry.id for entry in log}
    for entry in ledger.entries(kinds=("move", "withdraw"), known_to=known_to):
        # An amendment may name another place: it belongs to the story as well.
        if entry.id not in known and (touches(entry, site) or entry.amends in known):
            known.add(entry.id)
            log.append(entry)
    return sorted(log, key=lambda entry: entry.seq or 0)

"""Which entries count: amended ones replaced, withdrawn ones gone, disputes named. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol, TypeVar

from tepal.ledger._entry import Entry, event_date


@dataclass(frozen=True, slots=True)
class Dispute:
    """One entry with several amendments that stand side by side. The last to arrive is the one that counts."""

    id: str
    claims: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """The entries of a site that count on a date, in order of arrival.

    `known_to` is the position in the ledger up to which entries were considered. `root` gives, for each entry that
    counts, the id of the entry it goes back to (its own id if it amends nothing).
    """

    site: str | None
    as_of: date | None
    known_to: int
    entries: tuple[Entry, ...]
    disputes: tuple[Dispute, ...]
    withdrawn: tuple[str, ...]
    root: Mapping[str, str]

    @property
    def disputed(self) -> tuple[str, ...]:
        """Ids of the entries that have two or more standing amendments."""
        return tuple(dispute.id for dispute in self.disputes)

    def of(self, *kinds: str) -> tuple[Entry, ...]:
        """The entries of these kinds."""
        return tuple(entry for entry in self.entries if entry.kind in kinds)


def standing(
    entries: Iterable[Entry], *, as_of: date | None = None, site: str | None = None, known_to: int | None = None
) -> Standing:
    """What stands of `entries` (in order of arrival, amendments after what they amend).

    Corrections count as soon as they are known, whatever `as_of` is: `known_to` says what was known, `as_of` which
    events had happened. An amendment replaces the whole entry. A withdrawal takes the entry and its amendments;
    withdrawing an amendment lets the earlier entry stand again, withdrawing a withdrawal undoes it.
    """
    log = [e for e in entries if known_to is None or (e.seq or 0) <= known_to]
    leaves, gone = settle(log)
    counted, disputes, root = [], [], {}
    for entry in log:
        if entry.kind == "withdraw" or entry.amends is not None or not leaves[entry.id]:
            continue
        claims = tuple(sorted(leaves[entry.id], key=lambda claim: claim.seq or 0))
        last = claims[-1]
        if as_of is not None and event_date(last) > as_of:
            continue
        if len(claims) > 1:
            disputes.append(Dispute(entry.id, claims))
        counted.append(last)
        root[last.id] = entry.id
    counted.sort(key=lambda e: e.seq or 0)
    position = known_to if known_to is not None else max((e.seq or 0 for e in log), default=0)
    return Standing(site, as_of, position, tuple(counted), tuple(disputes), gone, root)


class Claim(Protocol):
    """What is needed of an entry to tell whether it stands."""

    @property
    def id(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def amends(self) -> str | None: ...


C = TypeVar("C", bound=Claim)


def settle(log: Sequence[C]) -> tuple[dict[str, tuple[C, ...]], tuple[str, ...]]:
    """For each entry of `log` what stands in its place (nothing, itself, or its amendments), and the ids withdrawn."""
    below: dict[str, list[C]] = {}
    for entry in log:
        if entry.amends is not None:
            below.setdefault(entry.amends, []).append(entry)
    leaves: dict[str, tuple[C, ...]] = {}
    gone: list[str] = []
    # Whatever amends an entry came after it: backwards, all that is below an entry is settled before the entry.
    for entry in reversed(log):
        children = below.get(entry.id, ())
        if any(child.kind == "withdraw" and leaves[child.id] for child in children):
            leaves[entry.id] = ()
            gone.append(entry.id)
        else:
            amended = tuple(leaf for child in children if child.kind != "withdraw" for leaf in leaves[child.id])
            leaves[entry.id] = amended or (entry,)
    return leaves, tuple(reversed(gone))

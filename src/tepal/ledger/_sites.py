"""Which site a person means: people write names, files and ledgers keep ids."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from tepal.ledger._entry import Entry
from tepal.ledger._spelling import nearly_same
from tepal.ledger._standing import settle
from tepal.tables import Refused, Where

_LISTED = 12
_BEGUN = 4  # so many letters of a name say which one


@dataclass(frozen=True, slots=True)
class SiteName:
    """A site as it is found: its id, and what its standing entry calls it (the id where there is none)."""

    id: str
    name: str


class NamedSite(NamedTuple):
    """What is needed of a site entry, or of what withdraws one, to tell what the site is called."""

    id: str
    kind: str
    site: str
    amends: str | None
    name: str | None


def standing_names(log: Sequence[NamedSite]) -> dict[str, str]:
    """Site → what its standing entry calls it, the last to arrive where several do; `log` in order of arrival."""
    leaves, _ = settle(log)
    names: dict[str, str] = {}
    order = {claim.id: place for place, claim in enumerate(log)}
    roots = [claim for claim in log if claim.kind == "site" and claim.amends is None]
    counted = [max(leaves[root.id], key=lambda leaf: order[leaf.id]) for root in roots if leaves[root.id]]
    for claim in sorted(counted, key=lambda leaf: order[leaf.id]):
        if claim.name is not None:
            names[claim.site] = claim.name
    return names


class SiteBook:
    """The sites of a ledger by id and by name, capitals, spaces and signs apart."""

    def __init__(self, sites: Iterable[SiteName]) -> None:
        self._sites = {site.id: site for site in sites}

    def learn(self, entry: Entry) -> None:
        """Know the site of an entry."""
        if entry.site is not None:
            old = self._sites.get(entry.site, SiteName(entry.site, entry.site))
            name = getattr(entry.body, "name", old.name) if entry.kind == "site" else old.name
            self._sites[entry.site] = SiteName(entry.site, name)

    def meant(self, text: str) -> str:
        """The id of the one site that `text` can mean; `text` itself, as a new site, where there is no one such."""
        near = self._near(text)
        id = near[0].id if len(near) == 1 else text
        self._sites.setdefault(id, SiteName(id, id))
        return id

    def nearly(self, text: str) -> list[SiteName]:
        """The sites whose name or id differs from `text` as by a slip of the fingers."""
        return [one for one in self._sites.values() if nearly_same(text, one.name) or nearly_same(text, one.id)]

    def find(self, text: str, *, where: Where | str) -> SiteName:
        """The one site that `text` means.

        Raises
        ------
        Refused
            If there is none, or several.
        """
        near = self._near(text)
        if len(near) == 1:
            return near[0]
        if near:
            listed = "; ".join(f"{site.name} ({site.id})" for site in sorted(near, key=lambda one: one.id)[:_LISTED])
            raise Refused(
                f"no one site is called {text!r}", where=where, rule=f"Several are called so: {listed}.",
                step="Give its id.",
            )  # fmt: skip
        names = sorted({site.name for site in self._sites.values()})
        more = f"; and {len(names) - _LISTED:,} more" if len(names) > _LISTED else ""
        begun = [
            one for one in self._sites.values() if len(bare(text)) >= _BEGUN and bare(one.name).startswith(bare(text))
        ]
        meant = [f"'{one.name}'" for one in (self.nearly(text) or begun)[:3]]
        raise Refused(
            f"no one site is called {text!r}",
            where=where,
            rule=f"The ledger knows {'; '.join(names[:_LISTED]) or 'no site yet'}{more}.",
            step=f"Did you mean {' or '.join(meant)}?" if meant else "Give one of these, or take that site in first.",
        )

    def _near(self, text: str) -> list[SiteName]:
        if text in self._sites:
            return [self._sites[text]]
        exact = [site for site in self._sites.values() if site.name == text]
        plain = bare(text)
        return exact or [one for one in self._sites.values() if plain and plain in (bare(one.id), bare(one.name))]


def misspelled(name: str, nearly: Sequence[SiteName], where: Where) -> Refused:
    """The refusal of a name that is nearly that of a site."""
    listed = " or ".join(f"'{one.name}'" for one in nearly[:3])
    return Refused(
        f"site {name!r} is not known, and is nearly {listed}",
        where=Where(where.file, where.line, where.column or "site"),
        rule="A misspelled name would make a second site of one.",
        step=f"Did you mean {listed}? Correct the name; or give --insist, if it is a site of its own.",
    )


@lru_cache(maxsize=10_000)
def bare(text: str) -> str:
    """A name without capitals, spaces and signs: `north_eighty` is `North Eighty`."""
    return "".join(sign for sign in text.casefold() if sign.isalnum())

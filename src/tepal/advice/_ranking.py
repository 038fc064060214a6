"""In what order the steps stand, and dates that do not contradict that order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from tepal.advice._items import Item

# From this turn on a rule can be said of nearly every site: it stands behind what is said of this one.
_LAST = 70


def ranked(items: Sequence[Item], today: date) -> list[Item]:
    """By rank; an item that follows another stands right behind it where both are there, and lends it its rank.

    It lends it its day too: what comes first is done no later than what comes after it.
    """
    ids = {item.id for item in items}
    behind: dict[str | None, list[Item]] = {}
    for item in sorted(items, key=_rank):
        behind.setdefault(item.after if item.after in ids else None, []).append(item)

    def in_line(item: Item) -> list[Item]:
        followers = [one for follower in behind.get(item.id, []) for one in in_line(_of_the_rest(follower))]
        return [_in_time_for(item, followers, today), *followers]

    lines = [in_line(leader) for leader in behind.get(None, [])]
    return [item for line in sorted(lines, key=lambda line: min(map(_rank, line))) for item in line]


def _of_the_rest(item: Item) -> Item:
    """Without the seed and the hours that are told beside the step before it already."""
    return replace(item, seed_kept_out=None, hours=None) if "of_the_rest" in item.tags else item


def _in_time_for(item: Item, followers: Sequence[Item], today: date) -> Item:
    """The item by the earliest day of what follows it, where that is sooner than its own."""
    soonest = min((one.by for one in followers if one.by is not None), default=None)
    if soonest is not None and item.not_before is not None:
        soonest = max(soonest, item.not_before.date())
    if soonest is None or item.by is None or item.by <= soonest:
        return item
    return replace(item, by=soonest, today=soonest == today)


def _rank(item: Item) -> tuple[float, ...]:
    """Low ranks first: what is due today by its turn; then by seed per hour, most first; then by day and turn; what
    can always be said comes last."""
    if item.today:
        return (0, item.turn, 0)
    if item.seed_per_hour is not None and item.seed_per_hour > 0:
        return (1, -item.seed_per_hour, item.turn)
    return (2 + (item.turn >= _LAST), math.inf if item.by is None else item.by.toordinal(), item.turn)

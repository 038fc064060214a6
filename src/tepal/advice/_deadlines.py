"""By when: a closed set of deadlines. Dates stand on the early end of the doubt, less the days that are lost."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
import numpy.typing as npt

from tepal.doubt import day_quantile
from tepal.reading import Fact, fact_types
from tepal.tables import Refused, Where

FloatArray = npt.NDArray[np.float64]

# The early date: one chance in ten that the event comes before it.
EARLY = 0.1
LOST = ("crew", "spray", "machine")
# An event by the key of its draws and by the window that holds its date where there are no draws.
EVENTS = {"viable_seed": "viable_seed", "flower": "flowers", "height_10_cm": "height_10_cm"}
_DATES = frozenset(key for key, (kind, _) in fact_types(()).items() if kind == "date")
_SINCE = ("pulled_days", "cut_days", "mowed_days", "sprayed_days", "harvested_days")
_RULE = (
    "A deadline is: today; same_day; in N days; N days after pulled_days (or cut_days, mowed_days, sprayed_days, "
    "harvested_days); "
    "before viable_seed (or flower, height_10_cm) less days_lost.crew (or spray, machine); or the key of a date."
)


@dataclass(frozen=True, slots=True)
class Deadline:
    """One deadline as written. `days` counts for `in` and `after`, `key` names an event or a fact."""

    kind: Literal["today", "same_day", "in", "after", "before", "date"]
    line: str
    days: int = 0
    key: str = ""
    lost: str = ""


@dataclass(frozen=True, slots=True)
class Due:
    """When something is due. `late`: the day that was wanted had passed already, so `by` is today."""

    by: date
    late: bool
    same_day: bool


def parse_deadline(line: str, where: Where) -> Deadline:
    """A deadline from its line, refused when it is none of the closed set."""
    if line in ("today", "same_day"):
        return Deadline("today" if line == "today" else "same_day", line)
    if match := re.fullmatch(r"in (\d+) days", line):
        return Deadline("in", line, days=int(match[1]))
    if (match := re.fullmatch(r"(\d+) days after (\w+)", line)) and match[2] in _SINCE:
        return Deadline("after", line, days=int(match[1]), key=match[2])
    if (match := re.fullmatch(r"before (\w+) less days_lost\.(\w+)", line)) and match[1] in EVENTS and match[2] in LOST:
        return Deadline("before", line, key=match[1], lost=match[2])
    if line in _DATES:
        return Deadline("date", line, key=line)
    raise Refused(f"deadline {line!r}", where=where, rule=_RULE, step="Write one of these.")


def due(
    deadlines: tuple[Deadline, ...],
    facts: Mapping[str, Fact],
    draws: Mapping[str, FloatArray],
    days_lost: Mapping[str, FloatArray],
) -> Due | None:
    """The earliest of the deadlines that can be told; None where none can.

    `days_lost` by who loses them, each shape = (n,) like the event's draws: the early date is that of (event - days
    lost), taken from the draws of both together.
    """
    today = facts["as_of"]
    assert isinstance(today, date)
    found = [(day, line) for line in deadlines if (day := _day(line, today, facts, draws, days_lost)) is not None]
    if not found:
        return None
    day, line = min(found, key=lambda pair: pair[0])
    return Due(max(day, today), day < today, line.kind == "same_day")


def _day(
    line: Deadline,
    today: date,
    facts: Mapping[str, Fact],
    draws: Mapping[str, FloatArray],
    days_lost: Mapping[str, FloatArray],
) -> date | None:
    since = facts.get(line.key)
    match line.kind:
        case "today" | "same_day":
            return today
        case "in":
            return today + timedelta(days=line.days)
        case "after":
            return today + timedelta(days=line.days - int(since)) if isinstance(since, (int, float)) else None
        case "date":
            return since if isinstance(since, date) else None
        case "before":
            return _before(line, today, facts, draws, days_lost[line.lost])


def _before(
    line: Deadline, today: date, facts: Mapping[str, Fact], draws: Mapping[str, FloatArray], lost: FloatArray
) -> date | None:
    event = draws.get(f"{line.key}_day")
    if event is not None:
        return day_quantile(event - lost, EARLY, date(today.year, 1, 1))
    early = facts.get(f"window.{EVENTS[line.key]}.q10")
    if not isinstance(early, date):
        return None
    # Without draws of the event only its early date is there; the usual loss is taken off, not another early end, so
    # that two extremes are not piled on each other.
    return early - timedelta(days=math.ceil(float(np.median(lost))))

"""A reading to advice: which rules hold, by when, in what order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from tepal.advice._deadlines import FloatArray, due
from tepal.advice._effort import Effort, seed_and_hours
from tepal.advice._filling import fills_of
from tepal.advice._fills import Fills
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._ranking import ranked
from tepal.advice._rules import Rule, RuleBook, load_rules
from tepal.advice._stands_on import entries_behind, told_by
from tepal.advice._waiting import Waiting, waiting
from tepal.advice._work_days import SprayDays, WorkDays, spray_days, work_days
from tepal.doubt import Provenance, summary
from tepal.flora import Flora
from tepal.reading import Fact, Reading

# More than this nobody does in a day, and a letter that asks for more is put aside.
LIMIT = 5
# From this chance on a hunted taxon is what all else is about, as the condition `may_be_hunted` has it.
_MAY_BE_HUNTED = 0.2
_SPRAYABLE_CM = 10.0
# Before the first seedlings are near, days fit to spray are not worth counting.
_SOON = timedelta(days=21)
_TOO_EARLY_DAYS = 6  # as the condition `just_sprayed` has it


def rules_for(flora: Flora) -> RuleBook:
    """The rules that come with the flora's weed group, checked against its citation table; cached."""
    return _rules_for(flora.group, tuple(flora.hunted()), frozenset(flora.sources))


@lru_cache(maxsize=8)
def _rules_for(group: str, hunted: tuple[str, ...], sources: frozenset[str]) -> RuleBook:
    with resources.as_file(resources.files("tepal.flora") / group) as folder:
        return load_rules(Path(folder), hunted=hunted, sources=sources)


def advise(reading: Reading, *, flora: Flora, rules: RuleBook | None = None, limit: int = LIMIT) -> Advice:
    """What to do about a site on the day of its reading.

    Duties of the day come first, in their fixed order; then what keeps the most seed out of the ground per hour; then
    the rest by its day. Nothing here has a language: `Item.text(words)` words it.

    Parameters
    ----------
    reading
        The site's reading. `facts` decide which rules hold; `draws` rank them and set their dates.
    flora
        The weed group's tables.
    rules
        Another rule book than the group's own.
    limit
        The most that `Advice.actions` may hold; the rest stands in `later`.
    """
    book = rules if rules is not None else rules_for(flora)
    case = _case(reading, flora)
    over = case.facts["season_over"] is True
    items = [_item(rule, case) for rule in book.rules if (rule.after_frost or not over) and rule.when.holds(case.facts)]

    in_order = ranked([item for item in items if item.kind in ("do", "find_out")], reading.as_of)
    do_nots = tuple(sorted((item for item in items if item.kind == "do_not"), key=lambda i: i.turn))
    programme = tuple(sorted((item for item in items if item.kind == "plan"), key=lambda i: i.turn))
    actions = tuple(in_order[:limit])
    returns = [item.by for item in in_order if "return" in item.tags and item.by is not None]
    return Advice(
        site=reading.site,
        as_of=reading.as_of,
        waiting=_seen_through(None if over or not case.hunted_here else waiting(case.effort(), reading.as_of), case),
        spray_days=_seen_through(spray_days(case.work, case.effort()) if _spraying_matters(case.facts) else None, case),
        actions=actions,
        do_nots=do_nots,
        cautions=cautions_of(book, actions + do_nots, case.facts, case.fills),
        facts=MappingProxyType(case.facts),
        programme=programme,
        later=tuple(in_order[limit:]),
        return_on=min(returns, default=None),
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """One reading made ready for the rules. Each tactic gets a fresh `Effort`, so that it keeps its own sources."""

    flora: Flora
    facts: Mapping[str, Fact]
    draws: Mapping[str, FloatArray]
    seed: tuple[object, ...]
    work: WorkDays
    fills: Fills
    why: Mapping[str, Provenance]
    hunted_here: bool

    def effort(self) -> Effort:
        return _effort(self.flora, self.facts, self.draws, self.seed)


def _case(reading: Reading, flora: Flora) -> _Case:
    seed = (reading.site, reading.as_of.isoformat(), reading.known_to)
    facts: dict[str, Fact] = {**reading.facts, "as_of": reading.as_of, "month": float(reading.as_of.month)}
    draws = _known(reading.draws)
    effort = _effort(flora, facts, draws, seed)
    facts["p_too_many"] = effort.too_many()
    work = work_days(reading.station, _effort(flora, facts, draws, seed))
    chance = _number(facts.get("p_hunted"))
    hunted_here = facts.get("seen_any") is True and (chance is None or chance >= _MAY_BE_HUNTED)
    return _Case(flora, facts, draws, seed, work, fills_of(reading, facts, effort), reading.why, hunted_here)


_Told = TypeVar("_Told", Waiting, SprayDays)


def _seen_through(told: _Told | None, case: _Case) -> _Told | None:
    """The same with the entries behind the counts and the dates that it stands on."""
    if told is None:
        return None
    entries = Provenance(entries=entries_behind(("total", "window.viable_seed.q10", "tallest_cm"), case.why))
    return replace(told, stands_on=told.stands_on | entries)


def _spraying_matters(facts: Mapping[str, Fact]) -> bool:
    """Plants that somebody may still want to spray: in a field that is not organic, under no crop whose stage closes
    that, none yet over the height that rules it out, and not sprayed so lately that nobody can tell what lives."""
    seen, sprayed = _number(facts.get("tallest_seen_cm")), _number(facts.get("sprayed_days"))
    if sprayed is not None and sprayed <= _TOO_EARLY_DAYS:
        return False
    if facts.get("organic") is True or (facts.get("spray_stage_open") is False and facts.get("harvested") is not True):
        return False
    coming = facts.get("window.next_flush.q10")
    today = facts["as_of"]
    assert isinstance(today, date)
    soon = isinstance(coming, date) and coming <= today + _SOON
    wanted = facts.get("seen_any") is True or (facts.get("seen_before") is True and soon)
    return facts.get("ground") == "field" and wanted and (seen is None or seen <= _SPRAYABLE_CM)


def _effort(
    flora: Flora, facts: Mapping[str, Fact], draws: Mapping[str, FloatArray], seed: tuple[object, ...]
) -> Effort:
    today = facts["as_of"]
    assert isinstance(today, date)
    return Effort(flora, facts, draws, seed, float((today - date(today.year, 1, 1)).days))


def _item(rule: Rule, case: _Case) -> Item:
    facts, effort = case.facts, case.effort()
    keys = tuple(key for key in rule.when.fact_keys() if facts.get(key) is not None)
    when = due(rule.by, facts, case.draws, case.work.lost)
    numbers = seed_and_hours(rule.tactic, effort) if rule.tactic else None
    per_hour = None
    if numbers is not None:
        hours = float(np.mean(numbers[1]))
        per_hour = float(np.mean(numbers[0])) / hours if hours > 0 else None
    blocked = facts.get("re_entry_until") if facts.get("re_entry_open") is True and "enter" in rule.tags else None
    not_before = blocked if isinstance(blocked, datetime) else None
    by = when.by if when else None
    if by is not None and not_before is not None and not_before.date() > by:
        # The label outranks every date of ours.
        by = not_before.date()
    return Item(
        id=rule.id,
        kind=rule.kind,
        turn=rule.turn,
        message=rule.text,
        why_message=rule.why,
        fails_message=rule.fails,
        fills=case.fills,
        after=rule.after,
        by=by,
        today=by is not None and by == facts["as_of"],
        late=bool(when and when.late and not_before is None),
        same_day=bool(when and when.same_day and by == facts["as_of"]),
        not_before=not_before,
        cautions=rule.cautions,
        tags=rule.tags,
        readers=rule.readers,
        sources=rule.sources,
        basis=rule.basis,
        seed_kept_out=MappingProxyType(summary(numbers[0])) if numbers is not None else None,
        hours=MappingProxyType(summary(numbers[1])) if numbers is not None else None,
        seed_per_hour=per_hour,
        reading_keys=keys,
        stands_on=Provenance(rule.sources, rule.basis)
        | (effort.used if numbers is not None else Provenance())
        | (case.work.stands_on if any(line.lost for line in rule.by) else Provenance())
        | told_by(keys, case.why)
        | Provenance(entries=entries_behind(keys, case.why)),
    )


def cautions_of(
    book: RuleBook, items: tuple[Item, ...], facts: Mapping[str, Fact], fills: Fills
) -> tuple[Caution, ...]:
    """The cautions that belong to these items on a site with these facts."""
    wanted = {key for item in items for key in item.cautions}
    return tuple(
        Caution(row.key, row.about, row.message, fills, row.sources, row.basis) for row in book.shown(wanted, facts)
    )


def _known(draws: Mapping[str, FloatArray]) -> Mapping[str, FloatArray]:
    """Draws of days keep NaN (never); counts, heights and shares that hold NaN somewhere are not known."""
    return {key: values for key, values in draws.items() if key.endswith("_day") or bool(np.all(np.isfinite(values)))}


def _number(value: Fact) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None

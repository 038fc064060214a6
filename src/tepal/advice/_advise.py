"""A reading to advice: which rules hold, by when, in what order."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from tepal.advice._deadlines import FloatArray, due
from tepal.advice._effort import Effort, seed_and_hours
from tepal.advice._fills import Fills, Law
from tepal.advice._items import Advice, Caution, Item
from tepal.advice._population import population, verdict
from tepal.advice._rules import Rule, RuleBook, load_rules
from tepal.advice._waiting import Waiting, waiting
from tepal.advice._work_days import SprayDays, WorkDays, spray_days, work_days
from tepal.doubt import Provenance, summary
from tepal.flora import Flora
from tepal.reading import Fact, Reading

# More than this nobody does in a day, and a letter that asks for more is put aside.
LIMIT = 5
# A hunted taxon is named in a sentence from this chance on.
_NAMED_AT_LEAST = 0.1
# Below this share the likeliest pigweed is not called by its name: some cannot be told apart before they flower.
_SURE_SHARE = 0.8
# From this chance on a hunted taxon is what all else is about, as the condition `may_be_hunted` has it.
_MAY_BE_HUNTED = 0.2
_SPRAYABLE_CM = 10.0
_TOO_EARLY_DAYS = 6  # as the condition `just_sprayed` has it
# From this turn on a rule can be said of nearly every site: it stands behind what is said of this one.
_LAST = 70
_FIRST = 0.3  # as the condition `first_find` has it
_COMMON = 0.3  # weight in the region from which on a taxon is no news there (judgement)


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

    ranked = _ranked([item for item in items if item.kind in ("do", "find_out")])
    do_nots = tuple(sorted((item for item in items if item.kind == "do_not"), key=lambda i: i.turn))
    programme = tuple(sorted((item for item in items if item.kind == "plan"), key=lambda i: i.turn))
    actions = tuple(ranked[:limit])
    returns = [item.by for item in ranked if "return" in item.tags and item.by is not None]
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
        later=tuple(ranked[limit:]),
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
    return _Case(flora, facts, draws, seed, work, _fills(reading, facts, effort), reading.why, hunted_here)


_Told = TypeVar("_Told", Waiting, SprayDays)


def _seen_through(told: _Told | None, case: _Case) -> _Told | None:
    """The same with the entries behind the counts and the dates that it stands on."""
    if told is None:
        return None
    entries = Provenance(entries=_entries(("total", "window.viable_seed.q10", "tallest_cm"), case.why))
    return replace(told, stands_on=told.stands_on | entries)


def _spraying_matters(facts: Mapping[str, Fact]) -> bool:
    """Plants that somebody may still want to spray: in a field, none yet over the height that rules it out, and not
    sprayed so lately that nobody can tell what lives."""
    seen, sprayed = _number(facts.get("tallest_seen_cm")), _number(facts.get("sprayed_days"))
    if sprayed is not None and sprayed <= _TOO_EARLY_DAYS:
        return False
    wanted = facts.get("seen_any") is True or facts.get("seen_before") is True
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
        | _told(keys, case.why)
        | Provenance(entries=_entries(keys, case.why)),
    )


def _ranked(items: list[Item]) -> list[Item]:
    """By rank; an item that follows another stands right behind it where both are there, and lends it its rank."""
    ids = {item.id for item in items}
    behind: dict[str | None, list[Item]] = {}
    for item in sorted(items, key=_rank):
        behind.setdefault(item.after if item.after in ids else None, []).append(item)

    def in_line(item: Item) -> list[Item]:
        return [item, *(one for follower in behind.get(item.id, []) for one in in_line(follower))]

    lines = [in_line(leader) for leader in behind.get(None, [])]
    return [item for line in sorted(lines, key=lambda line: min(map(_rank, line))) for item in line]


def _rank(item: Item) -> tuple[float, ...]:
    """Low ranks first: what is due today by its turn; then by seed per hour, most first; then by day and turn; what
    can always be said comes last."""
    if item.today:
        return (0, item.turn, 0)
    if item.seed_per_hour is not None and item.seed_per_hour > 0:
        return (1, -item.seed_per_hour, item.turn)
    return (2 + (item.turn >= _LAST), math.inf if item.by is None else item.by.toordinal(), item.turn)


# Which part of a reading a fact comes from, by how its key begins; the rest from the activities and the whole.
_PARTS = (
    ("/taxa", ("leading", "p_", "named_plants", "proved.", "first_find.")),
    ("/stand", ("density_", "total", "seen_share", "seen_any", "none_seen", "counted", "reported_only")),
    ("/windows", ("window.",)),
    ("/place", ("ground", "county", "state", "region", "hectares", "waterway", "consent", "crop", "trait", "planted")),
)


def _told(keys: tuple[str, ...], why: Mapping[str, Provenance]) -> Provenance:
    """What stands behind those facts that have a source of their own, such as the law."""
    found = Provenance()
    for key in keys:
        found = found | why.get(f"/facts/{key}", Provenance())
    return found


def _entries(keys: tuple[str, ...], why: Mapping[str, Provenance]) -> tuple[str, ...]:
    """Ids of the entries behind the parts of the reading that hold these facts."""
    starts = {
        next((part for part, begins in _PARTS if key.startswith(begins)), "/facts")
        for key in keys
        if key not in ("as_of", "month")
    }
    found = [p.entries for pointer, p in why.items() if any(f"{pointer}/".startswith(f"{s}/") for s in starts)]
    return tuple(dict.fromkeys(entry for entries in found for entry in entries))


def cautions_of(
    book: RuleBook, items: tuple[Item, ...], facts: Mapping[str, Fact], fills: Fills
) -> tuple[Caution, ...]:
    """The cautions that belong to these items on a site with these facts."""
    wanted = {key for item in items for key in item.cautions}
    return tuple(
        Caution(row.key, row.about, row.message, fills, row.sources, row.basis) for row in book.shown(wanted, facts)
    )


def _fills(reading: Reading, facts: Mapping[str, Fact], effort: Effort) -> Fills:
    names = {code: _short(effort.flora.taxa[code].english_name) for code in effort.flora.hunted()}
    chances = {code: _number(facts.get(f"p_any.{code}")) or 0.0 for code in names}
    # A plant that may be either is pulled either way.
    told = sorted((c for c in names if chances[c] >= _NAMED_AT_LEAST), key=lambda code: -chances[code])
    leading = facts.get("leading")
    share = _number(facts.get("leading_share"))
    sure = share is None or share >= _SURE_SHARE
    taxon = effort.flora.taxa.get(leading) if isinstance(leading, str) and sure else None
    groups = facts.get("sprayed_groups")
    re_entry = facts.get("re_entry_until")
    doubtful, left = _sites_of_action(reading, effort.flora)
    return Fills(
        hunted=tuple(names[code] for code in told),
        leading=_short(taxon.english_name) if taxon else None,
        seeds_each=float(np.median(effort.per_female())) if effort.known else None,
        ceiling_per_ha=float(np.median(effort.parameter("pull_ceiling_per_ha"))),
        p_hunted=_number(facts.get("p_hunted")),
        seen_share=_number(facts.get("seen_share")),
        sprayed_groups=tuple(part.strip() for part in groups.split(",")) if isinstance(groups, str) and groups else (),
        re_entry=re_entry if isinstance(re_entry, datetime) else None,
        pre_harvest=_day(facts.get("pre_harvest_until")),
        nesting_until=_day(facts.get("nesting.until")),
        law=_law(facts, names),
        first=_first(facts, names, effort.flora),
        doubtful_groups=doubtful,
        left_groups=left,
        moved_out=_moved_out(facts),
        year=reading.as_of.year,
        ground=str(facts.get("ground") or ""),
    )


def _first(facts: Mapping[str, Fact], names: Mapping[str, str], flora: Flora) -> tuple[str, ...]:
    """The taxa that would be proved here for the first time, the likeliest first; of several not the common one."""
    chances = {code: _number(facts.get(f"p_any.{code}")) or 0.0 for code in names}
    new = [code for code in names if facts.get(f"first_find.{code}") is True and chances[code] >= _FIRST]
    region = str(facts.get("region"))
    told = [code for code in new if flora.taxa[code].weights.get(region, 0.0) < _COMMON] or new
    return tuple(names[code] for code in sorted(told, key=lambda code: -chances[code]))


def _sites_of_action(reading: Reading, flora: Flora) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sites of action that act on plants that are up: those not to be counted on before a test, and those left.

    What is left is what the crop can bear by the ingredients' table; of a crop that it does not hold, all.
    """
    shares = {code: _number(reading.facts.get(f"p_any.{code}")) or 0.0 for code in flora.hunted()}
    here = population(max(shares, key=lambda code: shares[code]), reading=reading)
    groups = sorted({group for item in flora.ingredients.values() for group in item.groups})
    told = [verdict(group, here, on_leaves=True, flora=flora) for group in groups]
    doubtful = [one.group for one in told if one.standing in ("doubtful", "failed")]
    row = flora.crop(str(reading.facts.get("crop") or ""))
    left = [one.group for one in told if one.standing == "sure" and (row is None or _borne(one.group, row.crop, flora))]
    return tuple(map(str, doubtful)), tuple(map(str, left))


def _borne(group: int, crop: str, flora: Flora) -> bool:
    """Whether some ingredient of a group goes over a crop, with a trait or without; True where no row tells."""
    uses = [item.crops[crop] for item in flora.ingredients.values() if group in item.groups and crop in item.crops]
    return not uses or any(use in ("yes", "trait") for use in uses)


def _moved_out(facts: Mapping[str, Fact]) -> tuple[tuple[str, date], ...]:
    """What left and on which day, from the two facts that tell it in one order."""
    what, on = (str(facts.get(key) or "").split("; ") for key in ("moved_out", "moved_out_on"))
    return tuple((one, date.fromisoformat(day)) for one, day in zip(what, on, strict=False) if one and day)


def _law(facts: Mapping[str, Fact], names: Mapping[str, str]) -> Law:
    def text(key: str) -> str:
        value = facts.get(f"law.{key}")
        return value if isinstance(value, str) else ""

    return Law(
        listed=text("listed"),
        name=names.get(text("taxon"), ""),
        class_words=text("class"),
        tell=text("tell"),
        must=text("must"),
        how_soon=text("how_soon"),
        moving=text("transport"),
        checked=_day(facts.get("law.checked")),
        status=text("status"),
    )


def _known(draws: Mapping[str, FloatArray]) -> Mapping[str, FloatArray]:
    """Draws of days keep NaN (never); counts, heights and shares that hold NaN somewhere are not known."""
    return {key: values for key, values in draws.items() if key.endswith("_day") or bool(np.all(np.isfinite(values)))}


def _short(name: str) -> str:
    """A name as it is spoken, without what stands in brackets."""
    return name.partition(" (")[0]


def _day(value: Fact) -> date | None:
    return value if isinstance(value, date) else None


def _number(value: Fact) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None

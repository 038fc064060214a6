"""What is likely at a site before the plants of the season are looked at, and how well each reader reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from tepal.flora import Flora
from tepal.ledger import Entry, Plant, Sample, Stop, Walk, event_date
from tepal.plant import By, Finding, Reader, identify, local_prior
from tepal.reading._activities import PROVED, how_sure, names_a_species
from tepal.reading._elsewhere import Drilled, Elsewhere, Nearby, Tested
from tepal.reading._sight import sight_names

_DAYS = 365.25
# A laboratory confirms a reader's looks where these gave its name at least this chance, and finds a mistake in them
# where they gave it at most that one; between the two they left the question open, and say nothing of the reader.
_CONFIRMED, _OVERTURNED = 0.5, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Beforehand:
    """`prior`: code to weight, None where only the region tells. `readers` by name in small letters, those that were
    checked. `entries`: what both stand on."""

    prior: dict[str, float] | None = None
    readers: dict[str, Reader] = field(default_factory=dict)
    entries: tuple[str, ...] = ()


def beforehand(
    entries: Sequence[Entry],
    about: Elsewhere,
    *,
    season: int | None,
    region: str | None,
    as_of: date,
    flora: Flora,
) -> Beforehand:
    """The prior of a place and its readers. `season`: the year of the plants that are named; what was found in it is
    evidence of its own and no part of the prior."""
    found = [*_nearby(about.nearby), *_here(entries, season)]
    known = [one for one in found if _is_pigweed(one.code, flora)]
    prior = None
    if known:
        prior = local_prior(_together(known, as_of), flora=flora, region=region)
    readers, checks = _readers(about.tested, about.drilled, flora)
    return Beforehand(prior, readers, tuple(dict.fromkeys((*(one.entry for one in known), *checks))))


@dataclass(frozen=True, slots=True)
class _Found:
    entry: str
    code: str
    by: By
    on: date
    metres: float = 0.0


def _nearby(nearby: Sequence[Nearby]) -> list[_Found]:
    return [_Found(one.entry, one.taxon, "laboratory", one.on, one.metres) for one in nearby]


def _here(entries: Sequence[Entry], season: int | None) -> list[_Found]:
    """Names of earlier seasons than the one whose plants are named: a laboratory's, and those beside counts."""
    if season is None:
        return []
    found = []
    votes: set[tuple[str, date, str]] = set()
    for entry in entries:
        on, body = event_date(entry), entry.body
        if on.year >= season:
            continue
        if isinstance(body, Sample) and names_a_species(body) and body.taxon:
            found.append(_Found(entry.id, body.taxon, "laboratory" if how_sure(body) >= PROVED else "eye", on))
        elif isinstance(body, (Stop, Walk)):
            for code in sight_names(body):
                if (entry.by, on, code) not in votes:
                    votes.add((entry.by, on, code))
                    found.append(_Found(entry.id, code, "eye", on))
    return found


def _is_pigweed(code: str, flora: Flora) -> bool:
    parts = tuple(sorted(code.split("x"))) if code not in flora.taxa else (code,)
    plain = len(parts) == 1 or parts in flora.crossing_pairs()
    return plain and all(part in flora.taxa and flora.taxa[part].pigweed for part in parts)


def _together(found: Sequence[_Found], as_of: date) -> list[Finding]:
    """Plants of one place and season that were named alike are one finding of so many plants."""
    plants = Counter((one.code, one.by, one.on.year, round(one.metres)) for one in found)
    last = {(one.code, one.by, one.on.year, round(one.metres)): one.on for one in sorted(found, key=lambda f: f.on)}
    return [
        Finding(code, by, years=max((as_of - last[key]).days, 0) / _DAYS, metres=float(metres), plants=count)
        for key, count in plants.items()
        for code, by, _, metres in (key,)
    ]


def _readers(
    tested: Sequence[Tested], drilled: Sequence[Drilled], flora: Flora
) -> tuple[dict[str, Reader], tuple[str, ...]]:
    right: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    checks = [one.entry for one in drilled]
    for one in drilled:
        right[one.reader] += one.right
        wrong[one.reader] += one.wrong
    for test in tested:
        plant, result = test.plant.body, test.result.body
        if not isinstance(plant, Plant) or not isinstance(result, Sample) or not result.taxon or not plant.looks:
            continue
        call = identify(dict(plant.looks), stage=plant.stage, region=test.region, flora=flora)
        if result.taxon not in call.taxa:
            continue
        # Names that nobody can tell apart at the stage are right together.
        names = call.group if result.taxon in call.group else (result.taxon,)
        chance = call.probability(*names)
        if chance >= _CONFIRMED or chance <= _OVERTURNED:
            (right if chance >= _CONFIRMED else wrong)[test.reader] += 1
            checks.append(test.result.id)
    return {
        name: Reader().after(right=right[name], wrong=wrong[name]) for name in sorted(right.keys() | wrong.keys())
    }, tuple(checks)

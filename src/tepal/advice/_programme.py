"""A season's plan, checked: what each pass can be counted on for, and what a careful practitioner would object to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from tepal.advice._passes import Pass, PlannedSeason, planned, sprayed
from tepal.advice._plan_findings import Finding, Standing, of_pass, of_season
from tepal.advice._plan_weather import PlanWeather
from tepal.advice._population import Population, Verdict, metabolic_here, population, verdict
from tepal.flora import Flora
from tepal.programme import Programme
from tepal.reading import Reading
from tepal.tables import Refused

__all__ = ["CheckedPass", "CheckedSeason", "Finding", "ProgrammeCheck", "check_programme"]


@dataclass(frozen=True, slots=True)
class CheckedPass:
    """One pass with a verdict on each of its groups and what speaks against it, the gravest first."""

    one: Pass
    verdicts: tuple[Verdict, ...]
    findings: tuple[Finding, ...]

    def groups(self, standing: Standing) -> tuple[int, ...]:
        """The groups of one standing: sure, doubtful, failed or idle."""
        return tuple(v.group for v in self.verdicts if v.standing == standing)


@dataclass(frozen=True, slots=True)
class CheckedSeason:
    """One season with its passes and what speaks against the season as a whole."""

    season: PlannedSeason
    passes: tuple[CheckedPass, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class ProgrammeCheck:
    """A plan, checked. `done`: this season's sprayings on record. `weather`: whether a station's record was there."""

    name: str
    taxon: str
    here: Population
    done: tuple[CheckedPass, ...]
    seasons: tuple[CheckedSeason, ...]
    weather: bool

    def all_passes(self) -> tuple[CheckedPass, ...]:
        return self.done + tuple(one for season in self.seasons for one in season.passes)


def check_programme(
    plan: Programme | None,
    *,
    flora: Flora,
    reading: Reading | None = None,
    year: int | None = None,
    traits: Sequence[str] | None = None,
    state: str | None = None,
    region: str | None = None,
) -> ProgrammeCheck:
    """Check a plan, the sprayings that a site's reading tells of, or both: the done ones come before the planned.

    Parameters
    ----------
    plan
        The seasons planned; None: only what was done.
    flora
        The weed group's tables.
    reading
        The site: laboratory results, sprayings that plants lived through, the seed's traits, state, region, weather.
    year
        The year of the plan's first season; that of the reading where not given.
    traits
        Herbicide traits of the seed: [] none, None: not known (the reading's, where its crop of the season is planned).
    state, region
        Where there is no reading: two letters; SE, CB, UM, SP or NE.

    Raises
    ------
    Refused
        If there is neither a plan nor a reading, or the plan's taxon is none of the group.
    """
    if plan is None and reading is None:
        raise Refused(
            "neither a plan nor a site",
            where="command line",
            rule="A check needs a plan's file, or a ledger with a site, or both.",
            step="Give the file, or --ledger and --site.",
        )
    taxon = flora.taxon(plan.taxon, where=plan.name).code if plan else _leading(reading, flora)
    here = population(taxon, plan=plan, reading=reading, state=state, region=region)
    weather = PlanWeather(reading, flora, taxon) if reading is not None else None
    first = year if year is not None else reading.as_of.year if reading is not None else date.today().year
    seasons = planned(plan, year=first, region=here.region, flora=flora) if plan else ()
    done = _checked(
        sprayed(reading) if reading else (), (), here, flora, weather, crop=None, traits=traits,
        grown=_grown(reading, flora),
    )  # fmt: skip
    checked = []
    before: tuple[CheckedPass, ...] = done if reading is not None and first == reading.as_of.year else ()
    for season in seasons:
        passes = _checked(
            season.passes,
            before,
            here,
            flora,
            weather,
            crop=season.crop,
            grown=season.crop,
            traits=_traits(season, traits, reading, flora),
        )
        checked.append(CheckedSeason(season, passes, of_season(season, [(p.one, p.verdicts) for p in passes], flora)))
        before = passes
    has_weather = reading is not None and reading.station is not None
    return ProgrammeCheck(plan.name if plan else "", taxon, here, done, tuple(checked), has_weather)


def _traits(
    season: PlannedSeason, told: Sequence[str] | None, reading: Reading | None, flora: Flora
) -> Sequence[str] | None:
    """The seed's traits: as told; else those on record, where it is this season's crop that is planned."""
    if told is not None or reading is None or not reading.facts["traits_known"]:
        return told
    same = season.year == reading.as_of.year and flora.crop(season.crop) is flora.crop(reading.place.crop)
    return (reading.place.traits or ()) if same else None


def _grown(reading: Reading | None, flora: Flora) -> str | None:
    """The crop on record, as the tables call it."""
    row = flora.crop(reading.place.crop or "") if reading is not None else None
    return None if row is None else row.crop


def _leading(reading: Reading | None, flora: Flora) -> str:
    """The hunted taxon that the site's reading leans to."""
    assert reading is not None
    shares = {code: float(reading.facts[f"p_any.{code}"] or 0.0) for code in flora.hunted()}  # type: ignore[arg-type]
    return max(shares, key=lambda code: shares[code])


def _checked(
    passes: Sequence[Pass],
    before: Sequence[CheckedPass],
    here: Population,
    flora: Flora,
    weather: PlanWeather | None,
    *,
    crop: str | None,
    traits: Sequence[str] | None,
    grown: str | None,
) -> tuple[CheckedPass, ...]:
    """Passes after those before them. `crop`: one that has to bear them; `grown`: one in which they act on the weed."""
    found = list(before)
    metabolic = metabolic_here(here, flora)
    for one in passes:
        leaves = _on_leaves(one, flora)
        verdicts = tuple(verdict(group, here, on_leaves=leaves, flora=flora, crop=grown) for group in one.groups)
        previous = [(p.one, p.verdicts) for p in found]
        findings = of_pass(
            one, verdicts, previous, metabolic=metabolic, flora=flora, crop=crop, traits=traits,
            weather=weather, since=_since(one, found, here, flora),
        )  # fmt: skip
        found.append(CheckedPass(one, verdicts, findings))
    return tuple(found[len(before) :])


def _on_leaves(one: Pass, flora: Flora) -> bool:
    """What was sprayed counts as on leaves where any of its groups acts on leaves and it was not bare soil."""
    if one.kind != "sprayed":
        return one.kind == "post"
    timings = {
        part for item in flora.ingredients.values() if set(item.groups) & set(one.groups) for part in item.timing
    }
    return any(part.startswith(("POST", "burndown")) for part in timings) or not timings


def _since(one: Pass, found: Sequence[CheckedPass], here: Population, flora: Flora) -> date | None:
    """The day after which the plants that this pass meets came up: the last pass that works, or a residual's end."""
    if one.on is None:
        return None
    days = [
        end
        for earlier in found
        if earlier.one.on is not None and earlier.one.on < one.on and earlier.one.on.year == one.on.year
        if (end := _works_until(earlier, here, flora)) is not None
    ]
    return min(max(days), one.on) if days else None


def _works_until(earlier: CheckedPass, here: Population, flora: Flora) -> date | None:
    """The last day on which an earlier pass kept the ground clean, its residual with it; None where it fails."""
    assert earlier.one.on is not None
    soil = any(verdict(group, here, on_leaves=False, flora=flora).standing == "sure" for group in earlier.one.groups)
    on_leaves = earlier.one.kind != "residual" and bool(earlier.groups("sure"))
    if not soil:
        return earlier.one.on if on_leaves else None
    when = "at planting" if earlier.one.kind == "residual" and (earlier.one.days or 0) <= 7 else "later"
    lasts = (
        earlier.one.lasts_days[0]
        if earlier.one.lasts_days
        else float(flora.parameter("residual_days", "*", when).low or 0)
    )
    # A residual keeps down what is to come, not what was up before.
    if earlier.one.kind == "residual" or on_leaves:
        return earlier.one.on + timedelta(days=int(lasts))
    return None

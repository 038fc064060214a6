"""Residuals that no rain washes in, that leave gaps, or that end before the rows close."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from tepal.advice._finding import Finding, Judged
from tepal.advice._passes import Pass, PlannedSeason
from tepal.advice._plan_weather import PlanWeather
from tepal.advice._population import Verdict
from tepal.doubt import Provenance
from tepal.flora import Flora
from tepal.words import Words

_OVERLAP = Provenance(("Strom2022", "Norsworthy2012"), "review")
# A chance from which on a careful person plans for a dry spell.
_DRY = 0.2
_GAP_DAYS = 3


def of_rain(one: Pass, verdicts: tuple[Verdict, ...], flora: Flora, weather: PlanWeather | None) -> list[Finding]:
    soil = one.kind == "residual" or any(v.standing == "idle" and _soil_active(v.group, flora) for v in verdicts)
    if not soil or one.on is None or weather is None:
        return []
    chance = weather.no_rain(one.on)
    if chance is None or chance.value < (0.5 if chance.seen else _DRY):
        return []
    on, value, years = one.on, chance.value, chance.years
    if chance.seen:
        return [
            Finding(
                "no_rain_came",
                lambda w: w.t(
                    "Too little rain fell after {day} to wash this residual in. Walk early, and do not wait for it.",
                    day=w.day_month(on),
                ),
                _rain_why,
                chance.stands_on,
            )
        ]  # fmt: skip
    return [
        Finding(
            "no_rain",
            lambda w: w.t(
                "In {share} of 100 years too little rain comes after {day} to wash this residual in (by {years} years "
                "of the station). Have a way to wash it in, or a second pass ready.",
                share=round(100 * value), day=w.day_month(on), years=years,
            ),
            _rain_why,
            chance.stands_on,
        )
    ]  # fmt: skip


def _rain_why(words: Words) -> str:
    return words.t("Most residuals need about half an inch within 7 to 10 days; later the seedlings are up.")


def _soil_active(group: int, flora: Flora) -> bool:
    return any(
        part.startswith(("PRE", "PPI", "residual"))
        for item in flora.ingredients.values()
        if group in item.groups
        for part in item.timing
    )


def of_cover(season: PlannedSeason, passes: Sequence[Judged], flora: Flora) -> list[Finding]:
    """No residual at all, gaps between residuals, or an end before the rows close."""
    covers = sorted(
        (one.on, one.on + timedelta(days=_lasts(one, flora)))
        for one, verdicts in passes
        if one.on is not None and _covers(one, verdicts, flora)
    )
    any_soil = any(_covers(one, verdicts, flora) for one, verdicts in passes)
    if not any_soil:
        return [
            Finding(
                "no_residual",
                lambda w: w.t(
                    "No residual that can be counted on stands in this season. Add one at planting, and a second later."
                ),
                lambda w: w.t("Most seedlings come up over weeks; without a residual each flush meets no barrier."),
                _OVERLAP,
            )
        ]  # fmt: skip
    if not covers:
        return []
    end = covers[0][1]
    for start, until in covers[1:]:
        if (start - end).days > _GAP_DAYS:
            return [_gap(end, start)]
        end = max(end, until)
    row = flora.crop(season.crop)
    if season.planted is None or row is None or row.canopy_days is None:
        return []
    closes = season.planted + timedelta(days=int(row.canopy_days))
    return [_ends(end, closes, again=len(covers) > 1)] if (closes - end).days > _GAP_DAYS else []


def _covers(one: Pass, verdicts: tuple[Verdict, ...], flora: Flora) -> bool:
    if one.kind == "residual":
        return any(v.standing == "sure" for v in verdicts)
    # In a pass on leaves a group without any use there is the residual partner.
    return any(v.standing == "idle" and _soil_active(v.group, flora) for v in verdicts)


def _lasts(one: Pass, flora: Flora) -> int:
    if one.lasts_days is not None:
        return round(sum(one.lasts_days) / 2)
    when = "at planting" if one.kind == "residual" and (one.days or 0) <= 7 else "later"
    return round(float(flora.parameter("residual_days", "*", when).mean or 0))


def _gap(end: date, start: date) -> Finding:
    return Finding(
        "no_overlap",
        lambda w: w.t(
            "Between the residuals lies a gap, from about {end} to {start}: move the second one forward.",
            end=w.day_month(end), start=w.day_month(start),
        ),
        _overlap_why,
        _OVERLAP,
    )  # fmt: skip


def _ends(end: date, closes: date, *, again: bool) -> Finding:
    return Finding(
        "no_overlap",
        (
            lambda w: w.t(
                "The last residual ends about {end}, and rows close about {closes}. Plan a walk in between.",
                end=w.day_month(end), closes=w.day_month(closes),
            )
        )
        if again
        else lambda w: w.t(
            "The residual ends about {end}, and rows close about {closes}. A second one two to four weeks after the "
            "first would overlap.",
            end=w.day_month(end), closes=w.day_month(closes),
        ),
        _overlap_why,
        _OVERLAP,
    )  # fmt: skip


def _overlap_why(words: Words) -> str:
    return words.t("A residual fades: in Illinois trials control slipped by week six.")

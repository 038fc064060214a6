"""What speaks against a pass or a season of a plan, each as one sentence with its reason and what it stands on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from tepal.advice._finding import Finding, Judged
from tepal.advice._finding_crop import over_the_top
from tepal.advice._finding_height import of_height
from tepal.advice._finding_residual import of_cover, of_rain
from tepal.advice._finding_sites import of_sites, one_group_everywhere, same_again, together
from tepal.advice._passes import Pass, PlannedSeason
from tepal.advice._plan_weather import PlanWeather
from tepal.advice._population import Standing, Verdict
from tepal.doubt import Provenance
from tepal.flora import Flora, ResistanceRow

__all__ = ["Finding", "Standing", "of_pass", "of_season"]


def of_pass(
    one: Pass,
    verdicts: tuple[Verdict, ...],
    before: Sequence[Judged],
    *,
    metabolic: ResistanceRow | None,
    flora: Flora,
    crop: str | None,
    traits: Sequence[str] | None,
    weather: PlanWeather | None,
    since: date | None,
) -> tuple[Finding, ...]:
    """What speaks against one pass, the gravest first. `since`: the plants that it meets came up after that day."""
    found = [
        *over_the_top(one, crop, traits, flora),
        *of_height(one, flora, weather, since),
        *of_sites(verdicts, done=one.kind == "sprayed"),
        *same_again(one, verdicts, before),
        *together(verdicts, metabolic),
        *of_rain(one, verdicts, flora, weather),
    ]
    return tuple(found)


def of_season(season: PlannedSeason, passes: Sequence[Judged], flora: Flora) -> tuple[Finding, ...]:
    """What speaks against a season as a whole."""
    found: list[Finding] = []
    if not passes:
        return ()
    found += one_group_everywhere(passes)
    found += of_cover(season, passes, flora)
    if not season.other_tactics:
        found.append(
            Finding(
                "herbicides_only",
                lambda w: w.t(
                    "There is nothing in this season but herbicides. Plan a way that nothing resists: pulling before "
                    "seed, cultivation, a cover."
                ),
                lambda w: w.t("What lives through every pass makes the seed of next year."),
                Provenance(("Norsworthy2012",), "review"),
            )
        )
    return tuple(found)

"""What speaks against a pass or a season of a plan, each as one sentence with its reason and what it stands on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from tepal.advice._passes import Pass, PlannedSeason
from tepal.advice._plan_weather import PlanWeather
from tepal.advice._population import Population, Said, Standing, Verdict
from tepal.doubt import Provenance
from tepal.flora import Flora, ResistanceRow
from tepal.words import Words

__all__ = ["Finding", "Standing", "of_pass", "of_season"]
_MIXING = Provenance(("Evans2016", "Norsworthy2012"), "review")
_HEIGHT = Provenance(("Kouame2024", "HorakLoughin2000"), "measured")
_LABEL = Provenance(("USLabels",), "judgement")
_OVERLAP = Provenance(("Strom2022", "Norsworthy2012"), "review")
_JUDGED = Provenance((), "judgement")
_TALLEST_CM = 10.0
# A chance from which on a careful person moves the date (one in ten, as everywhere), or plans for a dry spell.
_LIKELY, _DRY = 0.1, 0.2
_GAP_DAYS = 3
Judged = tuple[Pass, tuple[Verdict, ...]]


@dataclass(frozen=True, slots=True)
class Finding:
    """What speaks against a pass or a season: `rule` names it for programs."""

    rule: str
    text: Said
    why: Said
    stands_on: Provenance


def of_pass(
    one: Pass,
    verdicts: tuple[Verdict, ...],
    before: Sequence[Judged],
    *,
    here: Population,
    metabolic: ResistanceRow | None,
    flora: Flora,
    crop: str | None,
    traits: Sequence[str] | None,
    weather: PlanWeather | None,
    since: date | None,
) -> tuple[Finding, ...]:
    """What speaks against one pass, the gravest first. `since`: the plants that it meets came up after that day."""
    del here
    found = [
        *_over_the_top(one, crop, traits, flora),
        *_height(one, flora, weather, since),
        *_sites(verdicts, done=one.kind == "sprayed"),
        *_same_again(one, verdicts, before),
        *_together(verdicts, metabolic),
        *_rain(one, verdicts, flora, weather),
    ]
    return tuple(found)


# ----------------------------------------------------------------------------------------------- sites of action


def _sites(verdicts: tuple[Verdict, ...], *, done: bool) -> list[Finding]:
    acting = [v for v in verdicts if v.standing != "idle"]
    sure = [v.group for v in acting if v.standing == "sure"]
    if len(sure) >= 2:
        return []
    if not sure:
        return [Finding("nothing_counts", _nothing_was if done else _nothing_is, _survivors, _MIXING)]
    return [Finding("one_site", _one_was(sure[0]) if done else _one_is(sure[0]), _mixing, _MIXING)]


def _nothing_is(words: Words) -> str:
    return words.t("Nothing in this pass can be counted on. Change it, or plan to pull or cultivate instead.")


def _nothing_was(words: Words) -> str:
    return words.t("Nothing in this pass could be counted on. Do not repeat it; pull or cultivate what lives.")


def _one_is(group: int) -> Said:
    return lambda w: w.t("This pass stands on one site of action, group {group}. Add a second that works.", group=group)


def _one_was(group: int) -> Said:
    return lambda w: w.t("This pass stood on one site of action, group {group}. The next needs others.", group=group)


def _survivors(words: Words) -> str:
    return words.t("Plants that live through it are the ones that resist, and they make the next seed.")


def _mixing(words: Words) -> str:
    return words.t("In Illinois records mixing sites of action lowered the odds of resistant waterhemp.")


def _same_again(one: Pass, verdicts: tuple[Verdict, ...], before: Sequence[Judged]) -> list[Finding]:
    """The pass leans on the one group that the pass before it leaned on, whether that is sure or in doubt."""
    if not before:
        return []
    now, last = _leans_on(verdicts), _leans_on(before[-1][1])
    if len(now) != 1 or now != last or one.kind == "residual":
        return []
    (group,) = now
    return [
        Finding(
            "same_again",
            lambda w: w.t("It leans on group {group}, as the pass before did. Use another that works.", group=group),
            lambda w: w.t("Each repeat of one site of action leaves more of the plants that live through it."),
            Provenance(("Norsworthy2012",), "review"),
        )
    ]


def _leans_on(verdicts: tuple[Verdict, ...]) -> set[int]:
    sure = {v.group for v in verdicts if v.standing == "sure"}
    return sure or {v.group for v in verdicts if v.standing in ("doubtful", "failed")}


def _together(verdicts: tuple[Verdict, ...], metabolic: ResistanceRow | None) -> list[Finding]:
    """Several groups of one pass that plants may break down alike: they are no independent sites."""
    if metabolic is None:
        return []
    groups = [str(v.group) for v in verdicts if v.group in metabolic.groups and v.standing == "doubtful"]
    if len(groups) < 2:
        return []
    return [
        Finding(
            "several_at_once",
            lambda w: w.t(
                "Groups {groups} may fail together: do not count them as so many sites.", groups=w.listing(groups)
            ),
            lambda w: w.t(
                "Plants that break herbicides down resist several groups at once. Such plants are known in {states}. "
                "Ask for a test.",
                states=w.listing(metabolic.states),
            ),
            Provenance(metabolic.sources, metabolic.basis),
        )
    ]


# ------------------------------------------------------------------------------------------------------ the crop


def _over_the_top(one: Pass, crop: str | None, traits: Sequence[str] | None, flora: Flora) -> list[Finding]:
    if one.kind != "post" or not one.over_crop or crop is None:
        return []
    if traits is None:
        return [
            Finding(
                "trait_unknown",
                lambda w: w.t(
                    "Not advised over the {crop}: its herbicide traits are not on record. Ask first.", crop=w.t(crop)
                ),
                lambda w: w.t("A crop without the trait can be lost, and the label forbids it."),
                _JUDGED,
            )
        ]
    return [finding for group in one.groups for finding in _use(group, crop, traits, flora)]


def _use(group: int, crop: str, traits: Sequence[str], flora: Flora) -> list[Finding]:
    items = [
        item
        for item in flora.ingredients.values()
        if group in item.groups and any("POST" in part or part.startswith("residual") for part in item.timing)
    ]
    uses = {item.crops[crop] for item in items if crop in item.crops}
    if "yes" in uses or (not uses and crop not in next(iter(flora.ingredients.values())).crops):
        return []
    if "trait" in uses:
        names = [item.name for item in items if item.crops[crop] == "trait"]
        held = {trait.casefold() for trait in traits}
        if any(name.casefold().startswith(trait) for name in names for trait in held):
            return []
        return [
            Finding(
                "trait_missing",
                lambda w: w.t(
                    "Group {group} goes over {crop} only where the seed has the trait, and none is on record.",
                    group=group, crop=w.t(crop),
                ),
                lambda w: w.t("A crop without the trait can be lost, and the label forbids it."),
                _LABEL,
            )
        ]  # fmt: skip
    directed = "directed" in uses
    return [
        Finding(
            "not_over_crop",
            (lambda w: w.t("In {crop}, group {group} is only sprayed below the leaves.", crop=w.t(crop), group=group))
            if directed
            else lambda w: w.t("We know of no use of group {group} over {crop}.", crop=w.t(crop), group=group),
            lambda w: w.t("So we recall the labels; read the label, it is the law."),
            _LABEL,
        )
    ]


# ---------------------------------------------------------------------------------------------------- the height


def _height(one: Pass, flora: Flora, weather: PlanWeather | None, since: date | None) -> list[Finding]:
    if one.kind == "sprayed":
        return _sprayed_tall(one)
    if one.kind != "post":
        return []
    if one.height_cm is not None:
        share = flora.parameter("typical_height_share", "*")
        tallest = one.height_cm / float(share.mean or 1.0)
        if tallest > _TALLEST_CM:
            return [
                Finding(
                    "too_tall_told",
                    lambda w: w.t(
                        "Spray sooner: where the usual plant is {usual}, the tallest stand at about {tallest}, over "
                        "the {limit} that is advised.",
                        usual=w.length(one.height_cm / 100),  # type: ignore[operator]  # asked for above
                        tallest=w.length(tallest / 100),
                        limit=w.length(_TALLEST_CM / 100),
                    ),
                    _tall_why,
                    _HEIGHT | Provenance(share.sources, share.basis),
                )
            ]
    if one.on is None or weather is None:
        return []
    chance = weather.too_tall(one.on, since)
    if chance is None or chance.value < _LIKELY:
        return []
    on, value = one.on, chance.value
    came = _came(since)
    return [
        Finding(
            "too_tall_by_date",
            lambda w: w.t(
                "On {day} the tallest may be over {limit}: {chance}. Plan an earlier day{came}.",
                day=w.day_month(on), limit=w.length(_TALLEST_CM / 100), chance=w.chance(value), came=came(w),
            ),
            _tall_why,
            _HEIGHT | chance.stands_on,
        )
    ]  # fmt: skip


def _came(since: date | None) -> Said:
    if since is None:
        return lambda w: ""  # noqa: ARG005 - the form of `Said`
    return lambda w: w.t(" (plants that come up from {day} on)", day=w.day_month(since))


def _tall_why(words: Words) -> str:
    return words.t("Small plants die, tall ones live. The label may set a lower height; it governs.")


def _sprayed_tall(one: Pass) -> list[Finding]:
    if one.tallest_cm is None or one.tallest_cm <= _TALLEST_CM:
        return []
    height = one.tallest_cm
    return [
        Finding(
            "sprayed_tall",
            lambda w: w.t("The tallest stood at {height} when it was sprayed; look for plants that live.",
                          height=w.length(height / 100)),
            _tall_why,
            _HEIGHT,
        )
    ]  # fmt: skip


# ------------------------------------------------------------------------------------------------------ residuals


def _rain(one: Pass, verdicts: tuple[Verdict, ...], flora: Flora, weather: PlanWeather | None) -> list[Finding]:
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


def of_season(season: PlannedSeason, passes: Sequence[Judged], flora: Flora) -> tuple[Finding, ...]:
    """What speaks against a season as a whole."""
    found: list[Finding] = []
    if not passes:
        return ()
    found += _everywhere(passes)
    found += _cover(season, passes, flora)
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


def _everywhere(passes: Sequence[Judged]) -> list[Finding]:
    leans = [_leans_on(verdicts) for one, verdicts in passes if one.kind == "post"]
    if len(leans) < 2 or any(len(groups) != 1 for groups in leans) or len(set.union(*leans)) > 1:
        return []
    (group,) = leans[0]
    return [
        Finding(
            "one_group_all_season",
            lambda w: w.t("Every pass on plants that are up leans on group {group}.", group=group),
            lambda w: w.t("One gene then ends the whole season's control."),
            _MIXING,
        )
    ]


def _cover(season: PlannedSeason, passes: Sequence[Judged], flora: Flora) -> list[Finding]:
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

"""The flat view of a reading: every key of `fact_types`, filled or None."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from tepal.ledger import Done, Entry, Photo, Plant, Stop, Walk, event_date
from tepal.reading._fact_keys import WINDOW_KEYS, fact_types
from tepal.reading._records import Fact, FloatArray, Place, StandReading, TaxonReading, Window
from tepal.reading._work import ONE_VISIT, since_control

if TYPE_CHECKING:
    from tepal.reading._names import Named
    from tepal.reading._numbers import Numbers

_STAGES = ("cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed")


def facts(
    *,
    as_of: date,
    place: Place,
    entries: Sequence[Entry],
    taxa: Mapping[str, TaxonReading],
    named: Named,
    counted: Numbers,
    stand: StandReading,
    windows: Sequence[Window],
    draws: Mapping[str, FloatArray],
    activities: Mapping[str, Fact],
    crop: Mapping[str, Fact],
    law: Mapping[str, Fact],
    heat: Mapping[str, Fact],
    where_hectares: float | None,
    hunted: Sequence[str],
    first_find: Mapping[str, bool],
) -> dict[str, Fact]:
    """Every fact of `fact_types(hunted)`; a KeyError here is a key that was declared and not filled."""
    none_seen = counted.none_found
    leading = named.leading if named.leading in taxa else None
    found: dict[str, Fact] = {
        "as_of": as_of,
        "month": float(as_of.month),
        "ground": place.ground,
        "county": place.county,
        "state": place.state,
        "region": place.region,
        "hectares": place.hectares,
        "boundary_known": place.boundary is not None,
        "waterway": any(feature.get("kind") == "waterway" for feature in place.features),
        "beside": _beside(place),
        "consent": place.consent,
        "leading": leading,
        "leading_share": None if leading is None or taxa[leading].share is None else taxa[leading].share["mean"],  # type: ignore[index]
        "p_hunted": None if none_seen else named.p_hunted,
        "named_plants": float(named.plants) if named.season == as_of.year else 0.0,
        "named_by_sight": named.by_sight,
        "looked_this_season": counted.been_there,
        "seen_before": _seen_before(entries, as_of),
        "seen_any": counted.seen_any,
        "none_seen": none_seen,
        "reported_only": not counted.been_there and counted.told,
        "photos": float(len(_photos(entries, as_of))),
        "where_hectares": where_hectares,
        "seen_share": counted.seen_share,
        "density_per_ha": None if stand.density_per_m2 is None else 1e4 * stand.density_per_m2["q50"],
        "total": None if stand.total is None else stand.total["q50"],
        "total_q95": None if stand.total is None else stand.total["q95"],
        "density_all_per_ha": None if stand.all_density_per_m2 is None else 1e4 * stand.all_density_per_m2["q50"],
        "counted": stand.basis in ("counts", "walk"),
        **_growth(entries, as_of, draws),
        "crop": place.crop,
        "traits_known": None if place.crop is None else place.traits is not None or crop["trait_sold"] is False,
        "traits": None if place.traits is None else "; ".join(place.traits),
        "planted": place.planted,
        "days_since_planting": None if place.planted is None else float((as_of - place.planted).days),
        "row_cm": place.row_cm,
        **crop,
        "looked_since_harvest": _looked_since(entries, crop["harvested_days"], as_of),
        **law,
        **heat,
        **activities,
        "looked_since_work": _looked_since(entries, _last_weeding(activities), as_of),
    }
    for code in hunted:
        found[f"p_any.{code}"] = 0.0 if none_seen and code not in taxa else taxa[code].p_seen if code in taxa else None
        found[f"first_find.{code}"] = first_find[code]
    # Windows come likeliest taxon first; the rules look at that one.
    by_name = {window.name: window for window in windows if window.taxon == windows[0].taxon}
    for event in WINDOW_KEYS:
        window = by_name.get(event)
        for point in ("q10", "q50", "q90"):
            found[f"window.{event}.{point}"] = None if window is None else getattr(window, point)
    return {key: found[key] for key in fact_types(hunted)}


def _seen_before(entries: Sequence[Entry], as_of: date) -> bool:
    """Whether a pigweed stood here in an earlier season, by count, walk or plant."""
    return any(
        (isinstance(entry.body, Stop) and any(tally.count for tally in entry.body.counts))
        or isinstance(entry.body, Plant)
        or (isinstance(entry.body, Walk) and bool(entry.body.found))
        for entry in entries
        if event_date(entry).year < as_of.year
    )


def _beside(place: Place) -> str | None:
    """Names of what is drawn beside the plants and is no way in, no edge and no water."""
    named = [str(item["name"]) for item in place.features if item.get("kind") in ("yard", "other") and item.get("name")]
    return "; ".join(dict.fromkeys(name.replace(";", ",") for name in named)) or None


def _photos(entries: Sequence[Entry], as_of: date) -> set[str]:
    """The season's photographs, by their hash: one told of twice is one."""
    found: set[str] = set()
    for entry in entries:
        if event_date(entry).year == as_of.year:
            if isinstance(entry.body, Photo):
                found.add(entry.body.sha256)
            found.update(getattr(entry.body, "photos", None) or ())
    return found


def _last_weeding(activities: Mapping[str, Fact]) -> float | None:
    days = (activities[key] for key in ("pulled_days", "cut_days", "mowed_days"))
    return min((day for day in days if isinstance(day, float)), default=None)


def _looked_since(entries: Sequence[Entry], days: Fact, as_of: date) -> bool | None:
    """Whether somebody counted, walked or looked at a plant after so many days ago; None where nothing was done."""
    if not isinstance(days, float):
        return None
    off = as_of - timedelta(days=days)
    return any(
        isinstance(entry.body, (Stop, Walk)) or (isinstance(entry.body, Plant) and entry.body.seen_by == "eye")
        for entry in entries
        if event_date(entry) > off
    )


def _growth(entries: Sequence[Entry], as_of: date, draws: Mapping[str, FloatArray]) -> dict[str, Fact]:
    heights: list[tuple[date, float]] = []
    stages, flowering, dark, males = [], [], False, []
    season = [entry for entry in entries if event_date(entry).year == as_of.year]
    for entry in since_control(season, by_a_plant=True):
        body, on = entry.body, event_date(entry)
        if isinstance(body, Stop):
            heights += [(on, tally.tallest_cm) for tally in body.counts if tally.tallest_cm is not None]
        elif isinstance(body, Plant):
            if body.height_cm is not None:
                heights.append((on, body.height_cm))
            if body.stage in _STAGES:
                stages.append(_STAGES.index(body.stage))
            if body.flowering or body.stage in ("reproductive", "mature_seed"):
                flowering.append(on)
                males.append(body.looks.get("plant_sex") == "male_only")
            dark = dark or bool(body.seed_dark) or body.stage == "mature_seed"
        elif isinstance(body, Done) and body.tallest_cm is not None and body.what != "sprayed":
            heights.append((on, body.tallest_cm))
    # Only the last visit: a tall plant that was pulled in June says nothing of July's seedlings.
    last = max((on for on, _ in heights), default=as_of)
    heights = [(on, height) for on, height in heights if last - on <= ONE_VISIT]
    tallest = draws.get("tallest_cm")
    seed = draws.get("viable_seed_day")
    frost = draws.get("frost_day")
    today = (as_of - date(as_of.year, 1, 1)).days
    return {
        "season_over": None if frost is None else bool(np.mean(np.nan_to_num(frost, nan=np.inf) <= today) > 0.5),
        "tallest_seen_cm": max((height for _, height in heights), default=None),
        "tallest_cm": None if tallest is None else float(np.median(tallest)),
        "tallest_cm_q90": None if tallest is None else float(np.quantile(tallest, 0.9)),
        "stage": _STAGES[max(stages)] if stages else None,
        "flowering_seen": bool(flowering),
        "flower_days": float((as_of - min(flowering)).days) if flowering else None,
        "seed_dark_seen": dark,
        "only_males_seen": all(males) and not dark if males else None,
        "p_viable_seed": None if seed is None else float(np.mean(np.nan_to_num(seed, nan=np.inf) <= today)),
    }

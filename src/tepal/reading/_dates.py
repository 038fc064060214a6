"""When things close here: weather and sightings to windows, for the pigweeds that matter most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from tepal.clock import Event, Forecast, Sighting, Weather, forecast
from tepal.clock import windows as clock_windows
from tepal.doubt import Provenance
from tepal.flora import CropRow, Flora
from tepal.ledger import Crop, Done, Entry, Plant, Stop, WeatherTable, event_date
from tepal.reading._place import Grounded
from tepal.reading._records import Window
from tepal.reading._work import since_control
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

# What each date closes, in the order in which a season brings them.
# Spraying goes by the tallest, one plant in twenty, not by a tenth of the plants.
_WINDOWS = (
    ("height_10_cm", "spray", "tallest_10_cm"),
    ("flowers", "pull_before_flower", "flowers"),
    ("viable_seed", "pull_before_seed", "viable_seed"),
    ("next_flush", "flush", "next_flush"),
)
# Of the clock's windows those that the crop sets, or shares in.
_OF_THE_CROP = ("cultivate", "crop_stage", "cross_rows", "harvest")
_CULTIVATED_ROW_CM = 50.0  # as the rules have it
_CLOSED = 0.5  # what has more likely than not closed is no window any more
# A cut plant that has not stood up again within this time has been seen to, or is dead.
_REGROWTH = timedelta(days=60)
_IN_LEAF = ("cotyledon", "seedling_2-4_leaf", "vegetative")
# Plants that were up when the crop was planted stand higher than this six weeks later (judgement).
_AFTER_PLANTING, _SMALL_CM = timedelta(days=42), 30.0
_YOUNG_CM = 10.0  # a taller one among the seedlings is older than they are
_WHOLE = 0.9  # from this share on the whole ground was worked
_USUAL_CUT_CM = 15.0  # a mower's height where nobody wrote it down (judgement)


@dataclass(frozen=True, slots=True, eq=False)
class Dated:
    """Windows, the draws behind them (days after 1 January, NaN: never), and what they stand on."""

    windows: tuple[Window, ...]
    draws: Mapping[str, FloatArray]
    why: Provenance
    notes: tuple[str, ...]


def dates(
    entries: Sequence[Entry],
    *,
    ground: Grounded,
    taxa: Sequence[str],
    weather: WeatherTable | None,
    as_of: date,
    flora: Flora,
    rng: np.random.Generator,
    n: int,
    crop: CropRow | None = None,
) -> Dated:
    """Windows of `taxa`, the leading one first; draws of that one only. `crop`: a row crop that stands.

    A place that is not known, or lies where the clock knows no seasons, has no dates: the notes say so.
    """
    if ground.latitude is None:
        return Dated((), {}, Provenance(), ("The place is not known, so no dates can be given.",))
    seen, seen_ids = _sightings(entries, as_of)
    days = None if weather is None else _weather(weather)
    planted = ground.place.planted if ground.place.planted and ground.place.planted.year == as_of.year else None
    worked = sorted({*_started_clean(seen, planted), *_worked(entries, seen, as_of, planted)})
    windows: list[Window] = []
    draws: dict[str, FloatArray] = {}
    notes: dict[str, None] = {}
    why = Provenance(entries=(*seen_ids, *(() if weather is None else weather.batches)))
    for code in taxa:
        try:
            ahead = forecast(
                days,
                lat=ground.latitude,
                as_of=as_of,
                taxon=code,
                flora=flora,
                seen=seen,
                planted=planted,
                tilled=worked,
                rng=rng,
                n=n,
            )
        except Refused as refusal:
            notes[f"No dates could be given: {refusal}"] = None
            continue
        again = _cut_plants(ahead, entries, as_of, rng)
        reached = {name: _here(ahead, name, again) for _, _, name in _WINDOWS}
        windows += [_window(reached[event], name, closes, ahead) for name, closes, event in _WINDOWS]
        if again is not None:
            windows.append(_window(again.flowers, "regrowth", "return", ahead))
        notes |= dict.fromkeys(ahead.notes)
        why = why | Provenance(ahead.sources, "judgement")
        if not draws:
            windows += _of_the_crop(ahead, crop, ground, as_of)
            draws = {
                "tallest_cm": np.asarray(ahead.height_on(as_of)),
                "height_10_cm_day": reached["tallest_10_cm"].days,
                "flower_day": reached["flowers"].days,
                "viable_seed_day": reached["viable_seed"].days,
                "frost_day": ahead.event("killing_frost").days,
            }
    return Dated(tuple(windows), draws, why, tuple(notes))


def _weather(table: WeatherTable) -> Weather | None:
    return Weather(table.dates, table.tmin_c, table.tmax_c, table.prcp_mm) if len(table) else None


def _window(event: Event, name: str, closes: str, ahead: Forecast) -> Window:
    q10, q50, q90 = (event.quantile(p) for p in (0.1, 0.5, 0.9))
    return Window(name, ahead.taxon, q10, q50, q90, event.share_past(ahead.as_of), closes)


def _of_the_crop(ahead: Forecast, crop: CropRow | None, ground: Grounded, as_of: date) -> list[Window]:
    """Until when a machine or a person can pass the rows of a standing crop, and when it is ripe: those still open."""
    planted = ground.place.planted
    if crop is None or planted is None or planted.year != as_of.year:
        return []
    narrow = ground.place.row_cm is not None and ground.place.row_cm < _CULTIVATED_ROW_CM
    found = []
    for one in clock_windows(ahead, crop=crop, planted=planted):
        past = one.day.share_past(as_of)
        if one.name in _OF_THE_CROP and past < _CLOSED and not (narrow and one.name == "cultivate"):
            q10, q50, q90 = (one.day.quantile(p) for p in (0.1, 0.5, 0.9))
            found.append(Window(one.name, ahead.taxon, q10, q50, q90, past, one.name))
    return found


def _here(ahead: Forecast, name: str, again: _CutPlants | None) -> Event:
    """An event of the plants here: where some were cut, of those that were not or of their regrowth, the earlier."""
    event = ahead.event(name)
    if again is None or name not in ("flowers", "viable_seed"):
        return event
    of_cut = again.flowers if name == "flowers" else again.viable_seed
    return Event(name, np.fmin(event.days, of_cut.days), ahead.start)


@dataclass(frozen=True, slots=True)
class _CutPlants:
    """When plants that were cut flower and have seed again; NaN for one that died of it."""

    flowers: Event
    viable_seed: Event


def _cut_plants(ahead: Forecast, entries: Sequence[Entry], as_of: date, rng: np.random.Generator) -> _CutPlants | None:
    """Regrowth of plants that were cut or mowed lately; of several cuts the last; None where none were."""
    cuts = [
        (event_date(entry), entry.body.cut_height_cm)
        for entry in entries
        if isinstance(entry.body, Done)
        and entry.body.what in ("cut", "mowed")
        and timedelta(0) <= as_of - event_date(entry) <= _REGROWTH
        and event_date(entry).year == as_of.year
    ]
    if not cuts:
        return None
    on, height = max(cuts, key=lambda cut: cut[0])
    again = ahead.regrowth(on, _USUAL_CUT_CM if height is None else height)
    lives = rng.random(again.survives.size) < again.survives
    flowers, seed = (np.where(lives, days, np.nan) for days in (again.flowers, again.viable_seed))
    return _CutPlants(Event("regrowth", flowers, again.start), Event("regrowth", seed, again.start))


def _sightings(entries: Sequence[Entry], as_of: date) -> tuple[list[Sighting], tuple[str, ...]]:
    """One sighting a day of this season: the tallest plant, the most advanced stage, flowers or none.

    A photo shows the stage; a height or a seed's color cannot be taken from it.
    """
    by_day: dict[date, list[Entry]] = {}
    season = [entry for entry in entries if event_date(entry).year == as_of.year]
    for entry in since_control(season, by_a_plant=True):
        on = event_date(entry)
        if isinstance(entry.body, (Stop, Plant)):
            by_day.setdefault(on, []).append(entry)
    found, ids = [], []
    for on, together in sorted(by_day.items()):
        sighting = _one_day(on, together)
        if sighting is not None:
            found.append(sighting)
            ids += [entry.id for entry in together]
    return found, tuple(ids)


def _started_clean(seen: Sequence[Sighting], planted: date | None) -> tuple[date, ...]:
    """The planting day, where whoever looked in the weeks after it met small plants only: it started clean."""
    if planted is None:
        return ()
    after = [sighting for sighting in seen if timedelta(0) <= sighting.on - planted <= _AFTER_PLANTING]
    small = [s for s in after if s.height_cm is not None and s.height_cm <= _SMALL_CM and not s.flowering]
    return (planted,) if small and len(small) == len(after) else ()


def _worked(entries: Sequence[Entry], seen: Sequence[Sighting], as_of: date, planted: date | None) -> set[date]:
    """Days of this season on which all of the ground was worked: before planting, after harvest, or where none is sown.

    A cultivator between the rows of a crop leaves the plants in the rows, so it is no such day. What was seen on the
    very day is taken to have been seen before the work.
    """
    season = [
        (event_date(entry), entry.body)
        for entry in entries
        if isinstance(entry.body, Done) and event_date(entry).year == as_of.year
    ]
    off = [on for on, body in season if body.what == "harvested"]
    crops = [entry.body for entry in entries if isinstance(entry.body, Crop)]
    days = set()
    for on, body in season:
        if body.what != "cultivated" or (body.share is not None and body.share < _WHOLE):
            continue
        bare = not crops or (planted is not None and on <= planted) or any(day <= on for day in off)
        if bare:
            days.add(on + timedelta(days=any(sighting.on == on for sighting in seen)))
    return {day for day in days if day <= as_of}


def _one_day(on: date, entries: Sequence[Entry]) -> Sighting | None:
    heights: list[float] = []
    flowering: list[bool] = []
    dark = False
    stages: list[str] = []
    for entry in entries:
        body = entry.body
        if isinstance(body, Stop):
            heights += [tally.tallest_cm for tally in body.counts if tally.tallest_cm]
        elif isinstance(body, Plant):
            stages.append(body.stage)
            if body.seen_by == "photo":
                continue
            heights += [body.height_cm] if body.height_cm else []
            in_flower = body.stage in ("reproductive", "mature_seed")
            # A plant that was looked at and is still in leaf has no flower.
            if body.flowering is not None or in_flower or (body.stage in _IN_LEAF and body.seen_by == "eye"):
                flowering.append(bool(body.flowering) or in_flower)
            dark = dark or bool(body.seed_dark) or body.stage == "mature_seed"
    young = [stage for stage in stages if stage in ("cotyledon", "seedling_2-4_leaf")]
    told = {
        "height_cm": max(heights, default=None),
        "flowering": any(flowering) if flowering else None,
        "seed_dark": True if dark else None,
        # A stage tells how old all are only where all that were looked at were that young, and none stood tall.
        "stage": max(young) if young and len(young) == len(stages) and max(heights, default=0.0) <= _YOUNG_CM else None,
    }
    if all(value is None for value in told.values()):
        return None
    return Sighting(on, **told)  # type: ignore[arg-type]

"""The clock's answer: when plants come up, pass 10 cm, flower and have viable seed, with all its doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import numpy.typing as npt

from tepal.clock._asked import check
from tepal.clock._believe import believe, believe_flowers, believe_none_tall, believe_stage
from tepal.clock._by_day import by_day
from tepal.clock._courses import Courses
from tepal.clock._notes import Note
from tepal.clock._plants import Plants, grow
from tepal.clock._regrowth import Regrowth, regrow
from tepal.clock._season import season
from tepal.clock._share import day_of_share, first_day, reached_by_day, upper_point
from tepal.clock._sighting import STAGE_AGE_DD, TALLEST_SHARE, Sighting, log_likelihood
from tepal.clock._traits import Published, even_futures, members, spread_evenly
from tepal.clock._weather import Weather
from tepal.clock._weighing import choose
from tepal.doubt import day_quantile
from tepal.flora import Flora

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# An event is the day when this share of the plants then up have reached it.
EVENT_SHARE = 0.1
# Tallest plants this high are too tall for a cultivator (actions of the flora: under 5 to 8 cm), and for spraying.
CULTIVATED_CM, SPRAYED_CM = 8.0, 10.0
# A flush is worth a walk when this share of the season's seedlings has come up since the last one (judgement).
FLUSH_SHARE = 0.03
_PLANTS = 90
_PLANTS_TRIED = 40
_TRIED = 2400


@dataclass(frozen=True, slots=True, eq=False)
class Event:
    """Something that a field's plants reach: its day in each member, in days after 1 January (NaN: never).

    `days` has shape (n,) and is read-only; member i is the same possible season in all events of a forecast.
    """

    name: str
    days: FloatArray
    start: date

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """n days after 1 January, NaN where it does not happen this year."""
        return self.days[rng.integers(0, self.days.size, n)]

    def quantile(self, probability: float) -> date | None:
        """The date by which it has happened in this share of all futures; None where it does not in so many."""
        return day_quantile(self.days, probability, self.start)

    def share_past(self, day: date) -> float:
        """The chance that it has happened by the end of a day."""
        return float(np.mean(self.days <= (day - self.start).days))


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """A field's season from `start` (1 January), as seen on `as_of`.

    `events`: those of `Event` by name, the six of the contract first. `filled`: missing days that were filled. `notes`:
    what had to be assumed, in sentences. `past_years`: the years of the station that stand behind the futures.
    `agreement`: 1 where the sightings are possible in the model; less where plants had to be moved to meet the last.
    """

    taxon: str
    as_of: date
    start: date
    events: tuple[Event, ...]
    filled: tuple[date, ...]
    notes: tuple[Note, ...]
    past_years: tuple[int, ...]
    agreement: float
    sources: tuple[str, ...]
    _plants: Plants = field(repr=False)
    _ten_cm: IntArray = field(repr=False)
    _flower: IntArray = field(repr=False)
    _seed: IntArray = field(repr=False)
    _flora: Flora = field(repr=False)
    _cut_seed: int = field(repr=False)

    def event(self, name: str) -> Event:
        """The event of a name (KeyError where there is none)."""
        for event in self.events:
            if event.name == name:
                return event
        raise KeyError(f"no event {name!r}; there are {', '.join(event.name for event in self.events)}")

    def height_on(self, day: date) -> FloatArray:
        """Height (cm) of the tallest plants, one in twenty, at the end of a day; 0 where none is up. Shape = (n,)."""
        at = self._index(day)
        is_up = self._plants.alive(at)
        tallest = upper_point(self._plants.height_cm(at), self._plants.weight, is_up, TALLEST_SHARE)
        return np.where(is_up.any(axis=1), np.maximum(tallest, 0.0), 0.0)

    def typical_height_on(self, day: date) -> FloatArray:
        """Height (cm) of the middle one of the plants up at the end of a day; 0 where none is. Shape = (n,)."""
        at = self._index(day)
        is_up = self._plants.alive(at)
        middle = upper_point(self._plants.height_cm(at), self._plants.weight, is_up, 0.5)
        return np.where(is_up.any(axis=1), np.maximum(middle, 0.0), 0.0)

    def share_up(self, day: date) -> FloatArray:
        """The share of the season's seedlings that is up by the end of a day, shape = (n,)."""
        weight = self._plants.weight
        return np.asarray(np.where(self._plants.up <= self._index(day), weight, 0.0).sum(axis=1) / weight.sum(axis=1))

    def share_reached(self, name: str, day: date) -> FloatArray:
        """The share of the plants then up that are over 10 cm, in flower or with viable seed, shape = (n,)."""
        when = {"height_10_cm": self._ten_cm, "flowers": self._flower, "viable_seed": self._seed}
        at, weight = self._index(day), self._plants.standing
        up = np.where(self._plants.up <= at, weight, 0.0).sum(axis=1)
        reached = np.where(when[name] <= at, weight, 0.0).sum(axis=1)
        return np.asarray(np.divide(reached, up, out=np.zeros_like(up), where=up > 0))

    def p_viable_seed(self, day: date) -> float:
        """The chance that a tenth of the plants up have viable seed by the end of a day."""
        return self.event("viable_seed").share_past(day)

    @property
    def next_flush(self) -> Event:
        """When the next seedlings worth a walk are up: 3 % of the season's emergence since `as_of`."""
        return self.event("next_flush")

    def regrowth(self, cut_on: date, cut_height_cm: float) -> Regrowth:
        """What plants cut on a day at a height do next: how many live, and when they stand 10 cm, flower, have seed."""
        return regrow(
            self._plants, self._flora, self.taxon, cut_on=self._index(cut_on), cut_height_cm=cut_height_cm,
            start=self.start, rng=np.random.Generator(np.random.PCG64(self._cut_seed)),
        )  # fmt: skip

    def _index(self, day: date) -> int:
        at = (day - self.start).days
        if not 0 <= at < self._plants.days:
            raise ValueError(f"{day} is not in the season of {self.start.year}")
        return at


def forecast(
    weather: Weather | None, *, lat: float, as_of: date, taxon: str, flora: Flora, seen: Sequence[Sighting] = (),
    planted: date | None = None, tilled: Sequence[date] = (), outlook_c: float = 0.0, rng: np.random.Generator,
    n: int = 400,
) -> Forecast:  # fmt: skip
    """When the plants of a field reach what matters, as seen on `as_of`.

    Parameters
    ----------
    weather
        Days of one station, this season's and earlier years'. None: a made-up climate of the latitude.
    lat
        Degrees north, 0 to 65.
    as_of
        Nothing after this day is looked at. It sets the season: its calendar year.
    taxon
        Code of a weed of the group.
    seen
        What was seen in the field this season, up to `as_of`. Plants standing after a control, or a field left alone.
    planted
        The day the crop was planted, which sets its canopy; None: no crop.
    tilled
        Days of this season, up to `as_of`, on which the whole ground was worked: what was up is gone, more comes.
    outlook_c
        A seasonal outlook: what is to be added to all temperatures still to come (degC).
    n
        Members of the ensemble.

    Raises
    ------
    Refused
        For a latitude, taxon, sighting or weather that cannot be used.
    """
    kind = flora.taxon(taxon)
    check(
        lat=lat, as_of=as_of, seen=seen, planted=planted, tilled=tilled, outlook_c=outlook_c, of_the_group=kind.pigweed,
        code=kind.code,
    )  # fmt: skip
    published = Published.of(flora, kind.code)
    # Each part draws from a stream of its own: with the same seed, another as-of date or another past year changes the
    # weather and nothing else, so that dates move because of the weather and not by luck.
    for_weather, for_plants, for_luck, for_sightings, for_cuts = rng.spawn(5)
    course = season(weather, lat=lat, as_of=as_of, rng=for_weather, outlook_c=outlook_c)
    courses = Courses.of(course, published)
    ordered = by_day(seen)
    worked = sorted({course.index(on) for on in tilled})
    future = even_futures(for_weather, n, course.futures)
    if ordered:
        tried_future = even_futures(for_sightings, _TRIED, course.futures)

        def likelihood(z: FloatArray) -> FloatArray:
            some = members(z, tried_future, published)
            plants = grow(
                courses, some, published, plants=_PLANTS_TRIED, planted=planted, tilled=worked, rng=for_sightings
            )
            return log_likelihood(plants, ordered, published)

        z, agreement = choose(likelihood, count=n, tried=_TRIED, rng=for_sightings)
    else:
        z, agreement = spread_evenly(for_plants, n), 1.0
    plants = grow(
        courses, members(z, future, published), published, plants=_PLANTS, planted=planted, tilled=worked, rng=for_luck
    )
    if agreement < 1:
        # Of sightings that contradict each other, the last.
        for sighting in [one for one in ordered if one.height_cm is not None or one.nothing_up][-1:]:
            plants = believe(plants, sighting, published, for_sightings)
        for sighting in [one for one in ordered if one.in_flower is not None or one.with_dark_seed][-1:]:
            plants = believe_flowers(plants, sighting, for_sightings)
    for sighting in [one for one in ordered if one.nothing_up]:
        plants = believe_none_tall(plants, sighting)
    for sighting in [one for one in ordered if one.stage in STAGE_AGE_DD and one.on == ordered[-1].on]:
        plants = believe_stage(plants, sighting, for_sightings)
    ten_cm, flower = plants.reach_height(SPRAYED_CM), plants.flower()
    seed = plants.viable_seed(flower)
    return Forecast(
        taxon=kind.code, as_of=as_of, start=course.start,
        events=_events(plants, ten_cm, flower, seed, as_of=course.index(as_of), start=course.start),
        filled=course.filled, notes=course.notes, past_years=course.past_years, agreement=agreement,
        sources=published.sources, _plants=plants, _ten_cm=ten_cm, _flower=flower, _seed=seed, _flora=flora,
        _cut_seed=int(for_cuts.integers(2**63)),
    )  # fmt: skip


def _events(
    plants: Plants, ten_cm: IntArray, flower: IntArray, seed: IntArray, *, as_of: int, start: date
) -> tuple[Event, ...]:
    days, weight = plants.days, plants.weight
    of_all = reached_by_day(plants.up, weight, days) / weight.sum(axis=1, keepdims=True)
    found: list[tuple[str, FloatArray]] = [
        (f"emerges_{percent}", day_of_share(plants.up, weight, percent / 100, days)) for percent in (10, 50, 90)
    ]
    standing = plants.standing
    up = reached_by_day(plants.up, standing, days)
    for name, when, least in (
        ("height_10_cm", ten_cm, EVENT_SHARE),
        ("flowers", flower, EVENT_SHARE),
        ("viable_seed", seed, EVENT_SHARE),
        ("tallest_8_cm", plants.reach_height(CULTIVATED_CM), TALLEST_SHARE),
        ("tallest_10_cm", ten_cm, TALLEST_SHARE),
    ):
        reached = reached_by_day(when, standing, days)
        share = np.divide(reached, up, out=np.zeros_like(up), where=up > 0)
        found.append((name, first_day(share, least)))
    since = np.where(np.arange(days) > as_of, of_all - of_all[:, as_of : as_of + 1], 0.0)
    found.append(("next_flush", first_day(since, FLUSH_SHARE)))
    frost = plants.frost[:, 0].astype(np.float64)
    found.append(("killing_frost", np.where(frost < days, frost, np.nan)))
    for _, column in found:
        column.setflags(write=False)
    return tuple(Event(name, column, start) for name, column in found)

"""What a reading holds. Frozen: a reading is a value, and two readings of the same entries are equal to the byte."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from tepal.doubt import Provenance

FloatArray = npt.NDArray[np.float64]
Fact = str | float | bool | date | datetime | None

# Enough that a 5 % quantile moves by less than a tenth of a standard deviation between seeds, and still fast.
DRAWS = 2000


@dataclass(frozen=True, slots=True)
class Place:
    """Where the site is and what grows there, as the standing entries have it on the day."""

    name: str
    ground: str
    county: str | None = None
    state: str | None = None
    region: str | None = None
    boundary: Mapping[str, Any] | None = None  # GeoJSON, lon/lat
    point: tuple[float, float] | None = None  # lon, lat
    legal: str | None = None
    words: str | None = None
    hectares: float | None = None
    features: tuple[Mapping[str, Any], ...] = ()
    crop: str | None = None
    traits: tuple[str, ...] | None = None  # None: not known
    planted: date | None = None
    row_cm: float | None = None
    harvested: date | None = None
    consent: bool | None = None


@dataclass(frozen=True, slots=True)
class TaxonReading:
    """One taxon, cross or `other` at the site.

    `p_any`: chance that at least one plant at the site is it; `p_seen`: that at least one of the plants looked at is.
    `share`: its share of the pigweeds here (mean, q05, q50, q95), None where no pigweed was seen or told of.
    """

    code: str
    english_name: str
    p_any: float
    p_seen: float
    share: Mapping[str, float] | None
    proved: bool = False
    parents: tuple[str, ...] = ()  # English names of the two, where it is a cross


@dataclass(frozen=True, slots=True)
class StandReading:
    """How many. Each number a summary of draws, None where nothing was counted.

    `density_per_m2` and `total` are of the taxa hunted; `all_density_per_m2` and `all_total` of every pigweed.
    `by_size`: share of the counted plants in each size class. `basis` says in one word what the numbers stand on:
    `counts`, `walk`, `plants` or `none`.
    """

    basis: str
    density_per_m2: Mapping[str, float] | None = None
    total: Mapping[str, float] | None = None
    all_density_per_m2: Mapping[str, float] | None = None
    all_total: Mapping[str, float] | None = None
    by_size: Mapping[str, float] = field(default_factory=dict)
    counted_plants: int = 0
    counted_area_m2: float = 0.0
    stops: int = 0
    walks: int = 0
    found: int | None = None
    seen_share: float | None = None
    density_upper95_per_ha: float | None = None
    patches: Mapping[str, Any] | None = None  # GeoJSON, lon/lat
    after_work: bool = False  # plants pulled, bagged or cut since they were counted are taken off
    of_hectares: float | None = None  # the ground that the numbers speak of, where counts were made in a patch only


@dataclass(frozen=True, slots=True)
class Window:
    """A date that closes something. Quantiles are of the date itself, all doubt in; None: not this season.

    `share_past`: share of futures in which the date has passed on the day of the reading. `closes`: what one cannot do
    after it, as a message key of `reading` (`spray`, `pull_before_flower`, `pull_before_seed`, `return`, `flush`,
    `cultivate`, `crop_stage`, `cross_rows`), or what begins with it (`harvest`).
    """

    name: str
    taxon: str
    q10: date | None
    q50: date | None
    q90: date | None
    share_past: float
    closes: str


@dataclass(frozen=True, slots=True)
class DoneLine:
    """Something that was done here: the entry, what, when, and what the label says about entering."""

    entry: str
    what: str
    on: date
    detail: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something not known that would change what to do, and the look or step that would settle it.

    `what` is a closed list (`taxon`, `number`, `boundary`, `crop`, `crop_table`, `crop_part`, `replanted`, `trait`,
    `consent`, `weather`, `walk`, `resistance`, `disputed`); `look` names a character, a sample or a step; `detail`
    fills the sentence.
    """

    what: str
    look: str
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class StationRecord:
    """A station's rain (mm), lowest and highest temperature (degC), shape = (years, 366) each; NaN: not known.

    Column 0 is 1 January; the last year ends on the day of the reading.
    """

    station: str
    years: tuple[int, ...]
    rain_mm: FloatArray
    tmin_c: FloatArray
    tmax_c: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What the entries of one site say on one day.

    `facts` is the flat view that rules are written against; `draws` the aligned draws (each shape = (n,)) that later
    steps compose; `why` maps JSON pointers of the reading to what stands behind them. `alike`: codes that nobody can
    tell apart at the stage seen and that lead together, with the chance that a plant looked at is one of them; empty
    where one name leads. `station`: what the weather did here before, None without a station.
    """

    site: str
    as_of: date
    known_to: int
    place: Place
    taxa: Mapping[str, TaxonReading]
    stand: StandReading
    windows: tuple[Window, ...]
    done: tuple[DoneLine, ...]
    unknowns: tuple[Unknown, ...]
    facts: Mapping[str, Fact]
    draws: Mapping[str, FloatArray]
    why: Mapping[str, Provenance]
    tables: str
    version: str
    warnings: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    alike_chance: float = 0.0
    station: StationRecord | None = None

    @property
    def name(self) -> str:
        return self.place.name

    def get(self, key: str) -> Fact:
        """A fact, None where it is not known. A key that is no fact at all is an error of the caller's.

        Raises
        ------
        KeyError
            If no reading has such a key.
        """
        return self.facts[key]

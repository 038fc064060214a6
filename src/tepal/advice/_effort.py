"""Seed kept out of the ground and hours of work, by draws: what ranks the actions.

Per draw, with N plants of the taxa hunted, T the height of the tallest, V the day of first viable seed, t today:

- seed if left = N x female share x seeds per female x crowding x lateness x lives x (1 - r (1 - s)), where
  crowding = 1 / (1 + a N / area searched), lateness = exp(-c max(0, V - V0)) and 0 where V never comes, lives = the
  share of seedlings that live where T <= 10 cm, else 1, r = clip((t - V) / fill, 0, 1) the share of seed that is ripe,
  and s the share of ripe seed that is still on the plant;
- kept out = seed if left x the share that the tactic keeps out;
- hours = search hours x area searched + N x seconds per plant(height) / 3600, or hours x area for a machine; the area
  searched is the ground around what was seen where each place is on record, and then only most of the plants are there.

Rows and sources of the numbers: seed.csv, labour.csv, control.csv of the weed group.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from tepal.doubt import Provenance, generator_for
from tepal.flora import Flora
from tepal.reading import Fact
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]
Tactic = Literal["pull", "pull_bag", "edges", "cut", "mow", "cultivate", "spray", "spray_other"]
TACTICS: tuple[Tactic, ...] = get_args(Tactic)

_SMALL_CM = 10.0
_PULL_HEIGHTS = (20.0, 60.0, 150.0)
_SPRAY_GROUPS = ("group_4", "group_9", "group_10", "group_14", "group_27")


@dataclass(slots=True)
class Effort:
    """Draws of one site on one day from which each tactic's seed and hours are made."""

    flora: Flora
    facts: Mapping[str, Fact]
    draws: Mapping[str, FloatArray]
    seed: tuple[object, ...]
    day: float  # today, in days after 1 January
    used: Provenance = field(default_factory=Provenance)

    @property
    def known(self) -> bool:
        """Whether there are draws of how many plants and how tall, of a taxon that is hunted."""
        return "total" in self.draws and "tallest_cm" in self.draws and bool(self.flora.hunted())

    @property
    def size(self) -> int:
        return next(iter(self.draws.values())).size if self.draws else 2000

    def parameter(self, name: str, condition: str = "", code: str = "*") -> FloatArray:
        """Draws of a parameter; rows of one name move together (one seed), so that anchors keep their order."""
        try:
            row = self.flora.parameter(name, code, condition)
        except KeyError as missing:
            raise Refused(
                str(missing.args[0]),
                where=self.flora.group,
                rule="Advice ranks by the numbers of seed.csv, labour.csv and control.csv.",
                step="Add the row to the weed group's tables.",
            ) from None
        self.used |= Provenance(row.sources, row.basis)
        rng = generator_for(*self.seed, "advice", name, code)
        return np.asarray(row.value().draws(rng, self.size), dtype=np.float64)

    def hectares(self) -> float | None:
        """Area of the site, not below a square meter: a point is no area to divide by."""
        value = self.facts.get("hectares")
        return max(float(value), 1e-4) if isinstance(value, (int, float)) and value > 0 else None

    def plants(self) -> FloatArray:
        return np.maximum(self.draws["total"], 0.0)

    def per_female(self) -> FloatArray:
        """Seeds that one female makes here if left, shape = (n,)."""
        codes = [code for code in self.flora.hunted() if f"share.{code}" in self.draws]
        shares = np.array([np.maximum(self.draws[f"share.{code}"], 0.0) for code in codes])
        whole = shares.sum(axis=0) if codes else np.zeros(self.size)
        codes = codes or list(self.flora.hunted())
        # Where a draw has none of the taxa hunted there are no plants either, and any weight will do.
        weights = np.where(whole > 0, shares / np.where(whole > 0, whole, 1), 1 / len(codes)) if shares.size else None
        seeds = np.array([self.parameter("seeds_per_female", "full_season", code) for code in codes])
        mean = seeds.mean(axis=0) if weights is None else (weights * seeds).sum(axis=0)
        return np.asarray(mean * self._crowding() * self._lateness())

    def season_seed(self) -> FloatArray:
        """Seed of the whole season of all plants if they are left, shape = (n,)."""
        female = self.parameter("female_share", "", self.flora.hunted()[0])
        lives = np.where(
            self.draws["tallest_cm"] <= _SMALL_CM, self.parameter("seedling_lives_to_seed", "under_10_cm"), 1.0
        )
        return np.asarray(self.plants() * female * self.per_female() * lives)

    def seed_if_left(self) -> FloatArray:
        """Seed that all plants would yet add to the ground, shape = (n,)."""
        still = 1 - self.ripe() * (1 - self.parameter("seed_still_on_plant", "ripe"))
        return np.asarray(self.season_seed() * still)

    def ripe(self, day: float | None = None) -> FloatArray:
        """Share of the season's seed that can grow on a day (today, where not given), shape = (n,)."""
        days = self.draws.get("viable_seed_day")
        if days is None:
            return np.zeros(self.size)
        on = self.day if day is None else day
        share = (on - np.where(np.isnan(days), np.inf, days)) / self.parameter("seed_fill_days")
        return np.clip(share, 0.0, 1.0)

    def _crowding(self) -> FloatArray:
        if self.hectares() is None or "total" not in self.draws:
            return np.ones(self.size)
        # Plants crowd each other where they stand, not over the empty rest of the field.
        area = self.searched()
        return np.asarray(1 / (1 + self.parameter("crowding_area") * self.plants() / (1e4 * area)))

    def _lateness(self) -> FloatArray:
        days = self.draws.get("viable_seed_day")
        if days is None:
            return np.ones(self.size)
        late = np.maximum(0.0, np.where(np.isnan(days), np.inf, days) - self.parameter("seed_lateness_start"))
        return np.asarray(np.exp(-self.parameter("seed_lateness_decay") * late))

    def usual_height(self) -> FloatArray:
        return np.asarray(np.maximum(self.draws["tallest_cm"] * self.parameter("typical_height_share"), 1.0))

    def pull_seconds(self) -> FloatArray:
        """Seconds to pull and bag one plant of the usual height: straight lines between anchors in logarithms."""
        anchors = np.sort(
            np.array([self.parameter("seconds_per_plant", f"pull {h:.0f}_cm") for h in _PULL_HEIGHTS]), axis=0
        )
        x, knots = np.log(self.usual_height()), np.log(_PULL_HEIGHTS)
        slopes = np.diff(np.log(anchors), axis=0) / np.diff(knots)[:, None]
        steep = np.where(x < knots[1], slopes[0], slopes[1])
        return np.asarray(np.exp(np.log(anchors[1]) + steep * (x - knots[1])))

    def searched(self) -> float:
        """Hectares to search: the ground around what was seen where that is on record, else the site."""
        area = self.hectares() or 0.0
        where = self.facts.get("where_hectares")
        return min(max(float(where), 1e-4), area) if isinstance(where, (int, float)) and where > 0 else area

    def there(self) -> FloatArray:
        """Share of the plants that stands on the ground searched: all on the whole site, most of them near by."""
        area = self.hectares()
        part = self.searched() / area if area else 1.0
        return np.asarray(part + (1 - part) * self.parameter("stands_where_seen"))

    def search_hours(self) -> FloatArray:
        return np.asarray(self.parameter("search_hours_per_ha") * self.searched())

    def pull_hours(self, plants: FloatArray) -> FloatArray:
        """Hours to search for plants and to pull and bag those there, shape = (n,)."""
        return np.asarray(self.search_hours() + self.there() * plants * self.pull_seconds() / 3600)

    def too_many(self) -> float | None:
        """Chance that the plants are over what crews can finish: too thick and no small job, or more hours than any
        crew gives."""
        area = self.hectares()
        if not self.known or area is None:
            return None
        thick = self.plants() / area > self.parameter("pull_ceiling_per_ha")
        hours = self.pull_hours(self.plants())
        small, most = self.parameter("small_job_hours"), self.parameter("crew_hours")
        return float(np.mean((thick & (hours > small)) | (hours > most)))


def seed_and_hours(tactic: Tactic, effort: Effort) -> tuple[FloatArray, FloatArray] | None:
    """Seed kept out and hours, each shape = (n,); None where how many or how tall is not known."""
    if not effort.known or (tactic in ("mow", "cultivate", "spray", "spray_other") and effort.hectares() is None):
        return None
    share, hours = _TACTIC[tactic](effort)
    return effort.seed_if_left() * share, hours


def _pull_share(e: Effort) -> FloatArray:
    tall = e.usual_height() > 60
    works = np.where(tall, e.parameter("pull_works", "over_60_cm"), e.parameter("pull_works", "under_60_cm"))
    # A stem that snaps leaves a low stump.
    stump = e.parameter("cut_survives", "2.5_cm") * e.parameter("regrowth_seed", "2.5_cm")
    return np.asarray(e.there() * e.parameter("crew_finds") * (1 - (1 - works) * stump))


def _pull_bag(e: Effort) -> tuple[FloatArray, FloatArray]:
    return _pull_share(e), e.pull_hours(e.plants())


def _pull(e: Effort) -> tuple[FloatArray, FloatArray]:
    hand = (e.pull_hours(e.plants()) - e.search_hours()) * e.parameter("no_bag_factor")
    return _pull_share(e) * (1 - e.ripe()), e.search_hours() + hand


def _edges(e: Effort) -> tuple[FloatArray, FloatArray]:
    """Single plants and the patch's edge: a small share of a stand, and no more than a crew can finish."""
    plants, area = e.plants(), e.hectares() or 0.0
    done = np.minimum(e.parameter("edge_share") * plants, e.parameter("pull_ceiling_per_ha") * area)
    share = np.where(plants > 0, done / np.maximum(plants, 1e-9), 0.0)
    return _pull_share(e) * share, e.pull_hours(done)


def _cut(e: Effort) -> tuple[FloatArray, FloatArray]:
    left = e.parameter("cut_survives", "soil_line") * e.parameter("regrowth_seed", "soil_line")
    hand = e.parameter("cut_factor") * e.there() * e.plants() * e.pull_seconds() / 3600
    share = e.there() * e.parameter("crew_finds") * (1 - left) * (1 - e.ripe())
    return np.asarray(share), np.asarray(e.search_hours() + hand)


def _mow(e: Effort) -> tuple[FloatArray, FloatArray]:
    hours = e.parameter("mow_hours_per_ha") * (e.hectares() or 0.0)
    return np.asarray((1 - e.parameter("mow_seed_left", "once")) * (1 - e.ripe())), hours


def _cultivate(e: Effort) -> tuple[FloatArray, FloatArray]:
    return e.parameter("cultivation_kills", "under_8_cm"), e.parameter("cultivate_hours_per_ha") * (e.hectares() or 0.0)


def _kill(e: Effort) -> FloatArray:
    """Kill of one working site of action, over the foliar groups, by the height of the tallest (5 to 10 cm)."""
    low, high = (
        np.mean([e.parameter("spray_kills", f"{group} {cm}") for group in _SPRAY_GROUPS], axis=0)
        for cm in ("5_cm", "10_cm")
    )
    part = np.clip((e.draws["tallest_cm"] - 5) / 5, 0, 1)
    return np.asarray(low + (np.minimum(high, low) - low) * part)


def _spray(e: Effort) -> tuple[FloatArray, FloatArray]:
    return _kill(e), e.parameter("spray_hours_per_ha") * (e.hectares() or 0.0)


def _spray_other(e: Effort) -> tuple[FloatArray, FloatArray]:
    works = e.parameter("other_site_works", "after survivors")
    share = works * _kill(e) + (1 - works) * e.parameter("spray_kills", "resisted")
    return np.asarray(share), e.parameter("spray_hours_per_ha") * (e.hectares() or 0.0)


_TACTIC = {
    "pull": _pull, "pull_bag": _pull_bag, "edges": _edges, "cut": _cut, "mow": _mow, "cultivate": _cultivate,
    "spray": _spray, "spray_other": _spray_other,
}  # fmt: skip

"""Every number that a projection needs, drawn for a block of replicates: what is known here, else what is published."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tepal.flora import ALL_TAXA, Flora, Parameter
from tepal.programme import Amount, Locus, Metabolic, Programme
from tepal.years._luck import Luck

FloatArray = npt.NDArray[np.float64]
# Heights for which the kill of a spray is published, cm.
_HEIGHTS = (5, 10, 15, 20, 30)
NARROW_ROW_CM = 50.0
_ROW_CROPS = frozenset({"corn", "soybean", "cotton", "sorghum", "peanut"})


@dataclass(frozen=True, slots=True, eq=False)
class Published:
    """What the tables say of one taxon: small enough to send to another machine with each block."""

    two_sexes: bool
    parameters: dict[tuple[str, str], Parameter]  # by name and condition

    @classmethod
    def of(cls, flora: Flora, code: str) -> Published:
        found: dict[tuple[str, str], Parameter] = {}
        for each in (ALL_TAXA, code):  # what is said of the taxon itself counts more
            found |= {(name, at): row for (name, of, at), row in flora.parameters.items() if of == each}
        return cls(flora.taxa[code].breeding == "dioecious", found)

    def row(self, name: str, *conditions: str) -> Parameter | None:
        """The first of these conditions that has a row."""
        return next((self.parameters[name, at] for at in conditions if (name, at) in self.parameters), None)


@dataclass(frozen=True)
class Values:
    """Values of one programme, each of shape = (n,), drawn when first asked for and then the same.

    Shares are 0 to 1, days and lengths as their names say, areas m2, seed and plants by number.
    """

    tables: Published
    programme: Programme
    luck: Luck
    # Keys of the sources behind all that was asked for so far, in the order of asking.
    stood_on: dict[str, None] = field(default_factory=dict, repr=False)
    _kept: dict[tuple[str, str], FloatArray] = field(default_factory=dict, repr=False)

    def published(self, name: str, condition: str = "") -> FloatArray:
        """A parameter of the taxon under a condition, else under none.

        Raises
        ------
        KeyError
            If there is none: a projection must not go on with a number that nobody gave.
        """
        if (name, condition) not in self._kept:
            drawn = self._drawn(self.row(name, condition, ""), self.luck.of(name, condition))
            drawn.setflags(write=False)  # handed out again
            self._kept[name, condition] = drawn
        return self._kept[name, condition]

    def row(self, name: str, *conditions: str) -> Parameter:
        found = self.row_if_any(name, *conditions)
        if found is None:
            raise KeyError(f"no parameter {name!r} for {self.programme.taxon!r}, condition {conditions}")
        return found

    def row_if_any(self, name: str, *conditions: str) -> Parameter | None:
        found = self.tables.row(name, *conditions)
        if found is not None:
            self.stood_on.update(dict.fromkeys(found.sources))
        return found

    def _drawn(self, row: Parameter, rng: np.random.Generator) -> FloatArray:
        return np.clip(row.value().draws(rng, self.luck.size), row.least, row.most)

    def here(self, name: str, known: Amount | None, condition: str = "") -> FloatArray:
        """What the programme says, else the published value. Both rise with the same luck."""
        if known is None:
            return self.published(name, condition)
        return known.draws(self.luck.of(name, condition), self.luck.size)

    # --- seed in the ground ------------------------------------------------------------------------------------------
    @cached_property
    def emerges(self) -> FloatArray:
        return self.here("seed_emerges", self.programme.local.emerges)

    def survives(self, year: int) -> FloatArray:
        """Share of the seed in the upper layer that lives through a year, not counting what comes up."""
        return self._survives(self.programme.local.seed_survives, "top", year)

    def survives_deep(self, year: int) -> FloatArray:
        return self._survives(self.programme.local.deep_survives, "deep", year)

    def _survives(self, known: Amount | None, layer: str, year: int) -> FloatArray:
        """What is told here holds for every year; of the published doubt a part is the place's, the rest the year's.

        Both parts add up to the published doubt of one year. Over several years those of the years even out.
        """
        of_place = self.here("seed_survives_year", known, layer)
        if known is not None:
            return of_place
        row, of_year = self.row("seed_survives_year", layer, ""), self.row("seed_survives_of_year", "").mean
        assert row.mean is not None  # the table gives a middle to each
        assert of_year is not None
        # Luck of the year is the same for both layers, and of another name: it is chance, not a value to be learnt.
        drawn = self._drawn(row, self.luck.of("survival of the year", year))
        middle = _logit(np.array(row.mean))
        away = np.sqrt(1 - of_year) * (_logit(of_place) - middle) + np.sqrt(of_year) * (_logit(drawn) - middle)
        return np.asarray(1 / (1 + np.exp(-middle - away)))

    @cached_property
    def eaten(self) -> FloatArray:
        return self.here("seed_eaten", self.programme.local.eaten)

    @cached_property
    def year_to_year(self) -> FloatArray:
        return self.here("year_to_year", self.programme.local.year_to_year)

    def usual_planting_day(self, crop: str) -> float:
        """Day of the year, the middle of the usual ones."""
        middle = self.row("usual_planting_day", crop).mean
        assert middle is not None  # the table gives one for each crop
        return middle

    def season_factor(self, process: str, year: int) -> FloatArray:
        """The year's factor on emergence or on seed set: log-normal, with a median of 1."""
        normal = self.luck.of(process, year).standard_normal(self.luck.size)
        return np.asarray(np.exp(self.year_to_year * normal))

    # --- plants ------------------------------------------------------------------------------------------------------
    def lives(self, late_days: FloatArray, crop: str, row_cm: float) -> FloatArray:
        """Share of seedlings that mature when nothing is done and few crowd them: (n, K) for lateness (n, K)."""
        known = self.programme.local.seedlings_live
        if known is not None:
            return np.broadcast_to(self.here("seedlings_live", known)[:, None], late_days.shape)
        canopy_of = {"fallow": "no_crop", "corn": "corn"}.get(crop, "crop")
        fall = self.published("seedlings_live_fall", canopy_of)
        # The logit falls evenly: few more die at first, and hardly any live in the end.
        logit = _logit(self.published("seedlings_live"))[:, None] - fall[:, None] * late_days
        lives = 1 / (1 + np.exp(-logit))
        if crop in _ROW_CROPS and row_cm < NARROW_ROW_CM:
            narrow = self._drawn(self.row("narrow_rows_live", ""), self.luck.of("seedlings_live", "narrow rows"))
            lives = lives * narrow[:, None]
        return np.asarray(lives)

    @cached_property
    def most_live(self) -> FloatArray | None:
        """Full-sized plants per m2 of which crowding kills half, (n,); None where it is told how many live."""
        if self.programme.local.seedlings_live is not None:
            return None
        # One luck with the seed of the crowded: "what matters most" tells of crowding as one.
        return self._drawn(self.row("crowding_kills_half", ""), self.luck.of("crowding_area", "kills"))

    def shortened(self, up_day: FloatArray) -> FloatArray:
        """Seed of plants that come up on a day (n,), against one that has all summer: falls from about July on."""
        if self.programme.local.seeds_per_plant is not None:
            return np.ones(self.luck.size)  # what a plant bears here is told, whenever the crop was planted
        late = up_day + self.published("late_days_to_ripe") - self.published("seed_lateness_start")
        return np.asarray(np.exp(-self.published("seed_lateness_decay") * np.maximum(late, 0.0)))

    def size(self, late_days: FloatArray, crop: str, row_cm: float) -> FloatArray:
        """Seed of a plant that comes up late, as a share of one that comes up with the crop: (n, K)."""
        halving = self.published("size_halving_days", canopy(crop, row_cm))
        return np.asarray(2.0 ** (-late_days / halving[:, None]))

    @cached_property
    def bears(self) -> FloatArray:
        if self.two_sexes:
            return self.here("female_share", self.programme.local.seed_bearing)
        known = self.programme.local.seed_bearing
        return np.ones(self.luck.size) if known is None else known.draws(self.luck.of("female_share"), self.luck.size)

    @property
    def two_sexes(self) -> bool:
        return self.tables.two_sexes

    def seeds_alone(self, crop: str) -> FloatArray:
        return self.here("seeds_alone", self.programme.local.seeds_per_plant, crop)

    def crowding(self, crop: str) -> FloatArray:
        """Ground per plant, m2, at which crowding halves its seed."""
        known = self.programme.local.crowding
        of_crop = crop if self.tables.row("crowding_area", crop) else "in_crop"
        return self.here("crowding_area", known, of_crop)

    @property
    def never_selfed(self) -> bool:
        """Where sexes are apart no plant can be its own father, unless the programme says how much seed has none."""
        return self.two_sexes and self.programme.local.outcrossing is None

    @cached_property
    def outcrossing(self) -> FloatArray:
        return self.here("outcrossing", self.programme.local.outcrossing)

    @cached_property
    def pollen_from_outside(self) -> FloatArray:
        return self.here("pollen_from_outside", self.programme.local.pollen_from_outside)

    # --- the crop ----------------------------------------------------------------------------------------------------
    def loss(self, competing_m2: FloatArray, lasting: FloatArray, crop: str) -> FloatArray:
        """Share of the yield lost to D plants per m2, I D / (1 + I D / A), each for its share of the time: both (n, P).

        A dense stand that is killed early so costs little, as in trials of removal, although a tenth of it would cost
        much if it stood.
        """
        if crop == "fallow":
            return np.zeros(self.luck.size)
        local = self.programme.local
        each = self.here("loss_per_plant", local.loss_per_plant, crop)[:, None]
        fitted = local.loss_most is None and self.tables.row("loss_most_fitted", crop) is not None
        most = self.here("loss_most_fitted" if fitted else "loss_most", local.loss_most, crop)[:, None]
        loss = np.divide(each * competing_m2 * most, most + each * competing_m2, out=np.zeros(competing_m2.shape),
                         where=most > 0)  # fmt: skip
        # A fitted end can lie above the whole crop.
        return np.asarray(np.einsum("np,np->n", np.minimum(loss, 1.0), lasting))

    # --- what kills --------------------------------------------------------------------------------------------------
    def kills_post(self, group: str, height_cm: FloatArray) -> FloatArray:
        """Share of susceptible plants of a height that a group kills when it is sprayed on them: shape of heights.

        Between published heights the logit is straight; beyond the ends it stays: over 5 to 76 cm sprays killed 66-73 %
        on the average (Kouame2024), which the published heights give so, and a fall that goes on does not.
        """
        logits = np.stack([_logit(self._kill_at(group, height)) for height in _HEIGHTS], axis=-1)
        # A taller plant is never easier to kill, though each height's doubt is drawn by the same luck anyway.
        logits = np.minimum.accumulate(logits, axis=-1)
        height = np.clip(height_cm, _HEIGHTS[0], _HEIGHTS[-1])
        right = np.clip(np.searchsorted(_HEIGHTS, height), 1, len(_HEIGHTS) - 1)
        low, high = np.take(_HEIGHTS, right - 1), np.take(_HEIGHTS, right)
        spread = logits.reshape(logits.shape[0], *(1,) * (height.ndim - 1), len(_HEIGHTS))
        spread = np.broadcast_to(spread, (*height.shape, len(_HEIGHTS)))
        below = np.take_along_axis(spread, (right - 1)[..., None], axis=-1)[..., 0]
        above = np.take_along_axis(spread, right[..., None], axis=-1)[..., 0]
        logit = below + (above - below) * (height - low) / (high - low)
        return np.asarray(1 / (1 + np.exp(-logit)))

    def _kill_at(self, group: str, height: int) -> FloatArray:
        # One luck for all heights: a season that suits a spray suits it at every height.
        row = self.row("post_kills", f"group_{group} {height}_cm", f"any {height}_cm")
        return self._drawn(row, self.luck.of("post_kills", group))

    def kills_residual(self, group: str) -> FloatArray:
        return self.published("residual_kills", f"group_{group}")

    # --- genes -------------------------------------------------------------------------------------------------------
    def gene(self, group: str) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Of one site of action: allele share at the start, dominance, cost, share of two-copy plants killed."""
        known, condition = self.programme.resistance.get(group, Locus()), f"group_{group}"
        share = self.published_share(group) if known.allele_share is None else known.allele_share.draws(
            self.luck.of("first_allele_share", condition), self.luck.size)  # fmt: skip
        return (
            share,
            self.here("resistance_dominance", known.dominance, condition),
            self.here("resistance_cost", known.cost, condition),
            self.here("resisted_kills", known.kill_left, condition),
        )

    def usual_first_share(self, group: str) -> float:
        """The middle of the published first shares; 0 where none is published."""
        row = self.row_if_any("first_allele_share", f"group_{group}")
        return 0.0 if row is None or row.mean is None else row.mean

    def published_share(self, group: str) -> FloatArray:
        """The first share of resistant alleles; 0 where no resistance of the taxon to the group is published."""
        row = self.row_if_any("first_allele_share", f"group_{group}")
        if row is None:
            return np.zeros(self.luck.size)
        return np.minimum(self._drawn(row, self.luck.of("first_allele_share", f"group_{group}")), 1.0)

    def metabolic(self, known: Metabolic) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Of the gene that weakens several groups: allele share, dominance, cost."""
        return (
            np.minimum(self.here("first_allele_share", known.allele_share, "metabolic"), 1.0),
            self.here("resistance_dominance", known.dominance, "metabolic"),
            self.here("resistance_cost", known.cost, "metabolic"),
        )


def canopy(crop: str, row_cm: float) -> str:
    """Which published canopy a crop is like."""
    if crop == "fallow":
        return "no_crop"
    if crop in ("oat", "alfalfa") or (crop != "corn" and row_cm < NARROW_ROW_CM):
        return "narrow_rows"
    return "corn" if crop == "corn" else "wide_rows"


def _logit(share: FloatArray) -> FloatArray:
    inside = np.clip(share, 1e-9, 1 - 1e-9)
    return np.asarray(np.log(inside / (1 - inside)))

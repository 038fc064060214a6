"""The names that a plant may get: taxa, documented crosses, and `other`; and how common each is before any look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from tepal.flora import REGIONS, Cross, Flora
from tepal.plant._settings import Settings
from tepal.tables import Refused, near

FloatArray = npt.NDArray[np.float64]
OTHER = "other"
# A weight above this is no weight; the comparison also refuses NaN and infinities.
_MOST = 1e300


@dataclass(frozen=True, slots=True, eq=False)
class Roster:
    """Names in the order of every array of this room: taxa of the flora, crosses, `other`.

    `parents` has one row a cross: indices of its two parents. `rates`: share of offspring, shape = (crosses, 2), the
    first where the first parent is the mother.
    """

    names: tuple[str, ...]
    taxa: int
    parents: npt.NDArray[np.intp]
    rates: FloatArray

    def index(self, name: str) -> int:
        return self.names.index(name)


@lru_cache(maxsize=32)
def roster(flora: Flora, settings: Settings) -> Roster:
    """The names of a flora. A cross is named by its parents' codes, sorted, joined by `x`."""
    codes = tuple(flora.taxa)
    at = {code: i for i, code in enumerate(codes)}
    pairs = [(a, b) for a, b in flora.crossing_pairs() if a in at and b in at]
    rates = np.zeros((len(pairs), 2))
    unknown = settings("cross_rate_unknown")
    for row, pair in enumerate(pairs):
        for side, (female, male) in enumerate((pair, pair[::-1])):
            rates[row, side] = _rate(flora, female, male, unknown)
    return Roster(
        (*codes, *(f"{a}x{b}" for a, b in pairs), OTHER),
        len(codes),
        np.array([(at[a], at[b]) for a, b in pairs], dtype=np.intp).reshape(-1, 2),
        rates,
    )


def _rate(flora: Flora, female: str, male: str, unknown: float) -> float:
    """Share of a mother's offspring that are this cross: the middle of the field range of this direction, else of the
    other, else the judged rate; nil for a direction in which no hybrid was ever found."""

    def rows(mother: str, father: str) -> list[Cross]:
        either = [cross for cross in flora.crosses if cross.either and (cross.male, cross.female) == (mother, father)]
        return [cross for cross in flora.crosses if (cross.female, cross.male) == (mother, father)] + either

    if not any(cross.found for cross in rows(female, male)):
        return 0.0
    for direction in ((female, male), (male, female)):
        # A greenhouse rate is of forced pollination and says nothing of a field.
        field = [
            ((cross.low or 0.0) + cross.high) / 2
            for cross in rows(*direction)
            if cross.high is not None and "greenhouse" not in cross.setting
        ]
        if field:
            return max(field)
    return unknown


def checked_region(region: object) -> str | None:
    """A region, or None; refused with the nearest otherwise."""
    if region is None or (isinstance(region, str) and region in REGIONS):
        return region
    meant = near(region, REGIONS)
    raise Refused(
        f"no region {str(region)[:40]!r}",
        where="region",
        rule=f"A region is one of {', '.join(REGIONS)}.",
        step=f"Did you mean {meant}?" if meant else "Choose one, or leave it out.",
    )


def prior_for(
    flora: Flora,
    settings: Settings,
    *,
    stage: str,
    region: str | None = None,
    prior: Mapping[str, float] | None = None,
) -> FloatArray:
    """How probable each name is before any look, shape = (names,), sums to 1.

    `prior` (code to weight) takes the place of the regional weights. It is read as weights among the group:
    look-alikes, crosses and `other` keep their shares unless they are listed. What is not listed keeps the small
    share of `region_mix`, because a list made from last year's finds is no proof of absence.

    Raises
    ------
    Refused
        For an unknown region or code, or weights that are negative, not finite or all zero.
    """
    names = roster(flora, settings)
    region = checked_region(region)
    mean = np.array([flora.weights(None).get(code, 0.0) for code in names.names[: names.taxa]])
    local = np.array([flora.weights(region).get(code, 0.0) for code in names.names[: names.taxa]])
    given: dict[str, float] = {} if prior is None else checked_prior(prior, names)
    listed = np.zeros(names.taxa)
    if prior is not None:
        listed = np.array([given.get(code, 0.0) for code in names.names[: names.taxa]])
        local = np.where([taxon.pigweed for taxon in flora.taxa.values()], listed, 0.0)
    total = local.sum()
    mix = settings("region_mix")
    pigweeds = (1 - mix) * local / total + mix * mean / max(mean.sum(), 1e-300) if total > 0 else mean
    alike = np.array([not taxon.pigweed for taxon in flora.taxa.values()])
    share = flora.look_alike_weight(stage) if alike.any() else 0.0
    look_alikes = alike / max(alike.sum(), 1)
    if any(given.get(code, 0.0) > 0 for code, is_alike in zip(flora.taxa, alike, strict=True) if is_alike):
        both = listed / listed.sum()
        share, look_alikes = float(both[alike].sum()), np.where(alike, listed, 0.0) / listed[alike].sum()
    taxa = (1 - share) * pigweeds + share * look_alikes
    crosses = _crosses(taxa, names, settings("pollen_nearby"), settings("cross_doubt"))
    scale = sum(given.values()) or 1.0
    for row, name in enumerate(names.names[names.taxa : -1]):
        if name in given:
            crosses[row] = given[name] / scale
    other = given[OTHER] / scale if OTHER in given else settings("other_weight")
    rest = max(1.0 - other - crosses.sum(), 0.0)
    result = np.concatenate([rest * taxa / taxa.sum(), crosses, [other]])
    return np.asarray(result / result.sum())


def _crosses(taxa: FloatArray, names: Roster, nearby: float, doubt: float) -> FloatArray:
    """Mother's share times her hybrid offspring where the other parent's pollen is about, both ways; and besides a
    small share of both parents' harmonic mean, because rates were measured in one field or two and differ ten-fold.
    Nil if a parent is absent or no hybrid was ever found."""
    if not len(names.parents):
        return np.zeros(0)
    a, b = taxa[names.parents[:, 0]], taxa[names.parents[:, 1]]
    by_rate = a * names.rates[:, 0] * b / (b + nearby) + b * names.rates[:, 1] * a / (a + nearby)
    found = (names.rates > 0).any(axis=1)
    return np.asarray(by_rate + found * doubt * 2 * a * b / np.maximum(a + b, 1e-300))


def checked_prior(prior: Mapping[str, float], names: Roster) -> dict[str, float]:
    """A prior of known names and finite weights from 0 upwards, one of them above 0; refused otherwise."""
    for code, weight in prior.items():
        if code not in names.names:
            meant = near(code, names.names)
            raise Refused(
                f"no taxon {code!r}",
                where="prior",
                rule="A prior names codes of the flora, its crosses, or other.",
                step=f"Did you mean {meant}?" if meant else "`tepal flora` lists the codes.",
            )
        if isinstance(weight, bool) or not isinstance(weight, (int, float)) or not 0 <= weight <= _MOST:
            raise Refused(
                f"weight {str(weight)[:40]} for {code}",
                where="prior",
                rule="A weight is a number from 0 upwards.",
                step="Correct the weight.",
            )
    if not sum(prior.values()) > 0:
        raise Refused("no weight above 0", where="prior", rule="A prior needs one.", step="Correct the weights.")
    return {code: float(weight) for code, weight in prior.items()}

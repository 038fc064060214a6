"""How sure that there are none, after a walk: one Bayes step over how many plants there may be and how they stand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln
from shapely.geometry.base import BaseGeometry

from tepal.tables import Refused
from tepal.walk._assumed import Assumed
from tepal.walk._passes import length_of
from tepal.walk._raster import Raster
from tepal.walk._seen import Walked, seen_by

FloatArray = npt.NDArray[np.float64]

# Below this mean chance of seeing a plant, the walk has seen nothing of the site.
_NOTHING = 1e-9
# Chances of seeing a plant of a cluster are gathered in this many bins before numbers of plants are summed over.
_BINS = 2000


@dataclass(frozen=True, slots=True)
class RiskZone:
    """An area (shapely, metres) with `weight` times as many plants per area as outside all zones."""

    area: BaseGeometry
    weight: float


@dataclass(frozen=True, slots=True, eq=False)
class Absence:
    """What a walk leaves open.

    p_present: probability that at least one plant stands on the site. density_upper95_per_ha: the 95 % point of
    plants per hectare (absent counts as 0); None when nothing was seen of the site. seen_share: mean chance of seeing
    a plant, over the site weighted by risk. walked_m: length walked. found: plants seen. hectares: of the site.
    numbers, chances: how many plants are present (0 first), and the probability of each, shape = (m,), read-only.
    """

    p_present: float
    density_upper95_per_ha: float | None
    seen_share: float
    assumed: Assumed
    walked_m: float
    found: int
    hectares: float
    numbers: FloatArray
    chances: FloatArray

    def draws(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Numbers of plants present on the site, shape = (n,); 0 where there are none."""
        return rng.choice(self.numbers, size=n, p=self.chances)


def absence(
    boundary: BaseGeometry,
    tracks: Sequence[npt.ArrayLike],
    *,
    sigma_m: float,
    found: int = 0,
    prior_present: float = 0.5,
    prior: Sequence[RiskZone] | None = None,
    assumed: Assumed | None = None,
) -> Absence:
    """P(present | what was seen on a walk), with N plants log-uniform, in one cluster or scattered.

    With q(s) = exp(-d(s)²/2S²) the chance that a plant at s is seen, a scattered stand of N shows a binomial number of
    them with the mean of q over the site; a cluster the same with the mean of q about its centre, then averaged over
    centres. Clusters and scattered plants fall in proportion to `prior`'s weights. All plants stand on the site.

    Parameters
    ----------
    boundary : polygon or multipolygon, metres
    tracks : arrays of shape = (n_i, 2), metres; the gap between two of them is not walked
    sigma_m : width of sight S, metres, > 0
    found : plants seen on the walk; taken as rightly named, so one is enough for presence
    prior : zones with a weight relative to 1 outside; the greatest where they overlap
    assumed : the other assumptions; `prior_present` replaces its own

    Raises
    ------
    Refused
        If sigma, found, prior_present or a weight makes no sense, the site is empty, or plants were found by a walk
        that saw nothing of the site.
    """
    return absence_of_walks(
        boundary,
        [Walked(tracks, sigma_m)],
        found=found,
        prior_present=prior_present,
        prior=prior,
        assumed=assumed,
    )


def absence_of_walks(
    boundary: BaseGeometry,
    walks: Sequence[Walked],
    *,
    found: int = 0,
    prior_present: float = 0.5,
    prior: Sequence[RiskZone] | None = None,
    assumed: Assumed | None = None,
) -> Absence:
    """As `absence`, after several walks: of other people, days, stages and widths of sight.

    Each walk is a look of its own at the same ground: a plant is missed by all with Π (1 - up · known · q).

    Raises
    ------
    Refused
        As `absence`; and if a share is not between 0 and 1.
    """
    walked: list[tuple[Walked, list[FloatArray]]] = []
    for walk in walks:
        _check(walk, found, prior_present, prior or ())
        tracks_m = [np.asarray(track, dtype=np.float64).reshape(-1, 2) for track in walk.tracks]
        if not all(np.all(np.isfinite(track)) for track in tracks_m):
            raise Refused("a track point that is no number", where="track", rule="Points are metres.", step="Clean it.")
        walked.append((walk, tracks_m))
    taken = replace(assumed or Assumed(), prior_present=prior_present)
    # Two hundred is the top of the assumption; a walk that found more has shown it wrong, so the top moves.
    if found > taken.most_plants // 2:
        taken = replace(taken, most_plants=max(taken.most_plants, 10 * found))

    grids = Raster.each(boundary, min((walk.sigma_m for walk in walks), default=5.0))
    pairs = [(zone.area, zone.weight) for zone in prior or ()]
    weights = [grid.weights(pairs) for grid in grids]
    mass = sum(float(weight.sum()) for weight in weights)
    if not mass > 0:
        raise Refused(
            "no part of the site can have plants",
            where="prior",
            rule="Some part of the site needs a weight above 0.",
            step="Correct the weights or the boundary.",
        )
    numbers, chances = taken.plants()
    likelihood = np.zeros(numbers.size)
    share = 0.0
    for shift, part in _nodes(walks):
        off = [(replace(walk, sigma_m=walk.sigma_m * walk.times**shift), tracks) for walk, tracks in walked]
        seen = [seen_by(grid, off) for grid in grids]
        here = sum(float((w * q).sum()) for w, q in zip(weights, seen, strict=True)) / mass
        share += part * here
        scattered = _chance_of(found, numbers, np.array([here]), np.array([1.0]))
        at_centre = [grid.cluster_mean(q, taken.cluster_sd_m) for grid, q in zip(grids, seen, strict=True)]
        q, share_of_q = _binned(
            np.concatenate([q[w > 0] for q, w in zip(at_centre, weights, strict=True)]),
            np.concatenate([w[w > 0] for w in weights]),
        )
        clustered = _chance_of(found, numbers, q, share_of_q)
        likelihood += part * (taken.clustered * clustered + (1 - taken.clustered) * scattered)
    if found and share < _NOTHING:
        raise Refused(
            f"{found} found, but the track saw nothing of the site",
            where="track",
            rule="Plants found on a site are seen from a track on or beside it.",
            step="Check that the track belongs to this site.",
        )

    present = taken.prior_present * chances * likelihood
    absent = (1 - taken.prior_present) * (1.0 if found == 0 else 0.0)
    total = absent + float(present.sum())
    if not total > 0:
        raise Refused(
            f"{found} found where none were held possible",
            where="prior",
            rule="A find needs a prior probability above 0.",
            step="Give --prior-present above 0.",
        )
    after = np.concatenate([[absent], present]) / total
    after /= after.sum()
    counts = np.concatenate([[0.0], numbers])
    hectares = float(boundary.area) / 1e4
    upper = float(counts[np.searchsorted(np.cumsum(after), 0.95 - 1e-12)])
    for array in (counts, after):
        array.setflags(write=False)
    return Absence(
        p_present=float(1 - after[0]),
        density_upper95_per_ha=None if share < _NOTHING else upper / hectares,
        seen_share=share,
        assumed=taken,
        walked_m=float(sum(length_of(track) for _, tracks in walked for track in tracks)),
        found=found,
        hectares=hectares,
        numbers=counts,
        chances=after,
    )


def _nodes(walks: Sequence[Walked]) -> list[tuple[float, float]]:
    """Where the width of sight may lie, in standard deviations of its log, and how likely: one node where it is known.

    All walks are off together: what makes one reader see less far makes the other, too.
    """
    if all(walk.times == 1.0 for walk in walks):
        return [(0.0, 1.0)]
    at, weight = np.polynomial.hermite_e.hermegauss(5)
    return list(zip(at.tolist(), (weight / weight.sum()).tolist(), strict=True))


def _chance_of(found: int, numbers: FloatArray, q: FloatArray, share_of_q: FloatArray) -> FloatArray:
    """P(found | N) for each N, over chances q of seeing one plant that come with shares: shape = numbers'."""
    q = np.clip(q, 0.0, 1.0 - 1e-15)[:, None]
    possible = numbers >= found
    rest = np.where(possible, numbers - found, 0.0)
    with np.errstate(divide="ignore"):
        log_q = np.where(q > 0, np.log(np.where(q > 0, q, 1.0)), -np.inf if found else 0.0)
    log_choose = gammaln(numbers + 1) - gammaln(found + 1) - gammaln(rest + 1)
    log_chance = log_choose[None, :] + found * log_q + rest[None, :] * np.log1p(-q)
    return np.where(possible, share_of_q @ np.exp(log_chance), 0.0)


def _binned(q: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    # A hundred thousand centres times two hundred numbers would take seconds; bins of 1/2000 change no digit shown.
    index = np.minimum((q * _BINS).astype(np.int64), _BINS - 1)
    mass = np.bincount(index, weight, _BINS)
    mean = np.bincount(index, weight * q, _BINS)
    full = mass > 0
    return mean[full] / mass[full], mass[full] / mass.sum()


def _check(walk: Walked, found: int, prior_present: float, prior: Sequence[RiskZone]) -> None:
    sigma_m = walk.sigma_m
    for name, value in (("up", walk.up), ("known", walk.known)):
        if not 0 <= value <= 1:
            raise Refused(
                f"{name} {value:g}", where=name, rule="A share lies between 0 and 1.", step="Write 0.9 for nine in ten."
            )
    if not (math.isfinite(sigma_m) and sigma_m > 0):
        raise Refused(
            f"sigma {sigma_m:g}", where="sigma", rule="The width of sight is above 0 metres.", step="Give it in metres."
        )
    if not (math.isfinite(walk.times) and walk.times >= 1):
        raise Refused(
            f"times {walk.times:g}", where="times", rule="A factor of doubt is 1 or more.", step="Write 1 for none."
        )
    if found < 0 or found != int(found):
        raise Refused(f"found {found}", where="found", rule="A count is 0, 1, 2 …", step="Give the number of plants.")
    if not 0 <= prior_present <= 1:
        raise Refused(
            f"prior {prior_present:g}",
            where="prior-present",
            rule="A probability lies between 0 and 1.",
            step="Write 0.1 for one chance in ten.",
        )
    for zone in prior:
        if not (math.isfinite(zone.weight) and zone.weight >= 0):
            raise Refused(
                f"weight {zone.weight:g}",
                where="prior",
                rule="A weight is 0 or more: plants per area relative to 1 outside.",
                step="Correct it.",
            )

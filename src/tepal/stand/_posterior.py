"""The whole posterior: nodes of (mu, kappa), times field shapes, each with its fit and its weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.stand._counts import Counts
from tepal.stand._field import Fit, fit, knots_of
from tepal.stand._kernel import Shape, columns_of, shapes_for
from tepal.stand._margin import Margin, normal_bounds, size_of

FloatArray = npt.NDArray[np.float64]

# Nodes of kappa and of mu given kappa by the number of knots: many counts settle both.
_NODES = ((100, 3, 5), (10**9, 3, 3))
# Shapes that the counts make unlikely are left out: after a first look at the middle nodes where knots are many.
_FIRST_LOOK = 80
_UNLIKELY = 0.003


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One shape of the field: its fit at each node (rows in the order kappa, mu), None where there is no field.

    log_gain (j, i): log chance of the counts beyond the plain count model. weight: of the shape, all add to 1.
    """

    shape: Shape
    fit: Fit | None
    log_gain: FloatArray
    weight: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Knots (b, 2 + covariates); nodes kappa (j,), mu (j, i), weights (j, i) adding to 1; members, heaviest first."""

    knots: FloatArray
    kappa: FloatArray
    mu: FloatArray
    node_weight: FloatArray
    members: tuple[Member, ...]
    margin: Margin
    extent_m: float

    def field_share(self) -> float:
        """Probability that the counts of one neighbourhood hang together."""
        return float(sum(member.weight for member in self.members if member.fit is not None))

    def weight_of(self, column: int) -> float:
        """Probability that the counts go with the covariate in `column` of the places."""
        return float(sum(member.weight for member in self.members if column in columns_of(member.shape.kernel)))

    def weights(self, member: Member) -> FloatArray:
        """Weights of the nodes (j, i) for one shape, adding to the shape's own."""
        weight = self.node_weight * np.exp(member.log_gain - member.log_gain.max())
        return np.asarray(member.weight * weight / weight.sum())


def posterior_of(counts: Counts, places: FloatArray, extent_m: float) -> Posterior:
    """Average over (mu, kappa) and over shapes of the field by how well all together explain the counts.

    `places` (n, 2 + covariates): where the counts were made, metres, and each covariate in standard deviations.
    """
    knots, knot = knots_of(places)
    margin = Margin.of(counts)
    n_kappa, n_mu = next((k, m) for b, k, m in _NODES if len(knots) <= b)
    kappa, mu, node_weight = margin.nodes(n_kappa, n_mu)

    # Equal counts on equal plots at one knot are one term.
    rows, times = np.unique(np.column_stack([knot, counts.area_m2, counts.count]), axis=0, return_counts=True)
    knot, area, count = rows[:, 0].astype(np.int64), rows[:, 1], rows[:, 2]
    size = size_of(np.repeat(kappa, n_mu)[:, None], area, margin.reference_m2)
    low, high = normal_bounds(count, mu.reshape(-1, 1) * area, size)

    shapes = shapes_for(extent_m, places.shape[1] - 2) if extent_m > 0 and len(counts) > 1 else shapes_for(1.0)[:1]
    # The plain chance of the counts is in the nodes' weights already; the field adds only what it explains beyond that.
    plain = fit(low, high, knot, np.eye(len(knots)), 0.0, times=times, rounds=1).log_evidence
    correlations = {shape.kernel: shape.kernel(knots, knots) for shape in shapes if shape.kernel}
    if len(shapes) > 1 and len(knots) > _FIRST_LOOK:
        middle = np.array([n_mu * (n_kappa // 2) + n_mu // 2])
        first = np.array([shape.log_prior for shape in shapes])
        for k, shape in enumerate(shapes):
            if shape.kernel:
                tried = fit(
                    low[middle], high[middle], knot, correlations[shape.kernel], shape.share, times=times, rounds=5
                )
                first[k] += float(tried.log_evidence[0] - plain[middle[0]])
        shapes = tuple(s for s, f in zip(shapes, first, strict=True) if f > first.max() + np.log(0.3 * _UNLIKELY))

    found = []
    for shape in shapes:
        fitted = fit(low, high, knot, correlations[shape.kernel], shape.share, times=times) if shape.kernel else None
        gain = (fitted.log_evidence - plain if fitted else np.zeros(mu.size)).reshape(mu.shape)
        found.append((shape, fitted, gain, _log_mean(gain, node_weight) + shape.log_prior))
    log_weight = np.array([f[3] for f in found])
    weight = np.exp(log_weight - log_weight.max())
    weight = np.where(weight < _UNLIKELY * weight.max(), 0.0, weight)
    weight /= weight.sum()
    members = [Member(s, f, g, float(w)) for (s, f, g, _), w in zip(found, weight, strict=True) if w > 0]
    members.sort(key=lambda member: -member.weight)
    return Posterior(knots, kappa, mu, node_weight, tuple(members), margin, extent_m)


def mean_draws(posterior: Posterior, rng: np.random.Generator, n: int) -> FloatArray:
    """Draws of mu, plants/m2, shape = (n,): the mean of ground like that counted, by the plain count model."""
    mu, _ = posterior.margin.draw(rng, n)
    # They come in order of size; those who take the first few must not get the smallest.
    rng.shuffle(mu)
    return mu


def _log_mean(log_values: FloatArray, weight: FloatArray) -> float:
    top = float(log_values.max())
    return top + float(np.log(max((weight * np.exp(log_values - top)).sum() / weight.sum(), 1e-300)))

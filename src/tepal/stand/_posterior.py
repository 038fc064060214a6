"""The whole posterior as a weighted list: pairs (mu, kappa) times field shapes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.stand._counts import Counts
from tepal.stand._field import Fit, Shape, fit, knots_of, shapes_for
from tepal.stand._margin import Margin, normal_bounds, size_of

FloatArray = npt.NDArray[np.float64]

# Pairs (mu, kappa): many when it is quick, few when the knots are many and the counts settle both anyway.
_MOST_PAIRS, _FEWEST_PAIRS = 64, 8
_WORK = 1.2e7
# Shapes that the counts make unlikely are left out after a first look with few pairs.
_FIRST_LOOK = 4
_UNLIKELY = 0.01
_TEMPER = 0.5
_KERNEL = 0.4


@dataclass(frozen=True, slots=True)
class Component:
    """One member of the list: mu in plants/m2, kappa, shape of the field, its fit (None: no field), weight."""

    mu: float
    kappa: float
    shape: Shape
    knots: Fit | None
    row: int
    weight: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Knots (b, 2) and components, weights adding to 1, heaviest first."""

    knots: FloatArray
    components: tuple[Component, ...]
    margin: Margin

    def heaviest(self, share: float, most: int) -> tuple[Component, ...]:
        """The fewest components with `share` of the weight, at most `most`; weights adding to 1 again."""
        total = np.cumsum([c.weight for c in self.components])
        kept = self.components[: min(most, int(np.searchsorted(total, share * total[-1])) + 1)]
        weight = sum(c.weight for c in kept)
        return tuple(Component(c.mu, c.kappa, c.shape, c.knots, c.row, c.weight / weight) for c in kept)

    def field_share(self) -> float:
        """Probability that the counts of one neighbourhood hang together."""
        return float(sum(c.weight for c in self.components if c.knots is not None))


def posterior_of(counts: Counts, extent_m: float, rng: np.random.Generator) -> Posterior:
    """Average over (mu, kappa) and field shapes by how well each explains the counts."""
    margin = Margin.of(counts)
    knots, knot = knots_of(np.column_stack([counts.x_m, counts.y_m]))
    b = len(knots)
    pairs = int(np.clip(_WORK / b**3, _FEWEST_PAIRS, _MOST_PAIRS))
    mu, kappa, log_weight = margin.draw(rng, pairs, temper=_TEMPER)
    size = size_of(kappa[:, None], counts.area_m2, margin.reference_m2)
    low, high = normal_bounds(counts.count, mu[:, None] * counts.area_m2, size)

    shapes = shapes_for(extent_m) if extent_m > 0 and len(counts) > 1 else shapes_for(1.0)[:1]
    correlations = {shape.reach_m: shape.correlation(knots, knots) for shape in shapes}
    if len(shapes) > 1 and b > _FIRST_LOOK:
        # A few pairs from the likelier half, the likeliest among them.
        heavy = np.argsort(-log_weight)[: pairs // 2 : max(1, pairs // (2 * _FIRST_LOOK))]
        first = np.array(
            [
                _log_mean(fit(low[heavy], high[heavy], knot, correlations[s.reach_m], s.share, rounds=5).log_evidence
                          + log_weight[heavy]) + s.log_prior
                for s in shapes
            ]
        )  # fmt: skip
        shapes = tuple(s for s, f in zip(shapes, first, strict=True) if f > first.max() + np.log(_UNLIKELY))

    # The plain chance of the counts is in log_weight already; the field adds only what it explains beyond that.
    plain = fit(low, high, knot, np.eye(b), 0.0, rounds=1).log_evidence
    found: list[tuple[float, Shape, Fit | None, int]] = []
    for shape in shapes:
        fitted = fit(low, high, knot, correlations[shape.reach_m], shape.share) if shape.share > 0 else None
        gain = fitted.log_evidence - plain if fitted else np.zeros(pairs)
        found += [(float(g + w + shape.log_prior), shape, fitted, i) for i, (g, w) in
                  enumerate(zip(gain, log_weight, strict=True))]  # fmt: skip
    log_all = np.array([f[0] for f in found])
    weight = np.exp(log_all - log_all.max())
    weight /= weight.sum()
    components = [
        Component(float(mu[i]), float(kappa[i]), shape, fitted, i, float(w))
        for w, (_, shape, fitted, i) in zip(weight, found, strict=True)
        if w > 1e-6
    ]
    components.sort(key=lambda c: -c.weight)
    return Posterior(knots, tuple(components), margin)


def mean_draws(posterior: Posterior, rng: np.random.Generator, n: int) -> FloatArray:
    """Draws of mu, plants/m2, shape = (n,)."""
    # Where no field is at work the grid is exact; the rest is the weighted list, smoothed by a kernel that keeps its
    # spread (few pairs would leave a comb).
    mu, _, _ = posterior.margin.draw(rng, n)
    rng.shuffle(mu)
    with_field = [c for c in posterior.components if c.knots is not None]
    if not with_field:
        return mu
    weight = np.array([c.weight for c in with_field])
    weight /= weight.sum()
    log_mu = np.log([c.mu for c in with_field])
    centre = float(weight @ log_mu)
    spread = float(np.sqrt(weight @ (log_mu - centre) ** 2))
    shrink = np.sqrt(1 - _KERNEL**2)
    drawn = centre + shrink * (rng.choice(log_mu, size=n, p=weight) - centre)
    smooth = np.exp(drawn + _KERNEL * spread * rng.standard_normal(n))
    return np.where(rng.random(n) < posterior.field_share(), smooth, mu)


def by_fit(components: tuple[Component, ...]) -> Iterator[tuple[Shape, list[int]]]:
    """Indices of components that share a field shape, so that correlations are worked out once a shape."""
    groups: dict[Shape, list[int]] = {}
    for index, component in enumerate(components):
        groups.setdefault(component.shape, []).append(index)
    yield from groups.items()


def _log_mean(log_values: FloatArray) -> float:
    top = float(log_values.max())
    return top + float(np.log(np.mean(np.exp(log_values - top))))

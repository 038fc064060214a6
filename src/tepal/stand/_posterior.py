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
# Half of the pairs are spread wider than the posterior, so that its tails are not left to one or two of them.
_POWERS = (1.0, 0.4)


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
    """Average over (mu, kappa) by the plain count model, and over field shapes by how well each explains the counts."""
    margin = Margin.of(counts)
    knots, knot = knots_of(np.column_stack([counts.x_m, counts.y_m]))
    b = len(knots)
    pairs = int(np.clip(_WORK / b**3, _FEWEST_PAIRS, _MOST_PAIRS))
    mu, kappa, log_weight = margin.draw(rng, pairs, powers=_POWERS)
    size = size_of(kappa[:, None], counts.area_m2, margin.reference_m2)
    low, high = normal_bounds(counts.count, mu[:, None] * counts.area_m2, size)

    shapes = shapes_for(extent_m) if extent_m > 0 and len(counts) > 1 else shapes_for(1.0)[:1]
    correlations = {shape.reach_m: shape.correlation(knots, knots) for shape in shapes}
    # The plain chance of the counts is in log_weight already; the field adds only what it explains beyond that.
    plain = fit(low, high, knot, np.eye(b), 0.0, rounds=1).log_evidence
    if len(shapes) > 1 and b > _FIRST_LOOK:
        # A few pairs from the likelier half, the likeliest among them.
        heavy = np.argsort(-log_weight)[: pairs // 2 : max(1, pairs // (2 * _FIRST_LOOK))]
        first = np.array([s.log_prior for s in shapes])
        for k, s in enumerate(shapes):
            if s.share > 0:
                tried = fit(low[heavy], high[heavy], knot, correlations[s.reach_m], s.share, rounds=5)
                first[k] += _log_mean(tried.log_evidence - plain[heavy], log_weight[heavy])
        shapes = tuple(s for s, f in zip(shapes, first, strict=True) if f > first.max() + np.log(_UNLIKELY))

    found: list[tuple[float, Shape, Fit | None, int]] = []
    for shape in shapes:
        fitted = fit(low, high, knot, correlations[shape.reach_m], shape.share) if shape.share > 0 else None
        gain = fitted.log_evidence - plain if fitted else np.zeros(pairs)
        # The field is judged as a whole, and each pair keeps the weight that the plain model gives it. Letting the
        # field choose among pairs as well was tried: few counts cannot tell a high mean from a field that happens to be
        # low where they were made, and totals came out about a tenth too high and a third wider.
        gain = np.full(pairs, _log_mean(gain, log_weight))
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
    """Draws of mu, plants/m2, shape = (n,): the mean of ground like that counted, by the plain count model."""
    mu, _, _ = posterior.margin.draw(rng, n)
    # They come in order of size; those who take the first few must not get the smallest.
    rng.shuffle(mu)
    return mu


def by_fit(components: tuple[Component, ...]) -> Iterator[tuple[Shape, list[int]]]:
    """Indices of components that share a field shape, so that correlations are worked out once a shape."""
    groups: dict[Shape, list[int]] = {}
    for index, component in enumerate(components):
        groups.setdefault(component.shape, []).append(index)
    yield from groups.items()


def _log_mean(log_values: FloatArray, log_weight: FloatArray) -> float:
    top = float(log_values.max())
    weight = np.exp(log_weight - log_weight.max())
    return top + float(np.log(max(weight @ np.exp(log_values - top) / weight.sum(), 1e-300)))

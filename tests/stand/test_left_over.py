"""Ground that nobody looked at: which it is, and how much what stands on it varies, where plots are large."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from tepal.stand import Counts, estimate
from tepal.stand._total import Cells

SIDE = 30.0
SITE = box(0, 0, 8 * SIDE, 8 * SIDE)


def middles(side, n):
    at = (np.arange(n) + 0.5) * side
    return (a.ravel() for a in np.meshgrid(at, at))


def cells_left(x, y, area_m2):
    counts = Counts(x, y, np.full(len(x), area_m2), np.zeros(len(x)))
    return Cells.of(SITE, counts, np.ones(len(x), dtype=bool))


def test_a_plot_larger_than_its_cell_covers_the_cells_around_it_and_no_other():
    cells = cells_left(np.array([100.0]), np.array([100.0]), 900.0)
    away = np.hypot(cells.centres[:, 0] - 100, cells.centres[:, 1] - 100)
    covered = cells.area_m2 - cells.unseen_m2
    assert covered.sum() == pytest.approx(900.0)
    # A disc of 900 m² has a radius of 17 m; cells are 13 m wide.
    assert away[covered > 0].max() < 17 + 13
    assert (covered[away < 17 - 10] > 0).all()


def test_plots_that_lie_side_by_side_leave_the_rest_of_the_site():
    x, y = middles(SIDE, 8)
    half = x < 4 * SIDE
    cells = cells_left(x[half], y[half], SIDE**2)
    assert cells.unseen_m2.sum() == pytest.approx(SITE.area / 2)
    of_rest = cells.centres[:, 0] > 4 * SIDE
    assert cells.unseen_m2[of_rest].sum() > 0.93 * SITE.area / 2


@given(st.lists(st.tuples(st.floats(0, 240), st.floats(0, 240), st.floats(0.01, 9000)), min_size=1, max_size=40))
def test_no_ground_is_looked_at_twice_or_less_than_not_at_all(plots):
    x, y, area = np.array(plots, dtype=float).reshape(-1, 3).T
    cells = Cells.of(SITE, Counts(x, y, area, np.zeros(len(x))), np.ones(len(x), dtype=bool))
    assert (cells.unseen_m2 >= 0).all()
    assert (cells.unseen_m2 <= cells.area_m2 + 1e-6).all()
    assert cells.unseen_m2.sum() == pytest.approx(max(SITE.area - area.sum(), 0.0), abs=1e-6 * SITE.area)


def test_the_total_of_large_plots_varies_as_plots_do():
    # Plots that have nothing to do with each other: 40 of 64 counted, the sum of the other 24 is foretold with the
    # variance of 24 plots, and 24² that of the mean of 40. That is the closed form for known variance.
    x, y = middles(SIDE, 8)
    mean, size = 15.0, 1.5
    variance = mean + mean**2 / size
    foretold = np.sqrt(24 * variance + 24**2 * variance / 40)
    widths = []
    for seed in range(10):
        rng = np.random.default_rng(seed)
        count = rng.negative_binomial(size, size / (size + mean), 64)
        known = rng.permutation(64)[:40]
        found = estimate(
            Counts(x[known], y[known], np.full(40, SIDE**2), count[known]),
            boundary=SITE,
            rng=np.random.default_rng(1),
        )
        low, high = np.quantile(found.total.values, (0.05, 0.95))
        widths.append((high - low) / 2 / 1.645)
    assert np.mean(widths) == pytest.approx(foretold, rel=0.2)

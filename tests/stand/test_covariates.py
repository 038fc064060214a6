"""What goes along with density: simulated truth that does, and truth that does not."""

import numpy as np
import pytest
from shapely.geometry import LineString, box

from tepal.stand import Counts, Points, distance_to, estimate, nearest_known
from tepal.stand._covariates import Covariates, ratio_of
from tepal.stand._kernel import Along, Kernel, Mean, columns_of, shapes_for
from tepal.tables import Refused

FIELD = box(0, 0, 400, 400)
EDGE = distance_to(FIELD.boundary)


def counted(seed, n, truth):
    """Counts of 4 m² at random places of a field with this density (plants/m²)."""
    rng = np.random.default_rng(seed)
    places = rng.uniform(2, 398, (n, 2))
    return Counts(*places.T, np.full(n, 4.0), rng.poisson(4 * truth(places) * rng.gamma(2, 0.5, n)))


def at_edge(places):
    """Ten times as dense on the outermost 25 m."""
    return np.where(np.minimum(places, 400 - places).min(axis=1) < 25, 3.0, 0.3)


def run(counts, *, covariates=None, **more):
    return estimate(counts, boundary=FIELD, covariates=covariates, rng=np.random.default_rng(5), **more)


def test_a_dense_edge_is_found_and_told():
    inner_then_outer = Points([200, 150, 5, 395], [200, 190, 200, 330], [4, 4, 4, 4])
    found = {False: np.zeros(2), True: np.zeros(2)}
    for seed in (1, 2, 3):
        counts = counted(seed, 50, at_edge)
        for given in found:
            result = run(counts, covariates={"edge": EDGE} if given else None, at=inner_then_outer)
            found[given] += result.at.mean.reshape(2, 2).mean(axis=1) / 3
        (edge,) = result.covariates
        assert edge.name == "edge" and edge.weight > 0.9
        # The truth, as the cells cut it, is about 0.13.
        low, middle, high = np.quantile(edge.ratio, (0.05, 0.5, 0.95))
        assert low < 0.2 and middle < 0.5 and high < 1
    # The truth of 4 m² is 1.2 inside and 12 at the edge: within a factor of two, from some eleven counts at the edge.
    assert np.all(np.abs(np.log(found[True] / [1.2, 12])) < np.log(2))
    assert found[False][1] / found[False][0] < 0.7 * found[True][1] / found[True][0]


def test_with_the_edge_new_counts_are_told_better():
    places = np.random.default_rng(3).uniform(2, 398, (400, 2))
    loss = {True: 0.0, False: 0.0}
    for seed in (11, 12, 13):
        counts = counted(seed, 40, at_edge)
        for given in loss:
            at = run(counts, covariates={"edge": EDGE} if given else None, at=Points(*places.T, np.full(400, 4.0))).at
            y = np.random.default_rng(7).poisson(4 * at_edge(places))
            p = np.array([0.025, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.975])
            gap = y[:, None] - at.quantiles
            loss[given] += float(np.maximum(p * gap, (p - 1) * gap).mean())
    assert loss[True] < 0.95 * loss[False]


def test_what_has_nothing_to_do_with_it_changes_little():
    """Totals of even fields, with a covariate drawn by lot: as good as without."""
    scores = {True: [], False: []}
    for seed in range(4):
        counts = counted(seed, 25, lambda places: np.full(len(places), 0.5))
        soil = nearest_known(
            np.random.default_rng(seed).uniform(0, 400, (80, 2)), np.random.default_rng(seed).random(80)
        )
        for given, held in scores.items():
            total = run(counts, covariates={"soil": soil} if given else None).total.values
            low, high = np.quantile(total, (0.05, 0.95))
            held.append(high - low + 20 * max(low - 80_000, 0) + 20 * max(80_000 - high, 0))
    assert np.mean(scores[True]) < 1.1 * np.mean(scores[False])


def test_nothing_given_is_as_before_and_nothing_told():
    counts = counted(1, 20, at_edge)
    plain, empty = run(counts), run(counts, covariates={})
    assert np.array_equal(plain.total.values, empty.total.values)
    assert empty.covariates == ()


def test_what_is_the_same_everywhere_is_said_to_say_nothing():
    told = run(counted(1, 20, at_edge), covariates={"soil": lambda places: np.ones(len(places))})
    assert told.covariates == ()
    assert any("soil" in sentence for sentence in told.warnings)


def test_too_many_and_no_number_are_refused():
    counts = counted(1, 5, at_edge)
    with pytest.raises(Refused, match="At most"):
        run(counts, covariates={f"c{k}": EDGE for k in range(5)})
    with pytest.raises(Refused, match="no number"):
        run(counts, covariates={"c": lambda places: np.full(len(places), np.nan)})


def test_a_turned_field_has_the_same_edge():
    counts = counted(2, 40, at_edge)
    angle = np.radians(25.0)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    from shapely import transform

    site = transform(box(0, 0, 400, 400), lambda p: p @ turn.T)
    places = np.column_stack([counts.x_m, counts.y_m]) @ turn.T
    aslant = estimate(
        Counts(*places.T, counts.area_m2, counts.count), boundary=site,
        covariates={"edge": distance_to(site.boundary)}, rng=np.random.default_rng(5),
    )  # fmt: skip
    straight = run(counts, covariates={"edge": EDGE})
    assert aslant.covariates[0].weight == pytest.approx(straight.covariates[0].weight, abs=0.1)
    assert np.median(aslant.total.values) == pytest.approx(np.median(straight.total.values), rel=0.1)


def test_distances_and_nearest_values():
    line = distance_to(LineString([(0, 0), (0, 100)]))
    assert line(np.array([[10.0, 50.0], [0.0, 90.0]])) == pytest.approx([np.log(2), 0.0])
    near = nearest_known([[0, 0], [10, 0]], [3.0, 5.0])
    assert near(np.array([[1.0, 0.0], [9.0, 1.0]])).tolist() == [3.0, 5.0]


def test_covariates_stand_in_standard_deviations_and_one_slip_is_drawn_in():
    places = np.random.default_rng(1).uniform(0, 10, (500, 2))
    known, silent = Covariates.of({"x": lambda p: p[:, 0]}, places)
    beside = known.beside(places, places)[:, 2]
    assert silent == ()
    assert (beside.mean(), beside.std()) == pytest.approx((0, 1))
    assert known.beside(places, np.array([[1e9, 0.0]]).repeat(500, axis=0))[0, 2] == 4.0


def test_the_ratio_is_that_of_the_outer_quarters():
    density = np.array([[1.0, 1.0, 2.0, 4.0]])
    assert ratio_of(density, np.ones(4), np.array([0.0, 1.0, 2.0, 3.0])) == pytest.approx([4.0])
    assert ratio_of(density, np.ones(4), np.array([3.0, 2.0, 1.0, 0.0])) == pytest.approx([0.25])


def test_shapes_with_covariates_add_to_one_and_are_correlations():
    places = np.column_stack(
        [np.random.default_rng(1).uniform(0, 50, (30, 2)), np.random.default_rng(2).normal(size=(30, 2))]
    )
    shapes = shapes_for(60.0, 2)
    assert sum(np.exp(shape.log_prior) for shape in shapes) == pytest.approx(1)
    assert sum(np.exp(s.log_prior) for s in shapes if columns_of(s.kernel)) == pytest.approx(0.24)
    for shape in shapes[1:]:
        matrix = shape.kernel(places, places)
        assert np.diag(matrix) == pytest.approx(1)
        assert np.linalg.eigvalsh(matrix).min() > -1e-9
    assert columns_of(Mean((Along(2, 1.0), Kernel("rough", 1.0, 1.0)))) == {2}

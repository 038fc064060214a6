"""Stops made wherever plants were seen: with the track that was walked, the total is that of the field again."""

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from tepal.stand import Counts, estimate, with_passed
from tepal.tables import Refused

FIELD = box(0, 0, 300, 300)
SIGMA = 3.0
TRACK = np.array([(20, 30), (280, 30), (280, 110), (20, 110), (20, 190), (280, 190), (280, 270), (20, 270.0)])


def walked_field(seed):
    """A field of clumps; the walker stops wherever a plant is seen and counts 20 m² about it."""
    rng = np.random.default_rng(seed)
    clumps = rng.uniform(0, 300, (40, 2))
    plants = np.repeat(clumps, rng.poisson(25, 40), axis=0)
    plants = plants + 6 * rng.standard_normal(plants.shape)
    plants = plants[((plants > 0) & (plants < 300)).all(axis=1)]
    line = LineString(TRACK)
    away = np.array([line.distance(Point(p)) for p in plants])
    seen = plants[rng.random(len(plants)) < np.exp(-0.5 * (away / SIGMA) ** 2)]
    stops: list[np.ndarray] = []
    for at in sorted(line.project(Point(p)) for p in seen):
        place = np.array(line.interpolate(at).coords[0])
        if not stops or min(np.hypot(*(place - other)) for other in stops) > 15:
            stops.append(place)
    where = np.array(stops)
    count = [int((np.hypot(*(plants - place).T) < np.sqrt(20 / np.pi)).sum()) for place in where]
    return Counts(*where.T, np.full(len(where), 20.0), count), len(plants)


def test_what_was_passed_takes_the_excess_out_of_the_total():
    ratio, mended, held = [], [], 0
    for seed in range(4):
        counts, truth = walked_field(seed)
        rng = np.random.default_rng(1)
        plain = estimate(counts, boundary=FIELD, rng=rng).total.values
        better = estimate(with_passed(counts, [TRACK], SIGMA), boundary=FIELD, rng=rng).total.values
        ratio.append(np.median(plain) / truth)
        mended.append(np.median(better) / truth)
        held += np.quantile(better, 0.05) <= truth <= np.quantile(better, 0.95)
    assert np.exp(np.mean(np.log(ratio))) > 3
    assert 0.5 < np.exp(np.mean(np.log(mended))) < 2
    assert held >= 3


def test_zeros_stand_where_nothing_was_stopped_for_and_hold_the_strip_that_was_seen():
    counts = Counts([100.0], [30.0], [1.0], [4])
    both = with_passed(counts, [TRACK[:2]], SIGMA)
    zeros = np.flatnonzero(both.count == 0)
    assert both.count.sum() == 4 and len(both) == 1 + zeros.size
    assert np.abs(both.x_m[zeros] - 100).min() > 20
    assert both.area_m2[zeros] == pytest.approx(SIGMA * np.sqrt(2 * np.pi) * 260 / 6, rel=0.2)


@pytest.mark.parametrize(
    ("track", "sigma", "word"), [([], 3, "sigma"), ([TRACK], 0, "sigma"), ([TRACK + 900], 3, "far|lie")]
)
def test_a_track_that_says_nothing_is_refused(track, sigma, word):
    with pytest.raises(Refused, match=word):
        with_passed(Counts([100.0], [30.0], [1.0], [4]), track, sigma)

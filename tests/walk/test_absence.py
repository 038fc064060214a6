"""Absence against closed forms, a brute-force twin that throws plants one by one, and its fixed meanings."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from tepal.tables import Refused
from tepal.walk import RiskZone, Walked, absence, absence_of_walks

LOG = 1 / np.arange(1, 201)
LOG = LOG / LOG.sum()


def w_shape(width, height):
    return np.array([(0.02 * width, 0.95 * height), (0.25 * width, 0.05 * height), (0.5 * width, 0.95 * height),
                     (0.75 * width, 0.05 * height), (0.98 * width, 0.95 * height)])  # fmt: skip


def throw(rng, site, n):
    """n uniform points of a site by rejection, one idea and no raster."""
    west, south, east, north = site.bounds
    out = np.empty((0, 2))
    while len(out) < n:
        p = rng.uniform((west, south), (east, north), (2 * n, 2))
        out = np.vstack([out, p[shapely.contains_xy(site, p[:, 0], p[:, 1])]])
    return out[:n]


def brute_force(site, tracks, sigma, rng, worlds=4000):
    """Slow twin: exact point-to-line distances; worlds drawn by the stated prior; P(none seen) averaged, no grid."""
    route = MultiLineString([LineString(t) for t in tracks if len(t) > 1])
    shapely.prepare(route)

    def q(points):
        d = shapely.distance(route, shapely.points(points))
        return np.exp(-0.5 * (d / sigma) ** 2)

    share = q(throw(rng, site, 60_000))
    miss = []
    for _ in range(worlds):
        n = int(rng.choice(np.arange(1, 201), p=LOG))
        if rng.random() < 0.5:
            plants = throw(rng, site, n)
        else:
            centre = throw(rng, site, 1)[0]
            plants = np.empty((0, 2))
            while len(plants) < n:
                p = centre + 8 * rng.standard_normal((2 * n + 8, 2))
                plants = np.vstack([plants, p[shapely.contains_xy(site, p[:, 0], p[:, 1])]])
            plants = plants[:n]
        miss.append(np.prod(1 - q(plants)))
    m = float(np.mean(miss))
    return m / (1 + m), float(share.mean()), float(np.std(miss) / math.sqrt(worlds))


SITES = {
    "square with a hole": (Polygon([(0, 0), (400, 0), (400, 400), (0, 400)],
                                   [[(150, 150), (250, 150), (250, 250), (150, 250)]]), w_shape(400, 400)),
    "strip": (box(0, 0, 900, 25), np.array([(5.0, 12.0), (700.0, 12.0)])),
    "two parts": (MultiPolygon([box(0, 0, 150, 300), box(200, 0, 320, 300)]), w_shape(320, 300)),
    "round": (Point(200, 200).buffer(200), w_shape(400, 400)),
}  # fmt: skip


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("sigma", [2.0, 10.0])
def test_absence_agrees_with_plants_thrown_one_by_one(name, sigma):
    site, track = SITES[name]
    shapely.prepare(site)
    result = absence(site, [track], sigma_m=sigma)
    p, share, error = brute_force(site, [track], sigma, np.random.default_rng(7), worlds=2500)
    # The posterior moves by at most the miss chance's own error; three of them on top of the promised 0.01.
    assert abs(result.p_present - p) <= 0.01 + 3 * error / 4
    assert abs(result.seen_share - share) <= 0.005


def test_a_strip_walked_along_its_middle_has_the_mean_of_a_gaussian():
    # Closed form: the mean over |d| < w of exp(-d²/2S²) is S sqrt(2 pi) erf(w / S sqrt 2) / 2w.
    w, sigma = 12.0, 5.0
    result = absence(box(0, -w, 500, w), [np.array([(-50.0, 0), (550, 0)])], sigma_m=sigma)
    expected = sigma * math.sqrt(2 * math.pi) * math.erf(w / sigma / math.sqrt(2)) / (2 * w)
    assert result.seen_share == pytest.approx(expected, abs=0.002)


def test_walked_elsewhere_leaves_the_prior_and_no_bound():
    result = absence(box(0, 0, 200, 200), [np.array([(5000.0, 0), (6000, 0)])], sigma_m=5, prior_present=0.3)
    assert result.p_present == pytest.approx(0.3)
    assert result.density_upper95_per_ha is None
    assert result.seen_share == 0


def test_no_track_at_all_leaves_the_prior():
    assert absence(box(0, 0, 200, 200), [], sigma_m=5).p_present == pytest.approx(0.5)


def test_seeing_everything_leaves_nothing():
    lines = np.array([(x, y) for i, x in enumerate(range(0, 101, 2)) for y in ((0, 100) if i % 2 == 0 else (100, 0))])
    result = absence(box(0, 0, 100, 100), [lines.astype(float)], sigma_m=10)
    assert result.p_present < 0.01
    assert result.density_upper95_per_ha == 0


def test_three_found_are_there():
    result = absence(box(0, 0, 400, 400), [w_shape(400, 400)], sigma_m=2, found=3)
    assert result.p_present >= 0.99
    assert result.density_upper95_per_ha * result.hectares >= 3
    assert result.draws(np.random.default_rng(1), 1000).min() >= 3


def test_more_found_than_assumed_moves_the_top():
    result = absence(box(0, 0, 400, 400), [w_shape(400, 400)], sigma_m=2, found=500)
    assert result.assumed.most_plants >= 5000
    assert result.draws(np.random.default_rng(1), 100).min() >= 500


def test_a_gap_between_segments_is_not_walked():
    site = box(0, 0, 600, 100)
    whole = absence(site, [np.array([(0.0, 50), (600, 50)])], sigma_m=5)
    broken = absence(site, [np.array([(0.0, 50), (200, 50)]), np.array([(400.0, 50), (600, 50)])], sigma_m=5)
    # Each of the two ends in the middle sees half a round: the integral of exp(-r²/2S²) over a half plane, pi S².
    ends = 2 * math.pi * 5**2 / site.area
    assert broken.seen_share == pytest.approx(whole.seen_share * 2 / 3 + ends, abs=2e-4)
    assert broken.walked_m == pytest.approx(400)


def test_walking_where_the_risk_is_tells_more():
    site = box(0, 0, 400, 400)
    edge = [RiskZone(box(0, 0, 400, 40), 20.0)]
    along_edge = [np.array([(0.0, 20), (400, 20)])]
    through_middle = [np.array([(0.0, 200), (400, 200)])]
    near = absence(site, along_edge, sigma_m=10, prior=edge)
    far = absence(site, through_middle, sigma_m=10, prior=edge)
    assert near.p_present < far.p_present
    assert near.seen_share > 5 * far.seen_share


def test_the_greatest_weight_counts_where_zones_overlap():
    site = box(0, 0, 200, 200)
    track = [np.array([(0.0, 100), (200, 100)])]
    half = box(0, 50, 200, 150)
    one = absence(site, track, sigma_m=5, prior=[RiskZone(half, 9)])
    two = absence(site, track, sigma_m=5, prior=[RiskZone(half, 3), RiskZone(half, 9), RiskZone(half, 1)])
    assert one.p_present == two.p_present


def test_a_zone_of_no_risk_lowers_the_weight_below_one():
    site = box(0, 0, 200, 200)
    unseen = absence(site, [np.array([(0.0, 10), (200, 10)])], sigma_m=5)
    excluded = absence(site, [np.array([(0.0, 10), (200, 10)])], sigma_m=5, prior=[RiskZone(box(0, 50, 200, 200), 0)])
    assert excluded.seen_share == pytest.approx(4 * unseen.seen_share, rel=0.02)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.05, 0.95), st.floats(1, 15), st.integers(0, 5))
def test_chances_are_chances_and_draws_agree(prior, sigma, found):
    result = absence(box(0, 0, 200, 150), [w_shape(200, 150)], sigma_m=sigma, found=found, prior_present=prior)
    assert 0 <= result.p_present <= 1
    assert result.chances.sum() == pytest.approx(1)
    if found == 0:
        assert result.p_present <= prior + 1e-12
    draws = result.draws(np.random.default_rng(3), 4000)
    assert abs((draws > 0).mean() - result.p_present) < 0.04


def test_the_bound_covers_simulated_fields():
    # Fields drawn from the stated prior; where nothing was found, the bound must hold in 95 of 100 of them.
    rng = np.random.default_rng(11)
    site, track = SITES["square with a hole"]
    route = LineString(track)
    result = absence(site, [track], sigma_m=10)
    held = []
    while len(held) < 400:
        n = 0 if rng.random() < 0.5 else int(rng.choice(np.arange(1, 201), p=LOG))
        if n and rng.random() < 0.5:
            plants = throw(rng, site, 1) + 8 * rng.standard_normal((n, 2))
        else:
            plants = throw(rng, site, n) if n else np.empty((0, 2))
        d = shapely.distance(route, shapely.points(plants)) if n else np.empty(0)
        if (rng.random(n) >= np.exp(-0.5 * (d / 10) ** 2)).all():
            held.append(n / result.hectares <= result.density_upper95_per_ha)
    assert np.mean(held) >= 0.95 - 2 * math.sqrt(0.05 * 0.95 / 400)


BAD = [
    ({"sigma_m": 0}, "sigma"),
    ({"sigma_m": float("nan")}, "sigma"),
    ({"sigma_m": 5, "found": -1}, "found"),
    ({"sigma_m": 5, "prior_present": 1.2}, "prior"),
    ({"sigma_m": 5, "prior": [RiskZone(box(0, 0, 1, 1), -2)]}, "weight"),
    ({"sigma_m": 5, "prior": [RiskZone(box(-9, -9, 999, 999), 0)]}, "weight above 0"),
]


@pytest.mark.parametrize(("arguments", "word"), BAD)
def test_what_makes_no_sense_is_refused(arguments, word):
    with pytest.raises(Refused, match=word):
        absence(box(0, 0, 100, 100), [np.array([(0.0, 0), (100, 100)])], **arguments)


def test_a_find_by_a_walk_that_saw_nothing_is_refused():
    with pytest.raises(Refused, match="saw nothing"):
        absence(box(0, 0, 100, 100), [np.array([(9000.0, 0), (9100, 100)])], sigma_m=3, found=2)


def test_parts_far_apart_are_seen_as_well_as_one_alone():
    # One part has the closed form of a strip; the other is as large and not walked.
    w, sigma = 12.0, 3.0
    near = box(0, -w, 500, w)
    line = np.array([(-50.0, 0), (550, 0)])
    alone = absence(near, [line], sigma_m=sigma)
    both = absence(MultiPolygon([near, box(20_000, 9_000, 20_500, 9_000 + 2 * w)]), [line], sigma_m=sigma)
    expected = sigma * math.sqrt(2 * math.pi) * math.erf(w / sigma / math.sqrt(2)) / (2 * w)
    assert alone.seen_share == pytest.approx(expected, abs=0.002)
    assert both.seen_share == pytest.approx(expected / 2, abs=0.002)


def test_two_looks_miss_what_both_miss():
    # Everything lies on the route, so each look sees the share up · known of all plants, wherever they stand.
    site = box(0, 0, 300, 4)
    line = np.array([(0.0, 2), (300, 2)])
    looks = [Walked([line], 400.0, up=0.6), Walked([line], 400.0, up=0.9, known=0.5)]
    result = absence_of_walks(site, looks)
    share = 1 - (1 - 0.6) * (1 - 0.45)
    assert result.seen_share == pytest.approx(share, abs=0.001)
    miss = float((LOG * (1 - share) ** np.arange(1, 201)).sum())
    assert result.p_present == pytest.approx(miss / (1 + miss), abs=0.001)
    one = absence_of_walks(site, looks[:1])
    assert result.p_present < one.p_present < 0.5


def test_a_flush_after_the_walk_brings_the_prior_back():
    site, line = box(0, 0, 300, 4), np.array([(0.0, 2), (300, 2)])
    left = [absence_of_walks(site, [Walked([line], 10.0, up=u)]).p_present for u in (1.0, 0.5, 0.1, 0.0)]
    assert left == sorted(left)
    assert left[-1] == pytest.approx(0.5)


def test_a_walk_that_sees_the_wrong_share_is_refused():
    with pytest.raises(Refused, match="up"):
        absence_of_walks(box(0, 0, 9, 9), [Walked([], 5.0, up=1.5)])

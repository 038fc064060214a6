"""How far one sees, from noted distances or a table; what its doubt does to absence; what else to walk."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import optimize, stats
from shapely.geometry import LineString, Point, box

from tepal.tables import Refused
from tepal.walk import RISKS, RiskZone, Walked, absence_of_walks, further, risk_zones, sight_for, sight_from

SITE = box(0, 0, 300, 300)
TRACK = np.array([(20.0, 150.0), (280.0, 150.0)])


def test_the_width_from_distances_is_that_of_another_library():
    d = stats.halfnorm.rvs(scale=4.0, size=60, random_state=3)
    assert sight_from(d).sigma_m == pytest.approx(stats.halfnorm.fit(d, floc=0)[1])


@pytest.mark.parametrize("farthest", [np.inf, 6.0])
def test_nine_intervals_of_ten_hold_the_true_width(farthest):
    rng, held = np.random.default_rng(5), []
    for _ in range(400):
        d = np.abs(4.0 * rng.standard_normal(200))
        got = sight_from(d[d <= farthest][:25], farthest_m=farthest)
        held.append(got.low_m <= 4.0 <= got.high_m)
    # Binomial: 0.9 of 400 with four standard errors.
    assert abs(np.mean(held) - 0.9) < 4 * np.sqrt(0.9 * 0.1 / 400)


def test_a_truncated_width_is_the_greatest_of_the_plain_likelihood():
    d = stats.truncnorm.rvs(0, 1.5, scale=4.0, size=80, random_state=4)

    def against(sigma):
        return -stats.truncnorm.logpdf(d, 0, 6.0 / sigma, scale=sigma).sum()

    plain = optimize.minimize_scalar(against, bounds=(0.5, 100), method="bounded", options={"xatol": 1e-6}).x
    assert sight_from(d, farthest_m=6.0).sigma_m == pytest.approx(plain, rel=0.003)


@pytest.mark.parametrize("wrong", [[1, 2], [1, 2, 3, -4, 5], [0, 0, 0, 0, 0], [1, 2, 3, 4, np.nan]])
def test_distances_that_say_nothing_are_refused(wrong):
    with pytest.raises(Refused, match="distances"):
        sight_from(wrong)


def test_the_table_is_judgement_and_grows_with_the_plant():
    widths = [sight_for(stage, "soybean") for stage in ("cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive")]
    assert all(a.sigma_m < b.sigma_m for a, b in pairwise(widths))
    assert all(w.basis == "judgement" and w.times >= 1.5 and w.low_m < w.sigma_m < w.high_m for w in widths)
    assert sight_for("vegetative", "lupin") == sight_for("vegetative", "other")
    with pytest.raises(Refused, match="stage"):
        sight_for("vegetativ")


def test_a_doubtful_width_is_the_mean_over_what_it_may_be():
    # Brute force: draws of the width, likelihoods averaged plainly, Bayes afterwards.
    rng = np.random.default_rng(2)
    doubtful = absence_of_walks(SITE, [Walked([TRACK], 5.0, times=1.6)])
    sure = absence_of_walks(SITE, [Walked([TRACK], 5.0)])
    likelihood = []
    for sigma in 5.0 * 1.6 ** rng.standard_normal(150):
        p = absence_of_walks(SITE, [Walked([TRACK], float(sigma))]).p_present
        likelihood.append(p / (1 - p))
    mean = np.mean(likelihood)
    assert doubtful.p_present == pytest.approx(mean / (1 + mean), abs=0.01)
    assert doubtful.p_present != pytest.approx(sure.p_present, abs=1e-4)


def test_what_else_to_walk_makes_absence_as_sure_as_asked():
    walks = [Walked([TRACK], 8.0)]
    before = absence_of_walks(SITE, walks, prior_present=0.2)
    more = further(SITE, walks, sigma_m=8.0, sure=0.95, prior_present=0.2)
    both = absence_of_walks(SITE, [*walks, Walked([more.route], 8.0)], prior_present=0.2)
    assert before.p_present > 0.05 >= both.p_present == more.after.p_present
    # It keeps off what was seen: hardly any of it within a width of the first track.
    near = LineString(more.route).intersection(LineString(TRACK).buffer(8)).length
    assert near < 0.7 * more.metres * LineString(TRACK).buffer(8).area / SITE.area
    # One chance in a thousand cannot be had where a flush has come since: the walks to come see all there is.
    assert further(box(0, 0, 40, 40), [], sigma_m=0.5, sure=0.9999) is None


def test_risk_follows_what_is_on_record():
    features = [("waterway", LineString([(0, 100), (300, 120)])), ("seen", Point(200, 220)), ("other", Point(9, 9))]
    zones = risk_zones(SITE, features)

    def weight(x, y):
        return max((zone.weight for zone in zones if zone.area.contains(Point(x, y))), default=1.0)

    assert weight(150, 108) == RISKS["waterway"][0]
    assert weight(205, 225) == RISKS["seen"][0]
    assert weight(150, 5) == RISKS["edge"][0]
    assert weight(100, 200) == 1.0
    assert all(isinstance(zone, RiskZone) for zone in zones)

"""A plan keeps its rules on awkward fields, finds what it says it finds, and comes near a bound no route can exceed."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from tepal.tables import Refused
from tepal.walk import RiskZone, plan
from tepal.walk._score import Score
from tepal.walk._ways import site_of

SLOTS = shapely.union_all([box(30, 60 + 80 * k, 370, 65 + 80 * k) for k in range(4)])
CREEK = LineString([(-10, 150), (200, 210), (420, 180)]).buffer(8)
FIELDS = {
    "open": Polygon([(0, 0), (420, -30), (500, 260), (260, 420), (-40, 300)]),
    "hole": box(0, 0, 400, 380).difference(Point(180, 200).buffer(50)),
    "terraces": box(0, 0, 400, 380).difference(SLOTS),
    "one crossing": box(0, 0, 410, 400).difference(CREEK.difference(Point(240, 205).buffer(7))),
    "round": Point(0, 0).buffer(210),
    "parts": MultiPolygon([box(0, 0, 180, 300), box(200, 20, 330, 260)]),
    "strips": MultiPolygon([box(0, 60 * k, 700, 60 * k + 30) for k in range(4)]),
    "sliver": box(0, 0, 900, 7),
    "notch": box(0, 0, 400, 400).difference(box(190, -1, 195, 320)),
}


def jittered(site, step, rng):
    """Points spread evenly over a site, one by chance in each square: no grid of the program under test."""
    west, south, east, north = site.bounds
    x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
    points = np.column_stack([x.ravel(), y.ravel()]) + rng.uniform(0, step, (x.size, 2))
    return points[shapely.contains_xy(site, *points.T)]


def chance(route, points, sigma):
    line = LineString(route)
    d = np.full(len(points), np.inf)
    made = shapely.points(points)
    shapely.prepare(line)
    near = shapely.dwithin(line, made, 5 * sigma)
    d[near] = shapely.distance(made[near], line)
    return np.exp(-0.5 * (d / sigma) ** 2)


def brute_force(site, route, sigma, zones=()):
    points = jittered(site, max(1.0, sigma / 3), np.random.default_rng(3))
    weight = np.ones(len(points))
    for zone in sorted(zones, key=lambda z: z.weight):
        weight[shapely.contains_xy(zone.area, *points.T)] = zone.weight
    q = chance(route, points, sigma)
    return float((q * weight).sum() / weight.sum()), points, weight, q


def bound(length, area, sigma):
    """At most 2rL + πr² lies within r of a connected route; that gives the most that can be seen."""
    r = np.linspace(0, 9 * sigma, 4001)
    near = np.minimum(area, 2 * r * length + math.pi * r * r)
    return float(np.trapezoid(near * r / sigma**2 * np.exp(-0.5 * (r / sigma) ** 2), r) / area)


def check_rules(site, made, metres, *, between_parts=True):
    line = LineString(made.route)
    assert made.metres == pytest.approx(line.length)
    assert line.length <= 1.01 * metres
    outside = line.difference(site.buffer(2))
    holes = shapely.union_all([Polygon(r) for p in shapely.get_parts(site) for r in getattr(p, "interiors", [])])
    if len(shapely.get_parts(site)) == 1:
        assert outside.length < 1e-6
    else:
        # Over a gap only: from part to part, never past them.
        assert outside.difference(site.convex_hull).length < 1e-6
    assert line.intersection(holes.buffer(-0.05)).length < 1e-6


@pytest.mark.parametrize("sigma", [2.0, 10.0])
@pytest.mark.parametrize("name", FIELDS)
def test_a_plan_keeps_to_field_and_time_and_says_what_it_finds(name, sigma):
    site = FIELDS[name]
    made = plan(site, minutes=30, sigma_m=sigma)
    check_rules(site, made, 2000)
    truth, *_ = brute_force(site, made.route, sigma)
    assert made.p_detect == pytest.approx(truth, abs=0.005)
    assert made.p_detect <= bound(2000, site.area, sigma) + 0.002
    assert made.most == pytest.approx(bound(2000, site.area, sigma), rel=1e-3)


@pytest.mark.parametrize(
    ("name", "sigma", "least"),
    [("open", 2.0, 0.985), ("open", 10.0, 0.965), ("round", 2.0, 0.985), ("round", 10.0, 0.965), ("hole", 2.0, 0.95),
     ("hole", 10.0, 0.92), ("one crossing", 2.0, 0.95), ("one crossing", 10.0, 0.92), ("terraces", 10.0, 0.92)],
)  # fmt: skip
def test_a_plan_comes_near_the_bound(name, sigma, least):
    site = FIELDS[name]
    made = plan(site, minutes=60, sigma_m=sigma)
    assert made.p_detect >= least * bound(4000, site.area, sigma)


@pytest.mark.parametrize("name", ["open", "hole", "terraces", "one crossing", "parts"])
def test_rows_are_crossed_only_on_the_headland(name):
    site, bearing, headland = FIELDS[name], 30.0, 15.0
    made = plan(site, minutes=40, sigma_m=5, rows_deg=bearing, headland_m=headland)
    check_rules(site, made, 40 * 4000 / 60)
    along = np.array([math.sin(math.radians(bearing)), math.cos(math.radians(bearing))])
    core = site.buffer(-headland - 0.1)
    for a, b in zip(made.route[:-1], made.route[1:], strict=True):
        inside = LineString([a, b]).intersection(core).length
        if inside > 0.5:
            assert abs(np.dot((b - a) / np.hypot(*(b - a)), along)) > 0.9999
    assert made.metres > 0.97 * 40 * 4000 / 60


RING = Point(0, 0).buffer(230).difference(Point(20, 0).buffer(130))


@pytest.mark.parametrize("name", ["ring", "hole"])
def test_amid_rows_the_whole_time_is_walked_and_one_comes_back(name):
    # A route cut short in the middle of a row has no way back: what fits is taken pass by pass.
    site = RING if name == "ring" else FIELDS[name]
    start = tuple(shapely.get_coordinates(site.exterior)[0])
    made = plan(site, minutes=60, sigma_m=10, rows_deg=33.0, start=start, back=True)
    check_rules(site, made, 4000)
    assert np.allclose(made.route[[0, -1]], start)
    assert made.metres > 0.95 * 4000
    assert made.p_detect > 0.8 * plan(site, minutes=60, sigma_m=10, rows_deg=33.0).p_detect


def test_out_and_back_along_one_headland_are_two_lines():
    # On one line the way back would find nothing new: a star of seven, its rows aslant, its only gate at a tip.
    angle = np.linspace(0, 2 * math.pi, 14, endpoint=False)
    radius = np.where(np.arange(14) % 2 == 0, 330, 250)
    site = Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    made = plan(site, minutes=30, sigma_m=2, rows_deg=33.0, start=(330.0, 0.0), back=True)
    check_rules(site, made, 2000)
    assert made.p_detect >= 0.94 * bound(made.metres, site.area, 2.0)


@pytest.mark.parametrize("back", [False, True])
def test_from_beside_a_ragged_edge_one_gets_into_the_rows(back):
    # A boundary drawn by a jittering receiver: from between its teeth no corner of the headland can be seen.
    rng, angle = np.random.default_rng(1), np.linspace(0, 2 * math.pi, 2500, endpoint=False)
    radius = 260 + 260 / 6 * np.sin(3 * angle) + rng.normal(0, 1.2, 2500)
    site = Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])).buffer(0)
    start = (-330.0, -60.0)
    made = plan(site, minutes=20, sigma_m=10, rows_deg=0.0, start=start, back=back)
    assert np.allclose(made.route[0], start)
    assert 0.9 * 4000 / 3 < made.metres <= 4000 / 3
    assert LineString(made.route).difference(site.buffer(2)).length < 2.1 * Point(start).distance(site)


def test_what_a_cell_adds_to_patches_is_the_derivative_of_what_a_route_finds():
    site, zones = FIELDS["hole"], [(box(0, 0, 400, 90), 6.0)]
    score = Score.of(site_of(site), zones, 4.0)
    seen = score.seen(plan(site, minutes=20, sigma_m=4).route)
    gain = score.with_patches(seen, 1.0)[0] - score.weights[0]
    for row, column in ((20, 20), (40, 100), (120, 60), (150, 190)):
        if not score.grids[0].inside[row, column]:
            continue
        more = seen[0].copy()
        more[row, column] += 1e-4
        told = (score.patch((more,)) - score.patch(seen)) * score.mass / 1e-4
        assert gain[row, column] == pytest.approx(told, rel=1e-3, abs=1e-6)


def risk(site):
    return [RiskZone(site.difference(site.buffer(-20)), 4.0), RiskZone(Point(300, 200).buffer(45), 10.0)]


@pytest.mark.parametrize("sigma", [2.0, 10.0])
@pytest.mark.parametrize("name", ["open", "hole", "one crossing"])
def test_risk_pays(name, sigma):
    site = FIELDS[name]
    zones = risk(site)
    flat, made = plan(site, minutes=60, sigma_m=sigma), plan(site, minutes=60, sigma_m=sigma, prior=zones)
    check_rules(site, made, 4000)
    truth, _, weight, q = brute_force(site, made.route, sigma, zones)
    assert made.p_detect == pytest.approx(truth, abs=0.005)
    assert truth > (1.2 if sigma == 2 else 1.02) * brute_force(site, flat.route, sigma, zones)[0]
    assert [z.weight for z in made.zones] == [10.0, 4.0, 1.0]
    for zone in made.zones:
        assert zone.seen_share == pytest.approx(q[weight == zone.weight].mean(), abs=0.012)
    assert sum(z.hectares for z in made.zones) == pytest.approx(site.area / 1e4, rel=1e-3)


def test_far_patches_of_risk_are_visited_where_sweeping_one_terrace_is_worth_less():
    # Eight strips that bend; the way to each of the patches pays for no single pass over it, though for all of them.
    x = np.linspace(0, 600, 40)
    low = [20 + 62 * k + 25 * np.sin(x / 150 + 0.3 * k) for k in range(8)]
    site = MultiPolygon(
        [Polygon(np.vstack([np.column_stack([x, y]), np.column_stack([x, y + 48])[::-1]])) for y in low]
    )
    circles = (((258, 308), 40.8, 14.6), ((0, 20), 54, 7.9), ((287, 85), 40.7, 7.0), ((418, 154), 15, 14.8))
    zones = [RiskZone(site.difference(site.buffer(-13.5)), 2.7)]
    zones += [RiskZone(Point(*at).buffer(radius), weight) for at, radius, weight in circles]
    made = plan(site, minutes=30, sigma_m=10.0, prior=zones)
    check_rules(site, made, 2000)
    # By hand: from the last circle to the first and over it, down the strips to the second and along to the third.
    by_hand = [
        (403, 154), (432, 154), (385, 190), (387, 200), (279, 262), (280, 272), (222, 290), (294, 290), (299, 308),
        (218, 308), (235, 323), (236, 333), (229, 335), (288, 335), (263, 328), (261, 319), (215, 280), (215, 271),
        (152, 232), (152, 216), (87, 169), (89, 148), (22, 95), (26, 71), (0, 37), (51, 37), (41, 54), (0, 54),
        (255, 60), (319, 60), (327, 76), (248, 76), (280, 91), (281, 105), (258, 111), (317, 111), (388, 91), (386, 80),
        (475, 20), (600, 20),
    ]  # fmt: skip
    assert LineString(by_hand).length < 2000
    found, *_ = brute_force(site, made.route, 10.0, zones)
    hand, *_ = brute_force(site, by_hand, 10.0, zones)
    assert found > 1.02 * hand
    # Who has more time can walk the shorter route.
    longer = plan(site, minutes=32, sigma_m=10.0, prior=zones)
    assert longer.p_detect > made.p_detect


def test_p_patch_agrees_with_patches_thrown_one_by_one():
    site, sigma, rng = FIELDS["hole"], 4.0, np.random.default_rng(8)
    made = plan(site, minutes=30, sigma_m=sigma)
    centres = jittered(site, 9.0, rng)
    seen = []
    for centre in centres:
        plants = np.empty((0, 2))
        while len(plants) < 20:
            p = centre + 8 * rng.standard_normal((60, 2))
            plants = np.vstack([plants, p[shapely.contains_xy(site, *p.T)]])
        seen.append(1 - np.prod(1 - chance(made.route, plants[:20], sigma)))
    assert made.p_patch == pytest.approx(np.mean(seen), abs=0.02)


def test_aiming_at_a_patch_finds_more_patches_and_hardly_fewer_plants():
    site = box(0, 0, 420, 420)
    zones = [RiskZone(box(0, 0, 420, 120), 5.0), RiskZone(Point(300, 300).buffer(45), 10.0)]
    plant = plan(site, minutes=60, sigma_m=2, prior=zones)
    patch = plan(site, minutes=60, sigma_m=2, prior=zones, aim="patch")
    check_rules(site, patch, 4000)
    assert patch.p_detect >= 0.97 * plant.p_detect
    assert patch.p_patch > plant.p_patch


def test_the_route_begins_and_ends_where_one_parks():
    site = FIELDS["hole"]
    for start in ((10.0, 5.0), (-20.0, 100.0)):
        made = plan(site, minutes=30, sigma_m=5, start=start, back=True)
        assert np.allclose(made.route[[0, -1]], start)
        assert made.metres <= 2000 * 1.0001
        one_way = plan(site, minutes=30, sigma_m=5, start=start)
        assert np.allclose(one_way.route[0], start)
        assert one_way.p_detect >= made.p_detect - 0.01


def test_more_time_never_finds_much_less():
    found = [plan(FIELDS["one crossing"], minutes=m, sigma_m=5).p_detect for m in (10, 20, 40, 80, 160)]
    assert all(b > a for a, b in pairwise(found))


def test_the_same_question_has_the_same_answer():
    a, b = (plan(FIELDS["hole"], minutes=30, sigma_m=5, prior=risk(FIELDS["hole"])) for _ in range(2))
    assert np.array_equal(a.route, b.route)


@pytest.mark.parametrize(
    "site",
    [box(0, 0, 3, 3), box(0, 0, 0.5, 400), Polygon([(0, 0), (300, 0), (300, 0.4)]), box(0, 0, 4000, 4000),
     MultiPolygon([box(0, 0, 100, 100), box(9000, 0, 9100, 100)]), box(0, 0, 300, 300).difference(box(1, 1, 299, 299))],
    ids=["garden", "hair", "needle", "huge", "far apart", "rim"],
)  # fmt: skip
def test_degenerate_sites_are_planned(site):
    made = plan(site, minutes=20, sigma_m=5)
    check_rules(site, made, 20 * 4000 / 60)
    assert 0 < made.p_detect <= 1


@settings(max_examples=8, deadline=None)
@given(
    radii=st.lists(st.floats(60, 260), min_size=5, max_size=14),
    minutes=st.floats(3, 60),
    sigma=st.floats(1.5, 15),
    hole=st.floats(0, 40),
)
def test_any_ragged_field_keeps_the_rules(radii, minutes, sigma, hole):
    angle = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
    site = Polygon(np.column_stack([radii * np.cos(angle), radii * np.sin(angle)])).buffer(0)
    if hole > 5:
        site = site.difference(Point(15, 10).buffer(hole))
    made = plan(site, minutes=minutes, sigma_m=sigma)
    check_rules(site, made, minutes * 4000 / 60)


@pytest.mark.parametrize(
    ("asked", "word"),
    [({"minutes": 0, "sigma_m": 2}, "minutes"), ({"minutes": 30, "sigma_m": math.nan}, "sigma"),
     ({"minutes": 30, "sigma_m": 2, "speed_kmh": -1}, "speed"), ({"minutes": 30, "sigma_m": 2, "back": True}, "--from"),
     ({"minutes": 30, "sigma_m": 2, "headland_m": -1}, "headland"), ({"minutes": 30, "sigma_m": 2, "aim": "x"}, "aim"),
     ({"minutes": 30, "sigma_m": 2, "prior": [RiskZone(box(-99, -99, 999, 999), 0.0)]}, "weight"),
     ({"minutes": 30, "sigma_m": 2, "start": (9e5, 0)}, "from the site")],
)  # fmt: skip
def test_what_makes_no_sense_is_refused(asked, word):
    with pytest.raises(Refused, match=word):
        plan(FIELDS["open"], **asked)


def test_no_route_exceeds_the_bounds_and_they_fall_to_what_is_known():
    # Even risk: the closed form above. Time without end: all. Risk that is all in one place: that place alone.
    site = box(0, 0, 2000, 2000)
    made = plan(site, minutes=15, sigma_m=2)
    assert made.most == pytest.approx(bound(1000, site.area, 2.0), rel=1e-4)
    assert made.p_patch <= made.most_patch
    assert plan(box(0, 0, 60, 60), minutes=120, sigma_m=2).most_patch == pytest.approx(1.0)
    # Risk that is all in one place is bounded as if there were nothing but that place.
    hot = box(500, 500, 900, 900)
    zones = [RiskZone(hot, 1.0), RiskZone(site.difference(hot), 0.0)]
    risky = plan(site, minutes=15, sigma_m=2, prior=zones)
    assert risky.most == pytest.approx(bound(1000, hot.area, 2.0), rel=1e-3)
    assert risky.p_detect <= risky.most and risky.p_patch <= risky.most_patch


def test_the_bound_of_patches_lies_above_a_line_through_patches_thrown_one_by_one():
    rng, sigma, length = np.random.default_rng(4), 2.0, 4000.0
    away = rng.uniform(0, 60, 20_000)
    plants = away[:, None] + 8 * rng.standard_normal((20_000, 20))
    strip = 120 * np.mean(1 - np.prod(1 - np.exp(-0.5 * (plants / sigma) ** 2), axis=1))
    site = box(0, 0, 3000, 3000)
    most = plan(site, minutes=60, sigma_m=sigma).most_patch
    assert strip * length / site.area < most < 1.6 * strip * length / site.area


def test_wide_patches_of_strong_risk_are_found_as_the_aim_promises():
    site = box(0, 0, 402, 402)
    zones = [RiskZone(site.difference(site.buffer(-20)), 8.0)]
    zones += [RiskZone(Point(x, y).buffer(r), w) for x, y, r, w in ((120, 130, 80, 50), (290, 250, 50, 55))]
    plant, patch = (plan(site, minutes=60, sigma_m=2, prior=zones, aim=aim) for aim in ("plant", "patch"))
    assert patch.p_patch >= 0.8
    assert patch.p_patch > plant.p_patch
    assert patch.p_detect >= 0.97 * plant.p_detect


def test_a_way_over_a_gap_does_not_run_past_the_ends_of_the_parts():
    site = MultiPolygon([box(0, 80 * k, 900, 80 * k + 40) for k in range(5)])
    made = plan(site, minutes=60, sigma_m=2)
    assert LineString(made.route).difference(shapely.union(site.buffer(2), site.convex_hull)).length < 1e-6

"""Tracks with faults put in by hand: what was walked comes out."""

import time

import numpy as np
import pytest

from tepal.walk import cleaned

RNG = np.random.default_rng(4)


def straight(n=300, pace=1.1):
    return np.column_stack([np.arange(n) * pace, np.zeros(n)]), np.arange(n, dtype=float)


def length(tracks):
    return sum(np.hypot(*np.diff(t, axis=0).T).sum() for t in tracks)


def test_a_clean_track_stays_as_it_is():
    points, times = straight()
    done = cleaned([points], [times])
    assert len(done.tracks) == 1
    assert np.allclose(done.tracks[0], points)
    assert (done.jumps, done.gaps, done.clock_jumps) == (0, 0, 0)


def test_a_drawn_line_of_few_corners_has_no_gap():
    corners = np.array([(0.0, 0), (400, 0), (400, 30), (0, 30)])
    done = cleaned([corners])
    assert len(done.tracks) == 1
    assert np.array_equal(done.tracks[0], corners)


def test_jumps_are_taken_out():
    points, times = straight()
    bad = points.copy()
    bad[[50, 120, 299]] += (0, 90)
    done = cleaned([bad], [times])
    assert done.jumps == 3
    assert np.abs(done.tracks[0][:, 1]).max() == 0
    assert length(done.tracks) == pytest.approx(length([points]), rel=0.01)


def test_a_gap_is_not_walked():
    points, times = straight()
    keep = (times < 100) | (times > 220)
    for given in ([times[keep]], None):
        done = cleaned([points[keep]], given)
        assert len(done.tracks) == 2
        assert done.gaps == 1
        assert length(done.tracks) == pytest.approx(1.1 * (299 - 121 - 1), abs=2.3)


def test_a_pause_adds_no_metres():
    points, _ = straight()
    stand = points[150] + RNG.normal(0, 1.0, (400, 2)).clip(-2, 2)
    both = np.vstack([points[:150], stand, points[150:]])
    clock = np.arange(len(both), dtype=float)
    done = cleaned([both], [clock])
    assert done.paused_s > 300
    assert length([both]) > 1.8 * length([points])
    assert length(done.tracks) == pytest.approx(length([points]), rel=0.08)


def test_a_clock_set_back_or_ahead_and_back_is_no_gap():
    points, times = straight()
    back = times.copy()
    back[100:] -= 3600
    assert len(cleaned([points], [back]).tracks) == 1
    ahead = times.copy()
    ahead[100:140] += 3600
    done = cleaned([points], [ahead])
    assert len(done.tracks) == 1
    assert done.clock_jumps == 2
    assert length(done.tracks) == pytest.approx(length([points]))


def test_jitter_adds_less():
    points, times = straight()
    noisy = points + RNG.normal(0, 2.0, points.shape)
    plain, smooth = (length(cleaned([noisy], [times], jitter_m=j).tracks) for j in (0.0, 4.0))
    assert plain > 1.6 * length([points])
    assert smooth == pytest.approx(length([points]), rel=0.15)
    off = np.abs(cleaned([noisy], [times], jitter_m=4.0).tracks[0][:, 1])
    assert off.mean() < 0.8 * np.abs(noisy[:, 1]).mean()


@pytest.mark.parametrize("step", [1.0, 1e-5, 0.0])
def test_a_hundred_thousand_points_are_cleaned_in_a_moment(step):
    rows = np.arange(100_000)
    points = np.column_stack([np.abs(rows % 2000 - 1000) * 0.9, rows // 1000 * 4.0])
    points[40_000:60_000] = points[40_000] + 0.5 * RNG.standard_normal((20_000, 2))
    begun = time.process_time()
    done = cleaned([points], [rows * step])
    assert time.process_time() - begun < 20
    assert length(done.tracks) > 60_000
    assert done.paused_s == pytest.approx(20_000 if step == 1 else 0, abs=60)


@pytest.mark.parametrize("across", [30.0, 250.0])
def test_a_line_of_corners_with_times_has_no_gap(across):
    # As a planner or a smart receiver writes it: minutes lie between corners, at a walking pace.
    corners = np.array([(0.0, 0), (400, 0), (400, across), (0, across), (0, 2 * across), (400, 2 * across)])
    times = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T)) / 1.1])
    done = cleaned([corners], [times])
    assert done.gaps == 0
    assert len(done.tracks) == 1
    assert np.array_equal(done.tracks[0], corners)


@pytest.mark.parametrize("pace", [0.0, 1e-3, 1.0])
def test_times_that_no_walk_can_have_are_left_aside(pace):
    corners = np.array([(0.0, 0), (300, 40), (300, 0), (280, 300), (0, 290), (10, 250)])
    done = cleaned([corners], [np.arange(6) * pace])
    assert len(done.tracks) == 1
    assert np.array_equal(done.tracks[0], corners)


@pytest.mark.parametrize("track", [np.empty((0, 2)), [(1.0, 2.0)], [(1.0, 2.0), (np.nan, 0)], [(0.0, 0)] * 40])
def test_what_is_no_walk_does_no_harm(track):
    done = cleaned([track])
    assert all(np.isfinite(t).all() for t in done.tracks)

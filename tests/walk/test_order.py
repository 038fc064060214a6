"""The order of passes: no turn and no move that a plain twin tries makes a round shorter; what fits is put in."""

import numpy as np
import pytest

from tepal.walk._order import Stretches, chosen_within, improved, nearest_first, total


def passes(count, seed, *, home):
    rng = np.random.default_rng(seed)
    a = rng.uniform(0, 500, (count, 2))
    b = a + rng.normal(0, 60, (count, 2))
    ends = np.stack([a, b], axis=1).reshape(-1, 2)
    ways = np.zeros((2 * count + 2,) * 2)
    ways[2:, 2:] = np.hypot(*(ends[:, None] - ends[None]).transpose(2, 0, 1))
    if home:
        ways[:2, 2:] = np.hypot(*(ends - 250).T)
        ways[2:, :2] = ways[:2, 2:].T
    return Stretches(ways, np.concatenate([[0.0], np.hypot(*(b - a).T)]))


def walked(order, s):
    """Metres of a round, leg by leg."""
    metres = 0.0
    for end, following in zip(order, [*order[1:], order[0]], strict=True):
        metres += s.ways[end ^ 1, following] + s.lengths[end >> 1]
    return metres


def neighbors(order):
    """Every round that one turn of a stretch, or one move of up to three passes, makes of this one."""
    order, n = list(order), len(order)
    for i in range(1, n):
        for j in range(i, n):
            yield [*order[:i], *(e ^ 1 for e in reversed(order[i : j + 1])), *order[j + 1 :]]
    for width in (1, 2, 3):
        for i in range(1, n - width + 1):
            stretch, rest = order[i : i + width], order[:i] + order[i + width :]
            for at in range(1, len(rest) + 1):
                for put in (stretch, [e ^ 1 for e in reversed(stretch)]):
                    yield [*rest[:at], *put, *rest[at:]]


@pytest.mark.parametrize("home", [False, True])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 12])
def test_no_turn_and_no_move_makes_an_improved_round_shorter(count, home):
    for seed in range(4):
        s = passes(count, seed, home=home)
        first = nearest_first(s, np.arange(1, count + 1))
        order = improved(first, s)
        assert sorted(order >> 1) == list(range(count + 1))
        assert total(order, s) == pytest.approx(walked(order, s))
        assert walked(order, s) <= walked(first, s) + 1e-6
        assert min(walked(other, s) for other in neighbors(order)) >= walked(order, s) - 1e-5


@pytest.mark.parametrize("home", [False, True])
def test_what_is_chosen_fits_and_nothing_more_does(home):
    s = passes(30, 5, home=home)
    values = np.concatenate([[0.0], np.random.default_rng(6).uniform(0.5, 2, 30) * s.lengths[1:]])
    order = chosen_within(s, values, 900.0, worth_per_m=0.1, rng=np.random.default_rng(7), rounds=6)
    assert len(set(order >> 1)) == len(order)
    assert walked(order, s) <= 900.0 + 1e-6
    left_out = sorted(set(range(31)) - set(order >> 1))
    longer = [
        [*order[:at], end, *order[at:]]
        for k in left_out
        for end in (2 * k, 2 * k + 1)
        for at in range(1, len(order) + 1)
    ]
    assert min(walked(other, s) for other in longer) > 900.0
    # More than who always goes to the nearest pass while there is time.
    nearest = list(nearest_first(s, np.arange(1, 31)))
    within = [nearest[:k] for k in range(1, 32) if walked(nearest[:k], s) <= 900.0]
    assert values[order >> 1].sum() > max(values[np.array(part) >> 1].sum() for part in within)


def test_a_far_group_that_pays_only_as_a_whole_is_walked():
    # Near passes in a row 10 m apart; 300 m away four that are worth five times as much for each metre.
    near, far = np.arange(12) * 10.0, 400.0 + np.arange(4) * 10.0
    x = np.concatenate([near, far])
    ends = np.column_stack([np.repeat(x, 2), np.tile([0.0, 40.0], len(x))])
    n = len(ends) + 2
    ways = np.zeros((n, n))
    ways[2:, 2:] = np.hypot(*(ends[:, None] - ends).transpose(2, 0, 1))
    ways[1, 2:] = ways[2:, 1] = np.hypot(*ends.T)  # one sets out at the first near pass, and ends where one likes
    s = Stretches(ways, np.concatenate([[0.0], np.full(len(x), 40.0)]))
    values = np.concatenate([[0.0], np.full(12, 40.0), np.full(4, 200.0)])
    # All near passes take 590 m. The far four take 190 m and the way to them 400 m or less.
    asked = {"budget_m": 620.0, "worth_per_m": 0.1, "rng": np.random.default_rng(3), "rounds": 0}
    alone = chosen_within(s, values, **asked)
    assert set(alone >> 1) == set(range(13))
    grouped = chosen_within(s, values, **asked, groups=[np.arange(13, 17)])
    assert walked(grouped, s) <= 620.0
    assert set(range(13, 17)) <= set(grouped >> 1)
    assert values[grouped >> 1].sum() > values[alone >> 1].sum()

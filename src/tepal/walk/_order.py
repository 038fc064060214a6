"""In which order, and which way round, to walk passes (nearest neighbor, 2-opt, or-opt); and which to leave out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_LEAST_GAIN_M = 1e-6
# Where there is no way, a length beyond any site: a number, so that two of them cancel.
NO_WAY_M = 1e7


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Passes as the order sees them. Pass k has the ends 2k and 2k + 1; pass 0 is the place of setting out and return.

    ways: metres from end to end, shape = (2n, 2n), NO_WAY_M where there is none. lengths: of each pass, shape = (n,).
    From end 1 of pass 0 one sets out, to end 0 of it one returns; where start or end are free those ways are 0.
    """

    ways: FloatArray
    lengths: FloatArray
    # The end before, on a way from row to column that leads along passes; negative where it does not. None: never does.
    via: IntArray | None = None


def total(order: IntArray, s: Stretches) -> float:
    """Metres of a round: `order` holds the end at which each pass is entered, beginning with 0."""
    return float(s.ways[order ^ 1, np.roll(order, -1)].sum() + s.lengths[order >> 1].sum())


def nearest_first(s: Stretches, chosen: IntArray, first: int | None = None) -> IntArray:
    """Always to the nearest end not yet walked. `first`: the end to begin with."""
    open_ = np.zeros(len(s.ways), dtype=bool)
    open_[2 * chosen] = open_[2 * chosen + 1] = True
    order = [0]
    for nth in range(len(chosen)):
        at = order[-1] ^ 1
        ends = np.flatnonzero(open_)
        enter = first if nth == 0 and first is not None else int(ends[np.argmin(s.ways[at, ends])])
        open_[enter] = open_[enter ^ 1] = False
        order.append(enter)
    return np.array(order, dtype=np.int64)


def improved(order: IntArray, s: Stretches, *, rounds: int = 200) -> IntArray:
    """2-opt (turn a stretch round) and or-opt (move up to three passes, either way round), the best move first."""
    order = order.copy()
    for _ in range(rounds):
        gain_a, by_turning = _turn(order, s)
        gain_b, by_moving = _move(order, s)
        if max(gain_a, gain_b) <= _LEAST_GAIN_M:
            break
        order = by_turning if gain_a >= gain_b else by_moving
    return order


def _turn(order: IntArray, s: Stretches) -> tuple[float, IntArray]:
    n = len(order)
    if n < 3:
        return 0.0, order
    enter, leave = order, order ^ 1
    # The stretch i..j (1 ≤ i ≤ j) is walked backwards: it is entered where it was left.
    before, after = leave[:-1], np.roll(enter, -1)[1:]
    now = s.ways[before, enter[1:]][:, None] + s.ways[leave[1:], after][None, :]
    then = s.ways[before[:, None], leave[None, 1:]] + s.ways[enter[1:, None], after[None, :]]
    gain = np.where(np.tri(n - 1, n - 1, -1, dtype=bool), -np.inf, now - then)
    i, j = np.unravel_index(int(np.argmax(gain)), gain.shape)
    turned = np.concatenate([order[: i + 1], order[i + 1 : j + 2][::-1] ^ 1, order[j + 2 :]])
    return float(gain[i, j]), turned


def _move(order: IntArray, s: Stretches) -> tuple[float, IntArray]:
    n = len(order)
    best, moved = 0.0, order
    for width in (1, 2, 3):
        if n < width + 2:
            break
        first = np.arange(1, n - width + 1)
        enter, leave = order[first], order[first + width - 1] ^ 1
        before, after = order[first - 1] ^ 1, order[(first + width) % n]
        out = s.ways[before, enter] + s.ways[leave, after] - s.ways[before, after]
        gap_from, gap_to = order ^ 1, np.roll(order, -1)
        gap = s.ways[gap_from, gap_to]
        kept = s.ways[np.ix_(gap_from, enter)].T + s.ways[np.ix_(leave, gap_to)] - gap
        round_ = s.ways[np.ix_(gap_from, leave)].T + s.ways[np.ix_(enter, gap_to)] - gap
        gain = out[:, None] - np.minimum(kept, round_)
        place = np.arange(n)[None, :]
        gain[(place >= first[:, None] - 1) & (place < first[:, None] + width)] = -np.inf
        i, j = np.unravel_index(int(np.argmax(gain)), gain.shape)
        if gain[i, j] > best:
            best = float(gain[i, j])
            stretch = order[first[i] : first[i] + width]
            if round_[i, j] < kept[i, j]:
                stretch = stretch[::-1] ^ 1
            rest = np.delete(order, np.arange(first[i], first[i] + width))
            at = j + 1 if j < first[i] else j + 1 - width
            moved = np.concatenate([rest[:at], stretch, rest[at:]])
    return best, moved


def chosen_within(
    s: Stretches,
    values: FloatArray,
    budget_m: float,
    *,
    worth_per_m: float,
    rng: np.random.Generator,
    rounds: int,
    start: IntArray | None = None,
) -> IntArray:
    """Which passes to walk, and in which order, for the most value within `budget_m` (orienteering over passes).

    Passes are put in where they give most for each metre that they add; then, over and over, neighbors in the round
    are taken out and the room is filled anew, and the better round is kept (ruin and recreate). `worth_per_m` is what
    a metre between passes is worth.
    """
    best = _filled(np.array([0], dtype=np.int64) if start is None else start, s, values, budget_m, worth_per_m)
    best = _filled(improved(best, s), s, values, budget_m, worth_per_m)
    best_worth = _worth(best, s, values, worth_per_m)
    kept, kept_worth = best, best_worth
    for nth in range(rounds):
        n = len(kept) - 1
        if n < 1:
            break
        share = rng.uniform(0.08, 0.35)
        count = max(1, int(share * n))
        if rng.random() < 0.5:  # a stretch of the round
            at = 1 + int(rng.integers(0, max(1, n - count + 1)))
            out = np.arange(at, min(at + count, n + 1))
        else:  # what gives least for its metres, with some chance
            cost = s.lengths[kept[1:] >> 1] + s.ways[kept[:-1] ^ 1, kept[1:]]
            poor = values[kept[1:] >> 1] / np.maximum(cost, 1e-9) * rng.uniform(0.5, 1.5, n)
            out = 1 + np.argsort(poor)[:count]
        trial = improved(np.delete(kept, out), s, rounds=30)
        noise = rng.uniform(0.85, 1.15, len(values))
        trial = _filled(trial, s, values * noise, budget_m, worth_per_m)
        trial = _filled(improved(trial, s, rounds=40), s, values, budget_m, worth_per_m)
        worth = _worth(trial, s, values, worth_per_m)
        if worth > best_worth:
            best, best_worth = trial, worth
        # A little worse is accepted at first, so that the search does not stay in one valley.
        if worth > kept_worth * (1 - 0.01 * (1 - nth / rounds)):
            kept, kept_worth = trial, worth
    return best


def _worth(order: IntArray, s: Stretches, values: FloatArray, worth_per_m: float) -> float:
    between = float(s.ways[order ^ 1, np.roll(order, -1)].sum())
    return float(values[order >> 1].sum()) + worth_per_m * between


def _filled(order: IntArray, s: Stretches, values: FloatArray, budget_m: float, worth_per_m: float) -> IntArray:
    left = budget_m - total(order, s)
    open_ = np.ones(len(values), dtype=bool)
    open_[order >> 1] = False
    while True:
        rest = np.flatnonzero(open_)
        if not rest.size:
            return order
        leave, to = order ^ 1, np.roll(order, -1)
        gap = s.ways[leave, to]
        enter = np.concatenate([2 * rest, 2 * rest + 1])
        more = s.ways[np.ix_(leave, enter)] + s.ways[np.ix_(enter ^ 1, to)].T - gap[:, None]
        place = np.argmin(more, axis=0)
        more = more[place, np.arange(len(enter))]
        cost = more + s.lengths[enter >> 1]
        gain = (values[enter >> 1] + worth_per_m * more) / np.maximum(cost, 1e-6)
        gain[~(cost <= left)] = -np.inf
        best = int(np.argmax(gain))
        if not gain[best] > 0:
            return order
        order = np.insert(order, place[best] + 1, enter[best])
        left -= float(cost[best])
        open_[enter[best] >> 1] = False

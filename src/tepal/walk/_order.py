"""In which order, and which way round, to walk passes (nearest neighbor, 2-opt, or-opt); and which to leave out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

_LEAST_GAIN_M = 1e-6
# Where there is no way, a length beyond any site: a number, so that two of them cancel.
NO_WAY_M = 1e7
# A group that is tried stays in the round for so much longer than its passes alone would.
_STANDS = 20.0


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
    for _ in range(rounds):
        between = _Between.of(order, s)
        gain_a, i, j = _turn(between)
        gain_b, width, first, place, round_ = _move(between)
        if max(gain_a, gain_b) <= _LEAST_GAIN_M:
            break
        if gain_a >= gain_b:
            order = np.concatenate([order[: i + 1], order[i + 1 : j + 2][::-1] ^ 1, order[j + 2 :]])
            continue
        stretch = order[first : first + width]
        stretch = stretch[::-1] ^ 1 if round_ else stretch
        rest = np.concatenate([order[:first], order[first + width :]])
        at = place + 1 if place < first else place + 1 - width
        order = np.concatenate([rest[:at], stretch, rest[at:]])
    return order


@dataclass(frozen=True, slots=True, eq=False)
class _Between:
    """Ways between the passes of a round, by place in it; each of shape = (n, n + 1), the first place again at the end.

    on: from where the one is left to where the other is entered. outs: from where the one is left to where the other
    is. ins: from where the one is entered to where the other is.
    """

    on: FloatArray
    outs: FloatArray
    ins: FloatArray

    @classmethod
    def of(cls, order: IntArray, s: Stretches) -> _Between:
        around = np.concatenate([order, order[:1]])
        enter, leave = s.ways[order], s.ways[order ^ 1]
        return cls(leave.take(around, axis=1), leave.take(around ^ 1, axis=1), enter.take(around, axis=1))


def _turn(b: _Between) -> tuple[float, int, int]:
    """The gain of walking the places i + 1 to j + 1 backwards: each is entered where it was left."""
    n = len(b.on)
    if n < 3:
        return 0.0, 0, 0
    step = np.diagonal(b.on, 1)
    gain = step[:-1, None] + step[1:] - b.outs[:-1, 1:-1] - b.ins[1:, 2:]
    gain[np.tri(n - 1, n - 1, -1, dtype=bool)] = -np.inf
    i, j = divmod(int(gain.argmax()), n - 1)
    return float(gain[i, j]), i, j


def _move(b: _Between) -> tuple[float, int, int, int, bool]:
    """The gain of walking `width` places from `first` on after `place` instead, turned round or not."""
    n = len(b.on)
    best = (0.0, 0, 0, 0, False)
    step = np.diagonal(b.on, 1)
    for width in (1, 2, 3):
        if n < width + 2:
            break
        count = n - width
        # The stretch that begins at place 1, 2, ... count; rows are stretches, columns the gaps to put one into.
        out = step[:count] + step[width:] - b.on[np.arange(count), np.arange(width + 1, n + 1)]
        kept = b.on[:, 1 : count + 1].T + b.on[width:, 1:]
        turned = b.outs[:, width:n].T + b.ins[1 : count + 1, 1:]
        gain = np.minimum(kept, turned)
        np.subtract(out[:, None] + step, gain, out=gain)
        for k in range(width + 1):  # the gaps before, in and after the stretch
            gain[np.arange(count), np.arange(k, count + k)] = -np.inf
        i, j = divmod(int(gain.argmax()), n)
        if gain[i, j] > best[0]:
            best = (float(gain[i, j]), width, i + 1, j, bool(turned[i, j] < kept[i, j]))
    return best


def chosen_within(
    s: Stretches,
    values: FloatArray,
    budget_m: float,
    *,
    worth_per_m: float,
    rng: np.random.Generator,
    rounds: int,
    groups: Sequence[IntArray] = (),
) -> IntArray:
    """Which passes to walk, and in which order, for the most value within `budget_m` (orienteering over passes).

    Passes are put in where they give most for each metre that they add; then, over and over, neighbors in the round
    are taken out and the room is filled anew, and the better round is kept (ruin and recreate). `worth_per_m` is what
    a metre between passes is worth. `groups`: passes that lie together, away from others. The way to them may not pay
    for any one of them, though it does for all, so each group is tried whole.
    """
    best = _filled(np.array([0], dtype=np.int64), s, values, budget_m, worth_per_m)
    best = _filled(improved(best, s), s, values, budget_m, worth_per_m)
    best_worth = _worth(best, s, values, worth_per_m)
    for group in groups:
        trial = _with_group(best, group, s, values, budget_m=budget_m, worth_per_m=worth_per_m)
        worth = _worth(trial, s, values, worth_per_m)
        if worth > best_worth:
            best, best_worth = trial, worth
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
    """The round with passes put in, always the one that gives most for the metres it adds, until no more fits."""
    left = budget_m - total(order, s)
    open_ = np.ones(len(values), dtype=bool)
    open_[order >> 1] = False
    rest = np.flatnonzero(open_)
    if not rest.size:
        return order
    enter = np.concatenate([2 * rest, 2 * rest + 1])
    length, value = s.lengths[enter >> 1], values[enter >> 1]
    # What each pass adds in each gap: by the place where it comes, one row for each place in the round.
    gaps = np.empty((len(order) + len(rest), len(enter)))
    gaps[: len(order)] = _added(order ^ 1, np.roll(order, -1), enter, s)
    while True:
        around = gaps[: len(order)]
        more = around.min(axis=0)
        cost = more + length
        gain = (value + worth_per_m * more) / np.maximum(cost, 1e-6)
        gain[~(cost <= left)] = -np.inf
        best = int(np.argmax(gain))
        if not gain[best] > 0:
            return order
        at = int(around[:, best].argmin())
        order = np.concatenate([order[: at + 1], enter[best : best + 1], order[at + 1 :]])
        left -= float(cost[best])
        gaps[at + 2 : len(order)] = gaps[at + 1 : len(order) - 1]
        new = order[at : at + 2]
        gaps[at : at + 2] = _added(new ^ 1, order.take([at + 1, at + 2], mode="wrap"), enter, s)
        walked = best % len(rest)
        length[[walked, walked + len(rest)]] = np.inf


def _with_group(
    order: IntArray, group: IntArray, s: Stretches, values: FloatArray, *, budget_m: float, worth_per_m: float
) -> IntArray:
    """The round with all passes of the group put in, and those that give least for their metres left out for them."""
    for walked in group[~np.isin(group, order >> 1)]:
        ends = np.array([2 * walked, 2 * walked + 1])
        added = _added(order ^ 1, np.roll(order, -1), ends, s)
        at, end = divmod(int(added.argmin()), 2)
        order = np.concatenate([order[: at + 1], ends[end : end + 1], order[at + 1 :]])
    order = improved(order, s, rounds=40)
    while len(order) > 1 and total(order, s) > budget_m:
        before, after = order[:-1], np.append(order[2:], order[0])
        spared = s.ways[before ^ 1, order[1:]] + s.ways[order[1:] ^ 1, after] - s.ways[before ^ 1, after]
        lost = values[order[1:] >> 1] + worth_per_m * spared
        lost[np.isin(order[1:] >> 1, group)] *= _STANDS
        poorest = lost / np.maximum(spared + s.lengths[order[1:] >> 1], 1e-6)
        order = np.delete(order, 1 + int(np.argmin(poorest)))
    return _filled(improved(order, s, rounds=40), s, values, budget_m, worth_per_m)


def _added(leave: IntArray, to: IntArray, enter: IntArray, s: Stretches) -> FloatArray:
    """Metres between passes that each entering adds to each gap, shape = (gaps, ends)."""
    added = s.ways[leave].take(enter, axis=1)
    added += s.ways[to].take(enter ^ 1, axis=1)
    added -= s.ways[leave, to][:, None]
    return added

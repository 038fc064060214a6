"""A receiver's track as a walk: pauses gathered, jumps taken out, gaps left open, jitter smoothed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# Nobody who looks at plants walks faster than this; a point that asks for it is a jump of the receiver (judgement).
_FASTEST_M_S = 3.0
# Receivers under an open sky are off by a few metres from point to point; a jump is more than that (judgement).
_JUMP_M = 12.0
# Points longer apart in time than this leave open where one walked in between (judgement).
_GAP_S = 60.0
# Where more than this share of the legs take so long, corners were kept and not moments: a line drawn with times.
_MANY_LONG = 0.2
# Half of the legs faster than this: no field is crossed so, and the times say nothing (judgement).
_NO_CLOCK_M_S = 15.0
# Without times: points farther apart than this, and than this many times the usual distance (judgement).
_GAP_M, _GAP_TIMES = 60.0, 12.0
# Staying within this of one place is a pause (judgement).
_PAUSE_M, _PAUSE_S = 4.0, 20.0
_MANY_NEAR = 1000


@dataclass(frozen=True, slots=True, eq=False)
class Cleaned:
    """Tracks that were walked, metres, and what was done to them."""

    tracks: tuple[FloatArray, ...]
    jumps: int
    gaps: int
    paused_s: float
    clock_jumps: int


def cleaned(
    tracks: Sequence[npt.ArrayLike], seconds: Sequence[npt.ArrayLike | None] | None = None, *, jitter_m: float = 0.0
) -> Cleaned:
    """The walks in a receiver's tracks.

    Parameters
    ----------
    tracks : arrays of shape = (n_i, 2), metres
    seconds : for each track its times, shape = (n_i,), or None where it has none
    jitter_m : sd of a point about the truth, metres; a running mean over as many points as fall in 3 of them is taken

    A clock that jumps back, or far ahead and back, is set right by the usual step; a point that asks for more than
    3 m/s on both sides is left out; a track is parted at a gap, which is not walked; points of a pause become one.
    Times that no walk can have (all the same) are left aside; a line of corners with times, minutes apart, has no gaps.
    """
    whole: list[FloatArray] = []
    jumps = gaps = clock_jumps = 0
    paused = 0.0
    for nth, track in enumerate(tracks):
        points = np.asarray(track, dtype=np.float64).reshape(-1, 2)
        times = None if seconds is None or seconds[nth] is None else np.asarray(seconds[nth], dtype=np.float64)
        good = np.isfinite(points).all(axis=1)
        if times is not None:
            good &= np.isfinite(times)
            times = times[good]
        points = points[good]
        if times is not None and _no_clock(points, times):
            times = None
        if times is not None and len(times) > 1:
            times, wrong = _set_right(points, times)
            clock_jumps += wrong
        kept = _without_jumps(points, times)
        jumps += int((~kept).sum())
        points = points[kept]
        times = None if times is None else times[kept]
        cuts = _gaps(points, times)
        gaps += len(cuts)
        for a, b in zip([0, *cuts], [*cuts, len(points)], strict=True):
            part, part_times = points[a:b], None if times is None else times[a:b]
            if part_times is not None:
                part, pause = _pauses_gathered(part, part_times)
                paused += pause
            if len(part):
                whole.append(_smoothed(part, jitter_m))
    return Cleaned(tuple(whole), jumps, gaps, paused, clock_jumps)


def _no_clock(points: FloatArray, times: FloatArray) -> bool:
    """Whether the times cannot be those of the points, such as one time for all of them."""
    legs, step = np.hypot(*np.diff(points, axis=0).T), np.abs(np.diff(times))
    went = legs > _PAUSE_M
    return bool(went.sum() >= 2 and np.median(legs[went] / np.maximum(step[went], 1e-9)) > _NO_CLOCK_M_S)


def _set_right(points: FloatArray, times: FloatArray) -> tuple[FloatArray, int]:
    step = np.diff(times)
    usual = float(np.median(step[step > 0])) if (step > 0).any() else 1.0
    stayed = np.hypot(*np.diff(points, axis=0).T) <= _FASTEST_M_S * usual + _JUMP_M
    # Time that runs back is a clock set anew. Far ahead is one only if it comes back; else the receiver was off.
    wrong = step < 0
    back = np.flatnonzero(wrong)
    for k in back:
        ahead = np.flatnonzero((step[:k] > _GAP_S) & stayed[:k])
        if ahead.size and times[k + 1] <= times[ahead[-1] + 1]:
            wrong[ahead[-1]] = True
    step = np.where(wrong, usual, step)
    return times[0] + np.concatenate([[0.0], np.cumsum(step)]), int(wrong.sum())


def _without_jumps(points: FloatArray, times: FloatArray | None) -> npt.NDArray[np.bool_]:
    keep = np.ones(len(points), dtype=bool)
    if len(points) < 3:
        return keep
    legs = np.hypot(*np.diff(points, axis=0).T)
    if times is not None:
        most = _FASTEST_M_S * np.maximum(np.diff(times), 0.0) + _JUMP_M
    elif _dense(legs):
        most = np.full(len(legs), max(_GAP_M, _GAP_TIMES * float(np.median(legs))))
    else:
        return keep
    far = legs > most
    over = np.hypot(*(points[2:] - points[:-2]).T)
    # Out and back: both legs too long, and those on either side of it near each other.
    keep[1:-1] = ~(far[:-1] & far[1:] & (over < np.minimum(legs[:-1], legs[1:])))
    keep[0] = not (far[0] and not far[1]) or len(points) == 3
    keep[-1] = not (far[-1] and not far[-2]) or len(points) == 3
    return keep


def _dense(legs: FloatArray) -> bool:
    # Corners of a drawn line stand far apart, and that is no fault: only many close points are a receiver's.
    return len(legs) >= 20 and float(np.median(legs)) < 10


def _gaps(points: FloatArray, times: FloatArray | None) -> list[int]:
    if len(points) < 2:
        return []
    legs = np.hypot(*np.diff(points, axis=0).T)
    if times is not None:
        step = np.diff(times)
        long = (step > _GAP_S) & (legs > _PAUSE_M * 2)
        if long.mean() > _MANY_LONG:
            long[:] = False
        open_ = long | (legs > _FASTEST_M_S * np.maximum(step, 0.0) + 2 * _JUMP_M)
    else:
        open_ = (legs > max(_GAP_M, _GAP_TIMES * float(np.median(legs)))) & _dense(legs)
    return [int(k) + 1 for k in np.flatnonzero(open_)]


def _pauses_gathered(points: FloatArray, times: FloatArray) -> tuple[FloatArray, float]:
    kept: list[FloatArray] = []
    paused, k = 0.0, 0
    while k < len(points):
        stop = _stays_until(points, k)
        if stop - k > 2 and times[stop - 1] - times[k] >= _PAUSE_S:
            kept.append(points[k:stop].mean(axis=0))
            paused += float(times[stop - 1] - times[k])
            k = stop
        else:
            # Hundreds of points a second are no receiver's: looked through once, lest they take minutes.
            on = stop if stop - k > _MANY_NEAR else k + 1
            kept.extend(points[k:on])
            k = on
    return np.array(kept).reshape(-1, 2), paused


def _stays_until(points: FloatArray, k: int) -> int:
    """The first point after k that is no longer near it; looked for ever farther ahead, as it mostly comes soon."""
    ahead = 8
    while True:
        away = np.hypot(*(points[k : k + ahead] - points[k]).T) > _PAUSE_M
        if away.any():
            return k + int(np.argmax(away))
        if k + ahead >= len(points):
            return len(points)
        ahead *= 4


def _smoothed(points: FloatArray, jitter_m: float) -> FloatArray:
    if jitter_m <= 0 or len(points) < 5:
        return points
    # Progress over ten points: jitter lengthens every single leg.
    over = min(10, len(points) - 1)
    step = max(float(np.median(np.hypot(*(points[over:] - points[:-over]).T))) / over, 1e-6)
    half = min(int(1.5 * jitter_m / step), (len(points) - 1) // 2, 12)
    if half < 1:
        return points
    kernel = np.ones(2 * half + 1) / (2 * half + 1)
    # Reflected about the ends, so that a straight walk keeps its length.
    before, after = 2 * points[0] - points[half:0:-1], 2 * points[-1] - points[-2 : -half - 2 : -1]
    padded = np.vstack([before, points, after])
    return np.column_stack([np.convolve(padded[:, k], kernel, mode="valid") for k in (0, 1)])

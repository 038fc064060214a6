"""A draft zone by zone: each zone swept at its own spacing, and of all those passes the ones that pay in the time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tepal.walk._assumed import PATCH_PLANTS, PATCH_SD_M
from tepal.walk._design import patches_found, share_seen
from tepal.walk._draft import joined, selected, stretches
from tepal.walk._passes import Passes, in_pieces, length_of, lines, sweep
from tepal.walk._task import MOST_PASSES, Task

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# A pass alone finds the patches on a strip about this wide.
_PATCH_STRIP_M = 30.0
# Passes of a zone so near each other belong to one patch of risk; patches that take less than this share of the metres
# are tried whole, no more of them than so many.
_LIE_TOGETHER_M, _GROUP_MOST, _GROUPS = 30.0, 0.4, 8
# Where passes are few a round of choosing costs little, so there are more of them, up to five times as many.
_MANY, _MOST_ROUNDS = 150, 5.0


@dataclass(frozen=True, slots=True, eq=False)
class _Swept:
    """Passes over all zones, cut into pieces; of each, shape = (n,): its zone, and what a metre of it finds.

    patches: patches found on the strip of ground that is the pass's own, times weight. plants: the same of plants.
    """

    pieces: Passes
    zone: IntArray
    patches: FloatArray
    plants: FloatArray


def zone_drafts(
    task: Task, apart: FloatArray, *, patches: float, alone: Sequence[bool], seed: int, rounds: int
) -> Iterator[FloatArray | None]:
    """Each zone swept at its spacing; of those passes, the ones that pay within the budget.

    apart: metres between passes in each zone. patches: what a patch counts beside a plant. alone: a draft for each,
    whether a pass is worth what it finds walked alone; if not, what it finds on the strip between it and its
    neighbors, which is right where these are walked too.
    """
    swept = _over_zones(task, apart)
    if not 0 < len(swept.pieces) <= 2 * MOST_PASSES:
        return
    s, kept = stretches(swept.pieces, task.trip)
    if not kept:
        return
    numbers = {id(piece): k for k, piece in enumerate(swept.pieces)}
    which = np.array([numbers[id(piece)] for piece in kept])
    length = s.lengths[1:]
    background = min(zone.weight for zone in task.zones)
    strip = _PATCH_STRIP_M if patches > 0.05 else 0.0
    more = 1.0 if task.trip.back else 1.02
    for by_itself in alone:
        plants = task.score.worth_of(kept) if by_itself else swept.plants[which] * length
        values = plants + patches * swept.patches[which] * length
        order = selected(
            s,
            values,
            more * task.trip.budget_m,
            worth_per_m=0.5 * background * (task.sigma_m * math.sqrt(2 * math.pi) + patches * strip),
            rounds=round(rounds * min(max(_MANY / len(kept), 1.0), _MOST_ROUNDS)),
            seed=seed,
            groups=_groups(kept, values, swept.zone[which], apart, task),
        )
        yield joined(order, s, kept, task.trip)


def passes_told(task: Task, apart: FloatArray) -> tuple[tuple[int, int], ...]:
    """How many passes, and of how many metres, a plan has in each zone: where these agree two plans are one.

    A narrow zone has its middle line, at whatever spacing.
    """
    over = [_passes_over(nth, float(w), task) if math.isfinite(w) else [] for nth, w in enumerate(apart)]
    return tuple((len(passes), round(sum(length_of(p) for p in passes))) for passes in over)


def _over_zones(task: Task, apart: FloatArray) -> _Swept:
    passes: Passes = []
    worth: list[tuple[int, float, float]] = []
    for nth, (zone, spacing) in enumerate(zip(task.zones, apart, strict=True)):
        if not math.isfinite(spacing):
            continue
        over = _passes_over(nth, float(spacing), task)
        metres = sum(length_of(p) for p in over)
        # Zones narrower than the spacing have less ground to each metre of pass.
        own = min(float(spacing), zone.area.area / max(metres, 1e-9))
        found = patches_found(float(spacing), task.sigma_m, PATCH_PLANTS, PATCH_SD_M)
        seen = float(share_seen(own, task.sigma_m))
        passes += over
        worth += [(nth, zone.weight * spacing * found, zone.weight * own * seen)] * len(over)
    if not passes:
        return _Swept([], np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    most = max(sum(length_of(p) for p in passes) / MOST_PASSES * 1.6, 40.0)
    cut = [in_pieces([p], most) for p in passes]
    zone_of, patches, plants = np.repeat(np.array(worth), [len(each) for each in cut], axis=0).T
    return _Swept([piece for each in cut for piece in each], zone_of.astype(np.int64), patches, plants)


def _groups(passes: Passes, values: FloatArray, zone: IntArray, apart: FloatArray, task: Task) -> list[IntArray]:
    """Passes of risky patches, each patch small enough to be walked on the way; what is worth most comes last.

    zone: of each pass, shape = (n,). apart: the spacing of passes in each zone.
    """
    lengths = np.array([length_of(p) for p in passes])
    most = _GROUP_MOST * task.trip.budget_m
    light = min(z.weight for z in task.zones)
    found = [
        group
        for group in _together(passes, zone, np.maximum(2 * apart[zone], _LIE_TOGETHER_M))
        if task.zones[zone[group[0]]].weight > light and lengths[group].sum() < most
    ]
    return sorted(found, key=lambda group: float(values[group].sum()))[-_GROUPS:]


def _together(passes: Passes, kinds: IntArray, apart_m: FloatArray) -> list[IntArray]:
    """Passes of one kind, shape = (n,), whose middles lie within `apart_m` (n,) of each other, by chains; as groups."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    middles = np.array([(p[0] + p[-1]) / 2 for p in passes]).reshape(-1, 2)
    near = np.hypot(*(middles[:, None] - middles).transpose(2, 0, 1)) <= np.minimum(apart_m[:, None], apart_m)
    near &= kinds[:, None] == kinds
    _, label = connected_components(coo_array(near), directed=False)
    return [np.flatnonzero(label == k) for k in range(label.max() + 1)] if len(label) else []


def _passes_over(nth: int, spacing: float, task: Task) -> Passes:
    """Passes over a zone; spacings within a fiftieth share theirs, as middle lines and offsets take long to find."""
    key = (nth, round(50 * math.log(spacing)))
    if key not in task.swept:
        spacing, area = math.exp(key[1] / 50), task.zones[nth].area
        if task.rows is None:
            task.swept[key] = sweep(area, spacing, task.sigma_m)
        else:
            end = min(spacing / 2, task.sigma_m)
            task.swept[key] = lines(area, spacing, task.rows, side_m=spacing / 2, end_m=end)
    return task.swept[key]

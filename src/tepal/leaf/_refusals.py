"""When a photo is not measured, and what would help. A wrong number with a small error is worse than a refusal."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._along import Axis
from tepal.leaf._axis import Limb
from tepal.leaf._find import Piece, Scene
from tepal.leaf._ground import Bools
from tepal.leaf._junction import Junction
from tepal.leaf._picture import Photo
from tepal.words import Words

# In working pixels (the longer side of the picture is 1,000) and shares.
_SHORTEST_LEAF = 90.0
_GREEN_GROUND, _GREENISH, _RESTLESS = 0.28, 0.14, 0.085
_WIDEST_EDGE = 13.0
# Steps of brightness (Photo.squeezed): above it more and more of drawn photos are wrong and told with a small error
# (docs/rooms/leaf.md).
_MOST_SQUEEZED = 130.0
_LEAST_PETIOLE = 0.045
_LEAST_STUB = 0.012  # of a petiole that has a colour of its own, against the blade
_SHORT = 0.15  # below this the tip of a blade may be taken for a petiole: its width must not taper
_TAPER, _BLUNT = 0.75, 0.85
_THICK, _POINTED = 0.25, 0.4  # no petiole, however long, is as wide as that, or comes to a point
_STEM, _NO_BLADE = 0.09, 0.05  # greatest width against the length: of a stem; of what is too slim to have any blade
_RIVAL, _COVERED, _CONVEX = 0.55, 0.93, 0.9
_ROUND, _COVERED_ROUND = 0.985, 0.88
_LOPSIDED = 0.3


class NotThis(Exception):
    """A leaf or a photo that is not measured; `another_may_do`: a smaller leaf of the photo may be."""

    def __init__(self, reason: str, *, another_may_do: bool = False) -> None:
        self.reason, self.another_may_do = reason, another_may_do
        super().__init__(reason)


def in_words(reason: str, words: Words | None = None) -> str:
    """Why, and what to do."""
    t = (words or Words()).t
    return {
        "no_leaf": t("No leaf found. Lay a plucked leaf with its petiole on paper; fill half of the picture with it."),
        "cut_by_frame": t("The leaf is cut off by the edge of the picture. Step back until all of it is in."),
        "no_petiole": t("No petiole found. Pluck the leaf at the stem; lay its petiole straight, clear of the blade."),
        "several_touch": t("Leaves lie on each other or touch. Lay one leaf alone, or several well apart."),
        "green_ground": t("The ground is as green as the leaf. Lay the leaf on paper, a clipboard or your palm."),
        "blurred": t("The photo is blurred. Hold still, tap on the leaf to focus, and take it again."),
        "squeezed": t("The photo was squeezed too hard to show a petiole. Send it as the camera made it."),
        "too_small": t("The leaf is too small in the picture. Go nearer until it fills half of it."),
        "stem_only": t("This looks like a stem or petiole without its blade. Lay down a whole leaf."),
        "not_flat": t("The leaf is folded or curled. Press it flat under a clear sheet and take it again."),
    }[reason]  # fmt: skip


def check_photo(photo: Photo) -> None:
    if photo.squeezed > _MOST_SQUEEZED:
        raise NotThis("squeezed")


def check_scene(scene: Scene) -> None:
    if scene.green_ground > _GREEN_GROUND or (scene.green_ground > _GREENISH and scene.restless > _RESTLESS):
        raise NotThis("green_ground")
    if not scene.pieces:
        raise NotThis("no_leaf")


def check_piece(piece: Piece) -> None:
    if piece.at_edge:
        raise NotThis("cut_by_frame", another_may_do=True)
    rows, columns = piece.box
    if np.hypot(rows.stop - rows.start, columns.stop - columns.start) < _SHORTEST_LEAF:
        raise NotThis("too_small")


def check_limbs(
    parts: list[Limb], radius: float, mask: Bools, seen: NDArray[Any], signs: dict[str, float]
) -> list[Limb]:
    """The limbs that may be the petiole, the likeliest first."""
    size = float(np.hypot(*mask.shape))
    signs["fat"] = 2 * radius / size
    if not parts:
        raise NotThis("no_petiole")
    scored: list[tuple[float, float, Limb]] = []
    inner = ndimage.distance_transform_edt(mask)
    lamina = np.median(seen[inner > 0.5 * radius], axis=0)
    for limb in parts:
        thin = 1 - min(1.0, limb.half / limb.corner)
        rows, columns = limb.pixels.T
        core = inner[rows, columns] > 0.4 * limb.half
        away = np.median(seen[rows[core], columns[core]], axis=0) - lamina if core.sum() > 4 else np.zeros(3)
        other = min(1.4, float(np.abs(away[1:]).sum()) / 0.5)
        scored.append((limb.reach * (0.15 + thin) * (0.3 + other) * (0.25 + 0.75 * min(1.0, limb.blunt)), other, limb))
    scored.sort(key=lambda item: -item[0])
    signs.update({f"own_colour_{k}": other for k, (_, other, _) in enumerate(scored[:2])})
    signs["rival"] = scored[1][0] / scored[0][0] if len(scored) > 1 else 0.0
    signs["rival_reach"] = scored[1][2].reach if len(scored) > 1 else 0.0
    return [limb for score, _, limb in scored[:2] if score > 0.6 * scored[0][0]]


def check_leaf(
    axis: Axis, junction: Junction, mask: Bools, limb: Limb, signs: dict[str, float], *, enlarged: float
) -> None:
    """Refuse what was followed but does not look like one whole flat leaf. `signs` collects what was looked at."""
    total = float(axis.along[-1])
    petiole, blade = junction.at, total - junction.at
    lamina = axis.along > junction.at + 0.05 * blade
    width = axis.width[lamina]
    signs["petiole_share"] = petiole / max(blade, 1e-6)
    signs["stem"] = float(np.max(width)) / total if lamina.any() else 0.0
    left, right = axis.left[lamina], axis.right[lamina]
    signs["lopsided"] = float(np.abs(left - right).sum() / max(float(width.sum()), 1.0)) if lamina.any() else 1.0
    # What the slices across the axis cover, of the whole: another leaf below or beside is not covered.
    signs["covered"] = float(np.trapezoid(axis.width, axis.along)) / max(float(mask.sum()), 1.0)
    signs["convex"] = _convexity(mask, limb.corner)
    signs["taper"] = _taper(axis, petiole, (0.2, 0.5), (0.65, 0.95))
    signs["foot"] = _taper(axis, petiole, (0.03, 0.2), (0.3, 0.6))
    stalk = axis.width[(axis.along > 0.15 * petiole) & (axis.along < 0.9 * petiole)]
    thick = float(np.median(stalk)) if len(stalk) else 0.0
    signs["bar"], signs["thin"] = petiole / max(thick, 1.0), thick / max(float(width.max()) if len(width) else 1.0, 1.0)
    if total < _SHORTEST_LEAF:
        raise NotThis("too_small")
    if signs["edge"] > _WIDEST_EDGE * max(1.0, enlarged / 2):
        raise NotThis("blurred")
    # A slim blade on a long petiole is as slim as a stem, but many times as wide as its petiole.
    if signs["stem"] < (_STEM if signs["thin"] > _THICK else _NO_BLADE):
        raise NotThis("stem_only" if signs["covered"] > 0.7 else "several_touch")
    if not _is_petiole(signs):
        raise NotThis("no_petiole")
    # A lopsided blade is not covered to its margins either, but has no bay as between two leaves.
    covered = _COVERED if signs["convex"] < _ROUND else _COVERED_ROUND
    if signs["covered"] < covered or signs["convex"] < _CONVEX:
        raise NotThis("several_touch")
    if signs["rival"] > _RIVAL and signs["rival_reach"] > 0.2 * total:
        raise NotThis("several_touch")
    if signs["lopsided"] > _LOPSIDED:
        raise NotThis("not_flat")


def _is_petiole(signs: dict[str, float]) -> bool:
    """Is it a petiole, or a stub, or the point of a blade? A pigweed's petiole is longer than a seventh of its blade;
    what is shorter must be plainly a bar, and a stub of a colour of its own."""
    share = signs["petiole_share"]
    if share >= _SHORT:
        return signs["thin"] < _THICK and signs["taper"] > _POINTED
    if share >= _LEAST_PETIOLE:
        # A short petiole may widen all the way to the blade: then its foot must be blunt, as no blade's tip is.
        is_bar = signs["taper"] > _TAPER or (signs["taper"] > _POINTED and signs["foot"] > _BLUNT)
        return is_bar and signs["bar"] > 2.0 and signs["thin"] < 0.09
    return share >= _LEAST_STUB and signs["own_colour"] > 0.9 and signs["bar"] > 1.0


def _taper(axis: Axis, petiole: float, one: tuple[float, float], other: tuple[float, float]) -> float:
    """Width of the outer part of a petiole against that of its inner part: near 1 for a bar, a third for a point."""
    s = axis.along / max(petiole, 1e-6)
    outer = axis.width[(s > one[0]) & (s < one[1])]
    inner = axis.width[(s > other[0]) & (s < other[1])]
    return float(np.median(outer) / max(np.median(inner), 1.0)) if len(outer) and len(inner) else 0.0


def _convexity(mask: Bools, corner: float) -> float:
    from scipy.spatial import ConvexHull, QhullError

    body = ndimage.distance_transform_edt(~(ndimage.distance_transform_edt(mask) > corner)) <= corner
    rows, columns = np.nonzero(body)
    try:
        hull = ConvexHull(np.column_stack([columns, rows])[:: max(1, len(rows) // 20000)])
    except QhullError:
        return 1.0
    return float(len(rows) / max(hull.volume, 1.0))

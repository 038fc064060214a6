"""One photo → one leaf, or every leaf in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tepal.leaf._along import Axis, measure_along, normals
from tepal.leaf._axis import Limb, follow, limbs
from tepal.leaf._card import WIDTH_MM, Sheet, find_sheet
from tepal.leaf._doubt import ratio_sd
from tepal.leaf._find import Piece, Scene, find
from tepal.leaf._junction import Junction, locate
from tepal.leaf._outline import chevron, notch_depth, outline_shares
from tepal.leaf._photo import open_photo
from tepal.leaf._picture import Photo
from tepal.leaf._refusals import NotThis, check_leaf, check_limbs, check_photo, check_piece, check_scene, in_words
from tepal.leaf._result import LeafMeasure, Point
from tepal.leaf._sharp import edge_width


@dataclass(frozen=True)
class Traced:
    """A leaf followed, before it is told: for the drawing, the tests and the bench."""

    axis: Axis
    junction: Junction
    piece: Piece
    limb: Limb
    signs: dict[str, float]


def measure(
    image: Any, *, mm_per_px: float | None = None, mm_per_px_sd: float = 0.0, flat: bool = False
) -> LeafMeasure:
    """Measure the largest whole leaf in a photo of plucked leaves on plain ground.

    Parameters
    ----------
    image
        A path, bytes of a file, a Pillow image, or an array (h, w), (h, w, 3) or (h, w, 4).
    mm_per_px
        Millimetres for one pixel of the full-size photo.
    flat
        The picture is a scan or was taken straight from above: no tilt in the standard errors.

    Raises
    ------
    tepal.tables.Refused
        If it is no readable image. A photo that can be read but not measured is no error: see `LeafMeasure.refused`.
    """
    return measure_all(image, mm_per_px=mm_per_px, mm_per_px_sd=mm_per_px_sd, flat=flat, most=1)[0]


def measure_all(
    image: Any, *, mm_per_px: float | None = None, mm_per_px_sd: float = 0.0, flat: bool = False, most: int = 24
) -> tuple[LeafMeasure, ...]:
    """Measure up to `most` whole leaves, the largest first; at least one result, refused if there is none."""
    photo = open_photo(image)
    scene = find(photo.picture, photo.scale)
    sheet = find_sheet(photo.picture) if mm_per_px is None else None
    try:
        check_photo(photo)
        check_scene(scene)
    except NotThis as why:
        return (_refused(why, 0),)
    found: list[LeafMeasure] = []
    whys: list[NotThis] = []
    for piece in scene.pieces:
        if len(found) == most:
            break
        if piece.area < 0.2 * scene.pieces[0].area and (found or whys):
            continue
        try:
            close, scene_, traced = _from_nearer(photo, scene, piece)
        except NotThis as why:
            whys.append(why)
            if most == 1 and not why.another_may_do:
                break
            continue
        found.append(
            replace(
                _told(close, scene_, traced, mm_per_px=mm_per_px, mm_per_px_sd=mm_per_px_sd, sheet=sheet, flat=flat),
                leaves_seen=len(scene.pieces),
            )
        )
    if found and (most > 1 or not whys or whys[0].another_may_do):
        return tuple(found)
    return (_refused(whys[0], len(scene.pieces)),)


def _from_nearer(photo: Photo, scene: Scene, piece: Piece) -> tuple[Photo, Scene, Traced]:
    """One leaf traced; a small one in an enlarged part of the photo, where that finds the same leaf.

    Raises
    ------
    NotThis
        If it cannot be measured.
    """
    close = None if piece.at_edge else photo.nearer(piece.box)
    if close is not None:
        near = find(close.picture, close.scale)
        try:
            check_scene(near)
            same = max(near.pieces, key=lambda one: one.area)
            if _same(close, same, photo, piece):
                return close, near, trace(near, same, close.scale)
        except NotThis:
            pass  # from further off there may be more to be seen
    return photo, scene, trace(scene, piece, photo.scale)


def _same(close: Photo, one: Piece, photo: Photo, other: Piece) -> bool:
    """Do both pieces have the same box in the full photo, to a tenth of its longer side?"""
    boxes = []
    for seen, piece in ((close, one), (photo, other)):
        rows, columns = piece.box
        boxes.append((*seen.full(columns.start, rows.start), *seen.full(columns.stop, rows.stop)))
    x0, y0, x1, y1 = boxes[1]
    off = np.abs(np.array(boxes[0]) - np.array(boxes[1]))
    return bool(off.max() < 0.1 * max(x1 - x0, y1 - y0))


def trace(scene: Scene, piece: Piece, enlarged: float = 1.0) -> Traced:
    """Follow one leaf and find its junction.

    Raises
    ------
    NotThis
        If it cannot be measured.
    """
    check_piece(piece)
    mask, (dy, dx) = _cut(piece.mask, piece)
    parts, radius = limbs(mask)
    signs: dict[str, float] = {"radius": radius}
    seen = _cut(scene.seen, piece)[0]
    may_be = check_limbs(parts, radius, mask, seen, signs)
    signs["edge"] = edge_width(scene.ground.unlike, piece.mask) if scene.ground is not None else 0.0
    refusal: NotThis | None = None
    for k, limb in enumerate(may_be):
        signs["own_colour"] = signs[f"own_colour_{k}"]
        line, root = follow(mask, limb, parts)
        whole = measure_along(mask, line, root)
        junction = locate(whole, None if scene.grey else seen)
        try:
            check_leaf(whole, junction, mask, limb, signs, enlarged=enlarged)
        except NotThis as why:
            refusal = refusal or why
            if why.reason != "no_petiole":
                break
        else:
            shifted = Axis(whole.points + np.array([dx, dy]), whole.along, whole.left, whole.right)
            return Traced(shifted, junction, piece, limb, signs)
    assert refusal is not None
    raise refusal


def _cut(values: NDArray[Any], piece: Piece, margin: int = 6) -> tuple[NDArray[Any], tuple[int, int]]:
    rows, columns = piece.box
    y, x = max(0, rows.start - margin), max(0, columns.start - margin)
    return values[y : rows.stop + margin, x : columns.stop + margin], (y, x)


def _told(
    photo: Photo,
    scene: Scene,
    traced: Traced,
    *,
    mm_per_px: float | None = None,
    mm_per_px_sd: float = 0.0,
    sheet: Sheet | None = None,
    flat: bool = False,
) -> LeafMeasure:
    axis, junction = traced.axis, traced.junction
    scale = photo.scale
    total = float(axis.along[-1])
    petiole, blade = junction.at, total - junction.at
    at = int(np.argmin(np.abs(axis.along - junction.at)))
    lamina = axis.along > junction.at
    width = np.where(lamina, ndimage.gaussian_filter1d(axis.width, 3), 0.0)
    widest = int(np.argmax(width))
    ratio = petiole / blade
    scale_from = "given" if mm_per_px is not None else None
    if sheet is not None:
        # Lengths on the sheet itself: the tilt of the camera falls out.
        on_sheet = _lengths(sheet, photo.whole(axis.points), axis.along, junction.at)
        ratio = on_sheet[0] / on_sheet[1]
        mm_per_px = (on_sheet[0] + on_sheet[1]) / total * scale
        mm_per_px_sd = mm_per_px * float(np.hypot(0.003, sheet.sd_mm / WIDTH_MM))
        scale_from, flat = "sheet", True
    end_sd = np.hypot(0.35 * max(1.0, traced.signs["edge"]), 0.008 * blade)
    sd = ratio_sd(
        petiole, blade, junction.sd, end_sd, long_side=max(photo.width, photo.height) * photo.scale, flat=flat
    )
    normal = normals(axis.points)[widest]
    sides = (axis.points[widest] + normal * axis.left[widest], axis.points[widest] - normal * axis.right[widest])
    length_width = blade / width[widest]
    width_sd = float(np.hypot(1.0, 0.015 * width[widest]))
    length_width_sd = float(
        length_width * np.sqrt((np.hypot(junction.sd, end_sd) / blade) ** 2 + (width_sd / width[widest]) ** 2 + 0.02**2)
    )

    def full(p: NDArray[Any]) -> Point:
        x, y = photo.full(float(p[0]), float(p[1]))
        return (round(x, 2), round(y, 2))

    # The exact place between two points of the line.
    exact = np.array([np.interp(junction.at, axis.along, axis.points[:, k]) for k in (0, 1)])
    notch = notch_depth(traced.piece.mask, axis, at)
    return LeafMeasure(
        petiole_blade_ratio=ratio,
        ratio_sd=sd,
        petiole_px=petiole / scale,
        petiole_sd=float(np.hypot(junction.sd, end_sd)) / scale,
        blade_px=blade / scale,
        blade_sd=float(np.hypot(junction.sd, end_sd)) / scale,
        width_px=float(width[widest]) / scale,
        width_sd=width_sd / scale,
        petiole_base=full(axis.points[0]),
        junction=full(exact),
        tip=full(axis.points[-1]),
        widest=(full(sides[0]), full(sides[1])),
        axis=(*(full(p) for p in axis.points[:: max(1, len(axis.points) // 80)]), full(axis.points[-1])),
        length_width=length_width,
        length_width_sd=length_width_sd,
        widest_at=float((axis.along[widest] - junction.at) / blade),
        tip_notch=notch,
        outline=outline_shares(axis, junction.at),
        chevron=chevron(scene, axis, junction.at),
        mm_per_px=mm_per_px,
        mm_per_px_sd=mm_per_px_sd if mm_per_px is not None else None,
        scale_from=scale_from,
    )


def _lengths(sheet: Sheet, points: NDArray[Any], along: NDArray[Any], junction: float) -> tuple[float, float]:
    """Petiole and blade in mm along the axis as it lies on the sheet."""
    steps = np.linalg.norm(np.diff(sheet.mm(points), axis=0), axis=1)
    so_far = np.concatenate([[0.0], np.cumsum(steps)])
    petiole = float(np.interp(junction, along, so_far))
    return petiole, float(so_far[-1]) - petiole


def _refused(why: NotThis, seen: int) -> LeafMeasure:
    return LeafMeasure(refused=in_words(why.reason), reason=why.reason, leaves_seen=seen)

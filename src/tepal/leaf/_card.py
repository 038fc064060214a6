"""The scale card: a sheet with four rings and a code, of our own making; and how a photo of it is set straight.

Rings stand at the corners of a rectangle of 160 × 200 mm, centres to centres; leaves lie inside. The code names the
sheet and says which corner is which; the rings, larger than the code and further apart, give the exact places. A plane
seen by a camera is drawn by a homography: from four rings, every point of the leaf has its place on the sheet in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Plane = NDArray[np.float64]

TEXT = "TEPAL1"
WIDTH_MM, HEIGHT_MM = 160.0, 200.0
RING_MM, HOLE_MM = 10.0, 5.0
CODE_MM = 26.0
# Corners of the code, its quiet zone left out: top left, top right, bottom right, bottom left.
_CODE_LEFT, _CODE_TOP = (WIDTH_MM - CODE_MM) / 2, -CODE_MM / 2
CODE = np.array(
    [[_CODE_LEFT, _CODE_TOP], [_CODE_LEFT + CODE_MM, _CODE_TOP],
     [_CODE_LEFT + CODE_MM, _CODE_TOP + CODE_MM], [_CODE_LEFT, _CODE_TOP + CODE_MM]]
)  # fmt: skip
RINGS = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])


@dataclass(frozen=True)
class Sheet:
    """`to_mm`: homography (3, 3) from working pixels to mm on the sheet; `sd_mm`: rms of what four rings and the code
    disagree by."""

    to_mm: Plane
    sd_mm: float

    def mm(self, points: NDArray[Any]) -> Plane:
        """Working pixels (n, 2) → mm on the sheet."""
        return _apply(self.to_mm, np.asarray(points, dtype=np.float64))


def find_sheet(picture: NDArray[np.uint8]) -> Sheet | None:
    """The sheet in an RGB picture, or None. A sheet of which a ring is hidden is not used."""
    import zxingcpp

    grey = np.ascontiguousarray(
        (picture.astype(np.float32) @ np.array([0.3, 0.59, 0.11], dtype=np.float32)).astype(np.uint8)
    )
    codes = zxingcpp.read_barcodes(grey, try_downscale=False)
    for code in codes:
        if code.text != TEXT:
            continue
        at = code.position
        corners = np.array(
            [[p.x, p.y] for p in (at.top_left, at.top_right, at.bottom_right, at.bottom_left)], dtype=float
        )
        rings = _rings(grey, corners)
        if rings is None:
            continue
        to_mm = homography(rings, RINGS)
        off = _apply(to_mm, corners) - CODE
        return Sheet(to_mm, float(np.sqrt((off**2).sum(axis=1).mean())))
    return None


def _rings(grey: NDArray[np.uint8], corners: Plane) -> Plane | None:
    """Centres of the four rings: of everything like a ring, what is nearest to where the code points.

    The code is small and its corners are whole pixels, so that it points roughly: an affine map, not a homography.
    """
    design = np.column_stack([CODE, np.ones(4)])
    expected = np.column_stack([RINGS, np.ones(4)]) @ np.linalg.lstsq(design, corners, rcond=None)[0]
    unit = float(np.linalg.norm(np.diff(corners, axis=0), axis=1).mean()) / CODE_MM
    # Dark against what is around it, whatever the light.
    around = ndimage.uniform_filter(grey.astype(np.float32), int(4 * RING_MM * unit) | 1)
    label, _ = ndimage.label(grey < 0.7 * around)
    centres = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        size = np.array([b.stop - b.start for b in box])
        if not (0.5 * RING_MM * unit < size.min() and size.max() < 1.6 * RING_MM * unit):
            continue
        ring = label[box] == k
        filled = ndimage.binary_fill_holes(ring)
        hole = float(filled.sum() - ring.sum()) / float(filled.sum())
        if 0.08 < hole < 0.45 and 0.85 < float(filled.sum()) / float(np.pi / 4 * size[0] * size[1]) < 1.15:
            rows, columns = np.nonzero(filled)
            centres.append((box[1].start + float(columns.mean()), box[0].start + float(rows.mean())))
    if len(centres) < 4:
        return None
    away = np.linalg.norm(expected[:, None] - np.array(centres)[None], axis=2)
    nearest = away.argmin(axis=1)
    if len(set(nearest.tolist())) < 4 or away.min(axis=1).max() > 0.35 * HEIGHT_MM * unit:
        return None
    return np.asarray(np.array(centres)[nearest], dtype=np.float64)


def homography(source: Plane, target: Plane) -> Plane:
    """The projective map (3, 3) that takes points (n ≥ 4, 2) to points (n, 2), by the smallest singular vector."""
    scale_s, scale_t = _norm(source), _norm(target)
    a, b = _apply(scale_s, source), _apply(scale_t, target)
    rows = []
    for (x, y), (u, v) in zip(a, b, strict=True):
        rows.append([-x, -y, -1, 0, 0, 0, u * x, u * y, u])
        rows.append([0, 0, 0, -x, -y, -1, v * x, v * y, v])
    h = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    whole = np.linalg.inv(scale_t) @ h @ scale_s
    return np.asarray(whole / whole[2, 2])


def _norm(points: Plane) -> Plane:
    middle = points.mean(axis=0)
    spread = float(np.abs(points - middle).mean()) or 1.0
    return np.array([[1 / spread, 0, -middle[0] / spread], [0, 1 / spread, -middle[1] / spread], [0, 0, 1]])


def _apply(h: Plane, points: Plane) -> Plane:
    seen = np.column_stack([points, np.ones(len(points))]) @ h.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def card_pdf() -> bytes:
    """The sheet as a PDF for US Letter paper (prints on A4 too, at full size)."""
    import segno
    import typst

    code = segno.make(TEXT, error="m", micro=False, boost_error=False, version=1)
    modules = [list(row) for row in code.matrix]
    side = CODE_MM / len(modules)
    left, top = (215.9 - WIDTH_MM) / 2, 36.0
    draw = [
        f"#place(top + left, dx: {left + x:.3f}mm, dy: {top + y:.3f}mm, "
        f"rect(width: {w:.3f}mm, height: {h:.3f}mm, fill: black))"
        for x, y, w, h in _bars(modules, side)
    ]
    for x, y in RINGS:
        for size, colour in ((RING_MM, "black"), (HOLE_MM, "white")):
            draw.append(
                f"#place(top + left, dx: {left + x - size / 2:.3f}mm, dy: {top + y - size / 2:.3f}mm, "
                f"circle(radius: {size / 2}mm, fill: {colour}))"
            )
    ruler_y = top + HEIGHT_MM + 10
    for mm in range(101):
        tall = 5 if mm % 10 == 0 else 3.5 if mm % 5 == 0 else 2
        draw.append(
            f"#place(top + left, dx: {left + 30 + mm}mm, dy: {ruler_y}mm, "
            f"line(start: (0mm, 0mm), end: (0mm, {tall}mm), stroke: 0.15mm))"
        )
    for cm in range(0, 11, 2):
        draw.append(
            f"#place(top + left, dx: {left + 27 + 10 * cm}mm, dy: {ruler_y + 6}mm, "
            f"box(width: 6mm, align(center)[#text(8pt)[{cm}]]))"
        )
    words = "Lay the leaf flat inside the four rings, its petiole straight. Keep all rings and the code in the picture."
    check = "Print at 100 %. The ruler must be 10 cm (3 15/16 in) long: measure it before the first use."
    source = "\n".join(
        [
            '#set document(title: "Tepal leaf sheet")',
            "#set page(width: 8.5in, height: 11in, margin: 0mm)",
            '#set text(font: "Atkinson Hyperlegible", size: 10pt, lang: "en")',
            f"#place(top + left, dx: {left}mm, dy: 9mm, box(width: {WIDTH_MM}mm)[{words}])",
            f"#place(top + left, dx: {left}mm, dy: {ruler_y + 11}mm, box(width: {WIDTH_MM}mm)[{check}])",
            *draw,
        ]
    )
    fonts = typst.Fonts(include_system_fonts=False, font_paths=list(_fonts()))
    made = typst.compile(source.encode("utf-8"), font_paths=fonts, format="pdf", timestamp=0)
    if not isinstance(made, bytes):
        raise RuntimeError("typst gave no PDF")
    return made


def _bars(modules: list[list[int]], side: float) -> list[tuple[float, float, float, float]]:
    """Runs of dark modules, in mm from the first ring's centre."""
    found = []
    for r, row in enumerate(modules):
        c = 0
        while c < len(row):
            if row[c]:
                end = c
                while end < len(row) and row[end]:
                    end += 1
                found.append((_CODE_LEFT + c * side, _CODE_TOP + r * side, (end - c) * side, side * 1.002))
                c = end
            else:
                c += 1
    return found


def _fonts() -> list[str]:
    from pathlib import Path

    import fontpkg_atkinson_hyperlegible as fonts

    return [str(Path(fonts.__file__).parent)]

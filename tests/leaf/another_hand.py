"""Photos of plucked leaves drawn by another hand: kept for scoring only, nothing in the room was tuned on its seeds.

It shares nothing with `drawn.py` but the record of the truth. There polygons are filled; here every pixel is asked for
its place along and across the leaf's axis, margins run through knots, light falls on a relief, and a camera with a tone
curve, sharpening, noise and JPEG takes the picture. `draw` gives the bytes of the file, as a phone would.

The junction is where the lamina's margin leaves the edge of the petiole; the tip is where the midrib ends, in a notch
its bottom.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage
from scipy.interpolate import PchipInterpolator
from scipy.spatial import cKDTree

from leaf.drawn import Truth

Array = NDArray[np.float64]
Fields = dict[str, Array]

BACKGROUNDS = ("white_paper", "grey_card", "brown_clipboard", "palm", "blue_tarp")
# Half-width against its greatest at shares of the blade, from junction to tip; and length over width.
_KNOTS: dict[str, tuple[tuple[tuple[float, float], ...], tuple[float, float]]] = {
    "ovate": (((0.08, 0.5), (0.2, 0.88), (0.33, 1.0), (0.55, 0.86), (0.75, 0.52), (0.9, 0.21)), (1.3, 2.2)),
    "rhombic": (((0.1, 0.23), (0.22, 0.5), (0.44, 1.0), (0.6, 0.73), (0.75, 0.44), (0.9, 0.17)), (1.3, 2.1)),
    "lanceolate": (((0.08, 0.34), (0.2, 0.74), (0.36, 1.0), (0.55, 0.88), (0.75, 0.54), (0.9, 0.22)), (3.0, 4.6)),
    "elliptic": (((0.08, 0.46), (0.22, 0.8), (0.48, 1.0), (0.7, 0.86), (0.85, 0.6), (0.94, 0.36)), (1.5, 2.6)),
    "obovate": (((0.1, 0.22), (0.3, 0.6), (0.5, 0.9), (0.64, 1.0), (0.8, 0.85), (0.93, 0.5)), (1.3, 2.2)),
    "triangular": (((0.05, 0.74), (0.11, 1.0), (0.3, 0.82), (0.55, 0.53), (0.75, 0.3), (0.9, 0.11)), (1.2, 1.9)),
}
SHAPES = tuple(_KNOTS)
_NOTCH_WIDE = 1.6  # half its width at the top, against its depth


@dataclass
class _Leaf:
    """A leaf on its plane, blade 1 long: the axis drawn on straight past both ends, and what lies across it."""

    axis: Array
    along: Array
    ratio: float
    end: float  # of the midrib, along the axis
    full: float  # of the lamina: past `end` where the tip is notched
    stalk: Callable[[Array], Array]
    sides: tuple[Callable[[Array], Array], Callable[[Array], Array]]
    notch: float
    lobes: tuple[float, float]  # how far lobes reach back, and how far they stay off the axis
    width: float

    def at(self, s: float | Array) -> Array:
        return np.stack([np.interp(s, self.along, self.axis[:, k]) for k in (0, 1)], axis=-1)


def _leaf(rng: np.random.Generator, shape: str, ratio: float) -> _Leaf:
    notch = float(rng.uniform(0.008, 0.05)) if shape != "triangular" and rng.random() < 0.3 else 0.0
    full = ratio + 1 + notch
    n = 900
    along = np.linspace(-0.4, full + 0.4, n)
    u = np.clip(along, 0, full) / full
    bend = rng.normal(0, 0.35)
    curvature = (
        bend * np.exp(-(((u - rng.uniform(0.05, 0.4)) / 0.3) ** 2))
        + rng.normal(0, 0.18) * np.sin(2 * np.pi * u)
        + rng.normal(0, 0.1)
    ) * ((along > 0) & (along < full))
    angle = np.cumsum(curvature) * (along[1] - along[0]) * 1.1
    step = along[1] - along[0]
    axis = np.cumsum(np.column_stack([np.cos(angle), np.sin(angle)]), axis=0) * step
    thin = float(rng.uniform(0.010, 0.022) * (0.6 if shape == "lanceolate" else 1.0))
    taper, foot = rng.uniform(-0.35, 0.15), rng.uniform(0, 0.9)
    flare, over = (rng.uniform(0.1, 0.7) if rng.random() < 0.5 else 0.0), rng.uniform(0.03, 0.1)

    def stalk(s: Array) -> Array:
        to_blade = np.clip(s / ratio, 0, 1)
        half = 1 + taper * (to_blade - 0.5) + foot * np.exp(-np.clip(s, 0, None) / 0.03)
        half = half + flare * np.exp(-np.clip(ratio - s, 0, None) / over)
        return np.asarray(thin * half * np.sqrt(np.clip(1 - np.clip(1 - s / (1.1 * thin), 0, 1) ** 2, 0, 1)))

    knots, slim = _KNOTS[shape]
    half = 0.5 / rng.uniform(*slim)
    base = float(rng.choice([0.55, 0.8, 1.0, 1.25], p=[0.25, 0.3, 0.3, 0.15]))
    blunt = notch > 0 or rng.random() < 0.35
    places = np.array([t for t, _ in knots]) + rng.normal(0, 0.012, len(knots))
    heights = np.array([w for _, w in knots]) * (1 + rng.normal(0, 0.04, len(knots)))
    sides = []
    for _ in range(2):
        w = heights * (1 + rng.normal(0, 0.03)) * half
        inner = PchipInterpolator(np.concatenate([[-0.02], places, [1.0]]), np.concatenate([[0.0], w, [0.0]]))
        first, last = places[0], places[-1]
        ripple = [(rng.uniform(20, 60), rng.uniform(0, 6), rng.choice([0.0, 0.002, 0.005]))]
        ripple += [(rng.uniform(3, 9), rng.uniform(0, 6), rng.uniform(0, 0.012))]

        def side(s: Array, w: Array = w, inner: Any = inner, ripple: Any = ripple, ends: Any = (first, last)) -> Array:
            t = (s - ratio) / (full - ratio)
            first, last = ends
            grown = inner(np.clip(t, 0, 1))
            grown = np.where(t < first, w[0] * (np.clip(t, 0, None) / first) ** base, grown)
            if blunt:
                grown = np.where(t > last, w[-1] * np.sqrt(np.clip((1 - t) / (1 - last), 0, 1)), grown)
            keep = np.clip(t / 0.15, 0, 1) * np.clip((1 - t) / 0.12, 0, 1)
            for pitch, phase, high in ripple:
                grown = grown + keep * high * np.sin(pitch * 2 * np.pi * t + phase)
            edge = float(stalk(np.array([ratio]))[0]) * np.exp(-np.clip(s - ratio, 0, None) / 0.12)
            return np.where((t > 0) & (t < 1), np.maximum(grown, 0) + np.minimum(edge, 4 * np.clip(1 - t, 0, 1)), 0.0)

        sides.append(side)
    lobes = (rng.uniform(0.02, 0.07), rng.uniform(2.2, 4.0) * thin) if shape == "ovate" and rng.random() < 0.2 else None
    s = np.linspace(ratio, full, 400)
    return _Leaf(
        axis, along, ratio, full - notch, full, stalk, (sides[0], sides[1]), notch, lobes or (0.0, 0.0),
        float((sides[0](s) + sides[1](s)).max()),
    )  # fmt: skip


def _lobes_past(leaf: _Leaf) -> float:
    """How far both sides of the lamina reach past the bottom of the notch: less than it was cut, in a narrow tip."""
    if not leaf.notch:
        return 0.0
    s = np.linspace(leaf.end, leaf.full, 400)
    cut = _NOTCH_WIDE * leaf.notch * (1 - (leaf.full - s) / leaf.notch)
    reach = [s[side(s) > cut].max(initial=leaf.end) for side in leaf.sides]
    return float(min(reach) - leaf.end)


# ------------------------------------------------------------------ where each pixel lies


@dataclass(frozen=True)
class _View:
    """Plane → picture: turned, scaled, moved, seen by a pinhole camera that leans."""

    turn: float
    scale: float
    origin: Array
    middle: Array
    tilt: float
    toward: float
    focal: float

    def _lean(self) -> tuple[Array, Array]:
        d = np.array([np.cos(self.toward), np.sin(self.toward)])
        return d, np.array([-d[1], d[0]])

    def see(self, points: Array) -> Array:
        c, s = np.cos(self.turn), np.sin(self.turn)
        p = (points - self.origin) * self.scale @ np.array([[c, s], [-s, c]])
        d, e = self._lean()
        u, v = p @ d, p @ e
        depth = 1 + u * np.sin(self.tilt) / self.focal
        return np.asarray((u * np.cos(self.tilt) / depth)[..., None] * d + (v / depth)[..., None] * e + self.middle)

    def back(self, points: Array) -> Array:
        d, e = self._lean()
        q = points - self.middle
        a, b = q @ d, q @ e
        u = a / (np.cos(self.tilt) - a * np.sin(self.tilt) / self.focal)
        v = b * (1 + u * np.sin(self.tilt) / self.focal)
        c, s = np.cos(self.turn), np.sin(self.turn)
        p = u[..., None] * d + v[..., None] * e
        return np.asarray(p @ np.array([[c, -s], [s, c]]) / self.scale + self.origin)


def _place(leaf: _Leaf, view: _View, shape: tuple[int, int], step: int = 4) -> tuple[Array, Array]:
    """Along and across (left positive) the axis, for every pixel: reckoned on a coarse grid, both being smooth."""
    h, w = shape
    y, x = np.mgrid[0 : h + step : step, 0 : w + step : step].astype(float)
    p = view.back(np.stack([x, y], axis=-1)).reshape(-1, 2)
    _, near = cKDTree(leaf.axis).query(p)
    tangent = np.gradient(leaf.axis, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    off = p - leaf.axis[near]
    s = leaf.along[near] + np.sum(off * tangent[near], axis=1)
    d = off[:, 1] * tangent[near, 0] - off[:, 0] * tangent[near, 1]
    at = np.mgrid[0:h, 0:w].astype(np.float32) / step
    return tuple(  # type: ignore[return-value]
        ndimage.map_coordinates(v.reshape(x.shape), at, order=1) for v in (s, d)
    )


def _cover(leaf: _Leaf, view: _View, s: Array, d: Array) -> Fields:
    """Cover (0 to 1) of lamina and petiole at each pixel; its edge is one pixel wide."""
    a = np.abs(d)
    grid = np.linspace(0, leaf.full, 3000)
    left, right = (np.interp(s, grid, side(grid), left=0, right=0) for side in leaf.sides)
    half = np.where(d > 0, left, right)
    stalk = np.where(s < leaf.ratio + 0.01, np.interp(s, grid, leaf.stalk(grid), left=0, right=0), 0.0)

    def ramp(inside: Array) -> Array:
        return np.clip(0.5 + inside * view.scale, 0, 1)

    lamina = ramp(half - a) * (half > 0)
    if leaf.notch:
        wide = _NOTCH_WIDE * leaf.notch
        lamina = np.minimum(lamina, ramp(leaf.full - leaf.notch * np.clip(1 - a / wide, 0, 1) - s))
    back, off = leaf.lobes
    if back:
        reach = 0.45 * leaf.width
        middle, radius = 0.5 * (off + reach), 0.5 * (reach - off)
        round_ = back * np.sqrt(np.clip(1 - ((a - middle) / radius) ** 2, 0, 1))
        lobe = ramp(s - leaf.ratio + round_) * (s < leaf.ratio + 0.02) * (np.abs(a - middle) < radius)
        lamina = np.maximum(lamina, lobe)
    return {"lamina": lamina, "stalk": ramp(stalk - a) * (stalk > 0), "half": half, "thin": np.maximum(stalk, 1e-4)}


# ------------------------------------------------------------------ grounds


def _clouds(rng: np.random.Generator, shape: tuple[int, int], grain: float) -> Array:
    """Smooth noise of unit sd, its lumps `grain` pixels wide."""
    step = max(1, int(grain / 2))
    small = rng.normal(size=(shape[0] // step + 4, shape[1] // step + 4))
    small = ndimage.gaussian_filter(small, grain / step / 2)
    at = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32) / step + 1
    found = ndimage.map_coordinates(small, at, order=1)
    return np.asarray(found / (found.std() + 1e-9))


def _linear(rgb: Any) -> Array:
    return np.asarray((np.asarray(rgb, dtype=float) / 255) ** 2.2)


def _paper(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    h, w = shape
    y, x = np.mgrid[0:h, 0:w]
    tone = 1 + 0.012 * _clouds(rng, shape, 3) + 0.02 * _clouds(rng, shape, 120)
    picture = _linear(np.array([238, 237, 233]) + rng.normal(0, 6, 3))[None, None] * tone[..., None]
    if rng.random() < 0.15:  # ruled
        pitch = rng.uniform(0.03, 0.05) * w
        rule = np.exp(-((((y + 0.02 * x) % pitch) - pitch / 2) ** 2) / 1.5)
        picture *= 1 - rule[..., None] * np.array([0.3, 0.15, 0.05])
    if rng.random() < 0.3:  # a fold
        a = rng.uniform(0, np.pi)
        far = (x - w * rng.uniform(0.2, 0.8)) * np.cos(a) + (y - h / 2) * np.sin(a)
        picture *= (1 + 0.05 * np.tanh(far / 30) - 0.08 * np.exp(-((far / 2.5) ** 2)))[..., None]
    return picture


def _card(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    base = _linear(np.full(3, rng.uniform(85, 190)) + rng.normal(0, 3.5, 3))
    return (
        base
        * (1 + 0.05 * rng.normal(size=shape) + 0.04 * _clouds(rng, shape, 5) + 0.03 * _clouds(rng, shape, 200))[
            ..., None
        ]
    )


def _board(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    """Pressed fibre: short light and dark flecks, each way; now and then the clip at the rim."""
    h, w = shape
    fleck = np.zeros(shape)
    for angle in rng.uniform(0, 180, 3):
        noise = ndimage.gaussian_filter1d(rng.normal(size=shape), 5, axis=int(angle > 90))
        fleck += ndimage.gaussian_filter(noise, 0.6) / noise.std()
    base = _linear(np.array([[132, 94, 62], [158, 118, 80], [104, 72, 48], [176, 138, 98]][rng.integers(4)]))
    tone = 1 + rng.uniform(0.03, 0.09) * fleck + 0.07 * _clouds(rng, shape, 60)
    picture = base * np.clip(tone, 0.2, 3)[..., None]
    picture *= 1 + 0.03 * _clouds(rng, shape, 9)[..., None] * np.array([0.4, 0.0, -0.6])
    if rng.random() < 0.25:
        deep = int(rng.uniform(0.02, 0.05) * h)
        x = np.linspace(0, 1, w)
        picture[:deep] = (0.35 + 0.3 * np.cos(9 * x) ** 2)[None, :, None] * np.array([1.0, 1.0, 1.03])
    return picture


def _palm(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    """Skin with creases and the seams between fingers; in a third of them the rim of the hand, something behind it."""
    h, w = shape
    size = max(shape)
    y, x = np.mgrid[0:h, 0:w] / size
    tones = np.array([[236, 198, 178], [222, 172, 142], [196, 142, 108], [164, 112, 82], [126, 84, 62], [92, 62, 48]])
    base = _linear(tones[rng.integers(len(tones))] + rng.normal(0, 5, 3))
    blotch = 0.05 * _clouds(rng, shape, 60)
    tone = 1 + 0.03 * _clouds(rng, shape, 4) + 0.06 * _clouds(rng, shape, 140)
    a = rng.uniform(-0.5, 0.5)
    across, up = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    for _ in range(rng.integers(2, 5)):  # creases
        line = up - rng.uniform(0.1, 0.8) - rng.uniform(-0.5, 0.5) * (across - 0.5)
        line = line - rng.uniform(-1, 1) * (across - 0.5) ** 2
        tone = tone * (1 - rng.uniform(0.1, 0.35) * np.exp(-((line / rng.uniform(0.002, 0.006)) ** 2)))
    seams = rng.uniform(0.18, 0.3)
    finger = np.abs(((across / seams + rng.uniform(0, 1)) % 1) - 0.5) * 2  # 1 at a seam
    root = 1 / (1 + np.exp((up - rng.uniform(0.15, 0.45)) / 0.03))
    tone = tone * (1 - root * (0.25 * finger**4 + 0.45 * np.exp(-(((finger - 1) / 0.04) ** 2))))
    skin = base * np.clip(tone, 0.1, 3)[..., None]
    skin *= 1 + blotch[..., None] * np.array([0.7, 0.0, -0.3])
    if rng.random() < 0.35:
        edge = (across - 0.5 * w / size) ** 2 / 0.5**2 + (up - 0.5 * h / size) ** 2 / 0.62**2 - rng.uniform(0.7, 1.0)
        edge = edge + 0.12 * root * np.exp(-(((finger - 1) / 0.1) ** 2))
        behind = _linear(np.array([[58, 72, 104], [96, 78, 60], [140, 138, 134]][rng.integers(3)]))
        behind = behind * (1 + 0.12 * _clouds(rng, shape, 5) + 0.1 * rng.normal(size=shape))[..., None]
        skin *= (1 - 0.4 * np.exp(-np.clip(-edge, 0, None) / 0.06))[..., None]
        hand = np.clip(0.5 - edge * size / 4, 0, 1)[..., None]
        skin = behind + (skin - behind) * hand
    return np.asarray(skin)


def _tarp(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    """Woven ribbons, over and under, with a sheen on the wrinkles."""
    h, w = shape
    pitch = rng.uniform(4, 14)
    y, x = np.mgrid[0:h, 0:w].astype(float)
    a = rng.uniform(-0.4, 0.4)
    x, y = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    over = (np.floor(x / pitch) + np.floor(y / pitch)) % 2
    ribbon = np.where(over > 0, np.sin(np.pi * (x / pitch % 1)), np.sin(np.pi * (y / pitch % 1)))
    relief = _clouds(rng, shape, 140) + 0.4 * _clouds(rng, shape, 45)
    slope = np.gradient(ndimage.gaussian_filter(relief, 4))
    light = slope[0] * rng.normal() + slope[1] * rng.normal()
    light /= light.std() + 1e-9
    tone = (0.82 + rng.uniform(0.05, 0.3) * ribbon) * (1 + 0.1 * light)
    base = _linear(np.array([[38, 86, 158], [30, 104, 176], [52, 78, 140], [70, 120, 190]][rng.integers(4)]))
    picture = base * np.clip(tone, 0.1, 3)[..., None]
    return np.asarray(picture + (np.clip(light - 1.6, 0, 2) * 0.06)[..., None])


_GROUNDS = {"white_paper": _paper, "grey_card": _card, "brown_clipboard": _board, "palm": _palm, "blue_tarp": _tarp}


def _lawn(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    tone, hue = np.zeros(shape), np.zeros(shape)
    for _ in range(4):
        noise = ndimage.gaussian_filter1d(rng.normal(size=shape), 18, axis=0)
        noise = ndimage.rotate(noise, rng.uniform(-40, 40), reshape=False, order=1, mode="wrap")
        tone += np.maximum(tone, noise / noise.std())
        hue += noise / noise.std()
    picture = _linear(np.array([78, 112, 44])) * np.clip(0.6 + 0.16 * tone, 0.05, 2)[..., None]
    return np.asarray(picture * (1 + 0.06 * hue[..., None] * np.array([1.0, 0.2, -0.5])))


# ------------------------------------------------------------------ the leaf in colour


def _painted(
    rng: np.random.Generator, leaf: _Leaf, view: _View, under: Array, bare: str | None = None
) -> tuple[Array, dict[str, Any]]:
    """The leaf and its shadow over a ground in linear light; `bare`: 'stem' draws no lamina, 'blade' no petiole."""
    shape = under.shape[:2]
    size = max(shape)
    s, d = _place(leaf, view, shape)
    c = _cover(leaf, view, s, d)
    lamina, stalk = c["lamina"], c["stalk"]
    if bare == "stem":
        lamina = np.zeros(shape)
    if bare == "blade":
        stalk = np.zeros(shape)
    t = np.clip((s - leaf.ratio) / (leaf.full - leaf.ratio), 0, 1)
    a = np.abs(d)
    rim = None
    for _ in range(int(rng.choice([0, 0, 1, 4]))):  # holes with a brown rim; some are bites out of the margin
        hs, hd = leaf.ratio + rng.uniform(0.2, 0.85), rng.uniform(-1, 1) * 0.5 * leaf.width
        r = rng.uniform(0.006, 0.035)
        lump = 1 + 0.25 * np.sin(3 * np.arctan2(d - hd, s - hs) + rng.uniform(0, 6))
        far = np.hypot(s - hs, d - hd) - r * lump
        lamina = np.minimum(lamina, np.clip(0.5 + far * view.scale, 0, 1))
        brown = np.exp(-np.clip(far, 0, None) / 0.006)
        rim = brown if rim is None else np.maximum(rim, brown)
    cover = np.maximum(lamina, stalk)
    # Sun: a shadow as sharp as the leaf is near; sky: a soft one that clings.
    way, far_ = rng.uniform(0, 2 * np.pi), rng.uniform(0.0, 0.018) * size
    moved = ndimage.shift(cover, (far_ * np.sin(way), far_ * np.cos(way)), order=1)
    sun = ndimage.gaussian_filter(moved, rng.uniform(0.5, 1) * (0.001 * size + 0.3 * far_)) * rng.uniform(0, 0.65)
    sky = ndimage.gaussian_filter(cover, rng.uniform(0.004, 0.012) * size) * rng.uniform(0, 0.35)
    dark = (1 - sun) * (1 - sky)
    picture = under * (dark[..., None] ** np.array([1.03, 1.0, 0.96]))
    # The lamina: a relief of veins and swellings between them, under one light.
    pitch, slant, curl = rng.uniform(0.06, 0.11), rng.uniform(0.5, 1.1), rng.uniform(0, 0.8)
    row = (s - leaf.ratio - slant * a - curl * a**2) / pitch + 0.15 * np.sign(d)
    between = np.abs((row % 1) - 0.5) * 2  # 1 on a vein
    thick = np.clip(1.2 - a / (0.45 * leaf.width + 1e-6), 0.2, 1)
    vein = np.exp(-(((1 - between) * pitch * 0.5 / (0.0035 * thick)) ** 2)) * (t > 0)
    net = np.exp(-((_clouds(rng, shape, max(3.0, 0.012 * size)) / 0.25) ** 2))
    relief = rng.uniform(0.002, 0.012) * (1 - between**2) - 0.01 * np.exp(-((a / 0.02) ** 2))
    relief = relief + rng.normal(0, 0.35) * d**2
    gy, gx = np.gradient(relief * view.scale)
    lamp = np.array([np.cos(way), np.sin(way)]) * rng.uniform(0.2, 0.8)
    lit = np.clip(1 - (gx * lamp[0] + gy * lamp[1]), 0.4, 1.6)
    gloss = np.clip(1 - np.hypot(gx - 0.5 * lamp[0] + 0.3, gy - 0.5 * lamp[1]) / 0.25, 0, 1) ** 2
    gloss = gloss * rng.choice([0.0, 0.08, 0.2])
    greens = np.array([[70, 112, 44], [54, 96, 50], [92, 132, 60], [44, 82, 40], [118, 152, 74], [60, 100, 66]])
    green = _linear(greens[rng.integers(len(greens))] + rng.normal(0, 5, 3))
    painted = green * lit[..., None] * (1 + 0.06 * _clouds(rng, shape, 50) + 0.04 * net)[..., None] + gloss[..., None]
    if rng.random() < 0.25:  # yellowing or reddening from the margin in
        tinge = _linear([[178, 170, 70], [120, 60, 56]][rng.integers(2)])
        by_rim = np.exp(-np.clip(c["half"] - a, 0, None) / 0.03) * rng.uniform(0.1, 0.45)
        painted = painted + (tinge - painted) * by_rim[..., None]
    stalks = np.array([[150, 178, 100], [186, 196, 148], [190, 130, 116], [164, 60, 66], [126, 44, 70], [118, 150, 80]])
    one = _linear(stalks[rng.integers(len(stalks))] + rng.normal(0, 6, 3))
    other = _linear(stalks[rng.integers(len(stalks))]) if rng.random() < 0.35 else one
    mix = np.clip(s / leaf.ratio, 0, 1)[..., None]
    stalk_colour = one + (other - one) * mix
    round_ = np.clip(1.1 - 0.45 * (a / c["thin"]) ** 2, 0.4, 1.2) * (1 + 0.06 * _clouds(rng, shape, 6))
    shine = np.exp(-(((d / c["thin"] - 0.35 * np.sign(lamp[0])) / 0.25) ** 2)) * rng.choice([0.0, 0.06, 0.15])
    stalk_colour = stalk_colour * round_[..., None] + shine[..., None]
    pale = _linear([196, 206, 160])
    vein_colour = pale if rng.random() < 0.6 else other
    painted = painted + (vein_colour - painted) * (vein * rng.uniform(0.05, 0.4))[..., None]
    marked = rng.random() < 0.3
    if marked:
        k = leaf.ratio + rng.uniform(0.35, 0.65)
        sign, wide = rng.choice([-1.0, 1.0]), rng.uniform(0.02, 0.045)
        band = np.exp(-(((s + sign * rng.uniform(0.5, 1.2) * a - k) / wide) ** 2)) * np.clip(a / 0.02, 0, 1)
        painted = painted + (_linear([186, 204, 168]) - painted) * (band * rng.uniform(0.25, 0.6))[..., None]
    if rim is not None:
        painted = painted + (_linear([110, 84, 48]) - painted) * rim[..., None]
    rib = float(leaf.stalk(np.array([leaf.ratio]))[0]) * np.clip(1 - t, 0, 1) ** rng.uniform(0.7, 1.3)
    rib = rib * rng.uniform(0.5, 0.95)
    on_rib = np.clip(0.5 + (rib - a) * view.scale, 0, 1) * (t > 0) * np.exp(-t / rng.uniform(0.2, 1.5))
    rib_round = np.clip(1.1 - 0.4 * (a / np.maximum(rib, 1e-4)) ** 2, 0.5, 1.2)
    painted = painted + (other * rib_round[..., None] - painted) * on_rib[..., None]
    picture = picture + (stalk_colour - picture) * stalk[..., None]
    picture = picture + (painted - picture) * lamina[..., None]
    return picture, {"chevron": "present" if marked else "absent", "notch": leaf.notch}


# ------------------------------------------------------------------ the camera


def _taken(rng: np.random.Generator, light: Array, enlarge: float, blur: float | None) -> bytes:
    """Linear light → the bytes of a JPEG: falling light, somebody's shadow, lens, tone curve, sharpening, noise."""
    h, w = light.shape[:2]
    y, x = np.mgrid[0:h, 0:w]
    x, y = x / w - 0.5, y / h - 0.5
    fall = 1 + rng.normal(0, 0.2) * x + rng.normal(0, 0.2) * y - rng.uniform(0, 0.7) * (x**2 + y**2)
    if rng.random() < 0.35:
        a = rng.uniform(0, 2 * np.pi)
        edge = x * np.cos(a) + y * np.sin(a) - rng.uniform(-0.3, 0.4)
        fall = fall * (1 - rng.uniform(0.15, 0.6) / (1 + np.exp(-edge / rng.uniform(0.008, 0.08))))
    light = light * np.clip(fall, 0.05, None)[..., None] * (1 + rng.normal(0, 0.05, 3)) * rng.uniform(0.8, 1.15)
    sigma = rng.uniform(0.3, 1.0) * max(h, w) / 1100 if blur is None else blur
    light = np.clip(ndimage.gaussian_filter(light, (sigma, sigma, 0)), 0, None)
    if enlarge != 1:
        flat = [Image.fromarray(light[..., k].astype(np.float32)) for k in range(3)]
        size = (round(w * enlarge), round(h * enlarge))
        light = np.stack([np.asarray(f.resize(size, Image.Resampling.BICUBIC)) for f in flat], axis=2)
        light = np.clip(light, 0, None)
    noise = rng.uniform(0.001, 0.012)
    light = light + rng.normal(size=light.shape).astype(np.float32) * np.sqrt(light * noise**2 + (0.3 * noise) ** 2)
    tone = np.clip(light, 0, 1) ** (1 / 2.2)
    tone = tone + rng.uniform(0, 0.12) * (3 * tone**2 - 2 * tone**3 - tone)  # a curve with a toe
    soft = ndimage.gaussian_filter(tone, (1.2, 1.2, 0))
    tone = tone + rng.uniform(0, 0.9) * (tone - soft)
    out = io.BytesIO()
    picture = Image.fromarray((np.clip(tone, 0, 1) * 255).astype(np.uint8))
    picture.save(out, "JPEG", quality=int(rng.integers(60, 96)), subsampling=int(rng.choice([0, 2])))
    return out.getvalue()


def draw(
    rng: np.random.Generator,
    *,
    background: str,
    shape: str | None = None,
    ratio: float | None = None,
    fault: str | None = None,
    megapixels: float | None = None,
) -> tuple[bytes, Truth]:
    """One JPEG and its truth. `fault` as in `drawn.draw`: petiole_cut, overlapping, none, grass, blurred, stem_only,
    no_petiole."""
    shape = shape or str(rng.choice(SHAPES))
    ratio = float(rng.uniform(0.2, 1.8)) if ratio is None else ratio
    wanted = float(np.exp(rng.uniform(np.log(0.5), np.log(8)))) if megapixels is None else megapixels
    area = min(wanted, 1.1) * 1e6
    high, wide = (int((area * f) ** 0.5) for f in ((0.75, 4 / 3), (4 / 3, 0.75))[rng.integers(2)])
    leaf = _leaf(rng, shape, ratio)
    tilt = float(np.deg2rad(abs(rng.normal(0, 2.5))))
    turn = rng.uniform(0, 2 * np.pi)
    s = np.linspace(0, leaf.full, 200)
    line = leaf.at(s)
    tangent = np.gradient(line, axis=0)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]]) / np.linalg.norm(tangent, axis=1, keepdims=True)
    every = np.vstack([line + normal * leaf.sides[0](s)[:, None], line - normal * leaf.sides[1](s)[:, None], line])
    c, sn = np.cos(turn), np.sin(turn)
    turned = every @ np.array([[c, sn], [-sn, c]])
    span = np.ptp(turned, axis=0)
    fill = float(rng.uniform(0.35, 0.88))
    scale = float(min(wide / span[0], high / span[1])) * fill
    centre = 0.5 * (turned.min(axis=0) + turned.max(axis=0)) @ np.array([[c, -sn], [sn, c]])
    spare = np.array([wide, high]) - span * scale
    middle = np.array([wide, high]) / 2 + rng.uniform(-0.3, 0.3, 2) * spare
    view = _View(turn, scale, centre, middle, tilt, rng.uniform(0, 2 * np.pi), rng.uniform(0.75, 1.2) * max(wide, high))
    if fault == "petiole_cut":
        gone, foot, join = (view.see(leaf.at(v)) for v in (ratio * rng.uniform(0.35, 0.8), 0.0, ratio))
        out = foot - join
        k = int(abs(out[1]) > abs(out[0]))
        shift = np.zeros(2)
        shift[k] = ((wide, high)[k] if out[k] > 0 else 0) - gone[k]
        view = _View(turn, scale, centre, middle + shift, tilt, view.toward, view.focal)
    ground = _lawn(rng, (high, wide)) if fault == "grass" else _GROUNDS[background](rng, (high, wide))
    more: dict[str, Any] = {"chevron": "absent", "notch": 0.0}
    if fault == "overlapping":
        second = _leaf(rng, str(rng.choice(SHAPES)), ratio)
        over = view.see(leaf.at(leaf.ratio + rng.uniform(0.2, 0.8)))
        beside = _View(
            turn + rng.uniform(0.8, 2.2), scale * rng.uniform(0.75, 1.0),
            second.at(second.ratio + rng.uniform(0.3, 0.7)), over, 0.0, 0.0, view.focal,
        )  # fmt: skip
        ground, _ = _painted(rng, second, beside, ground)
    if fault != "none":
        bare = {"stem_only": "stem", "no_petiole": "blade"}.get(fault or "")
        ground, more = _painted(rng, leaf, view, ground, bare)
    enlarge = max(1.0, (wanted * 1e6 / (wide * high)) ** 0.5)
    raw = _taken(rng, ground, enlarge, rng.uniform(0.012, 0.02) * max(wide, high) if fault == "blurred" else None)
    fine = np.linspace(0, leaf.end, 1500)
    seen = view.see(leaf.at(fine))
    so_far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(seen, axis=0), axis=1))])
    at = float(np.interp(ratio, fine, so_far))
    blade = leaf.end - ratio
    points = [tuple(float(v) for v in (view.see(leaf.at(p)) + 0.5) * enlarge - 0.5) for p in (0.0, ratio, leaf.end)]
    more |= {"tilt_deg": float(np.rad2deg(tilt)), "fault": fault or "none", "traced": at / (so_far[-1] - at)}
    more |= {"fill": fill, "notch": _lobes_past(leaf) / blade, "length_width": blade / leaf.width}
    return raw, Truth(
        ratio / blade, ratio * scale * enlarge, blade * scale * enlarge, leaf.width * scale * enlarge,
        points[0], points[1], points[2], "another_hand", background, shape, more,
    )  # fmt: skip

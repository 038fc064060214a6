"""Photos of plucked leaves, drawn, with exact truth: three ways of drawing, five backgrounds.

No open photo shows a leaf whose petiole is longer than its blade. These drawings take their place; they share nothing
with the room that measures them. A leaf is drawn on a plane as polygons along a curved axis; the plane is seen by a
pinhole camera that may be tilted; lengths, and so the ratio, are those on the plane.

The junction is where the lamina's margin leaves the edge of the petiole.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.spatial import cKDTree

Array = NDArray[np.float64]

BACKGROUNDS = ("white_paper", "grey_card", "brown_clipboard", "palm", "blue_tarp")
STYLES = ("shaded", "textured", "flat")
SHAPES = ("ovate", "elliptic", "lanceolate", "rhombic", "obovate", "cordate", "wedge")
_OVER = 2


@dataclass(frozen=True)
class Truth:
    """What was drawn. Points in pixels of the picture, lengths in pixels on the plane (at its middle)."""

    ratio: float
    petiole_px: float
    blade_px: float
    width_px: float
    base: tuple[float, float]
    junction: tuple[float, float]
    tip: tuple[float, float]
    style: str
    background: str
    shape: str
    more: dict[str, Any] = field(default_factory=dict)


# ------------------------------------------------------------------ the leaf on its plane


@dataclass
class _Leaf:
    axis: Array  # (n, 2), from the petiole's base to the tip
    along: Array  # length along the axis, of each point
    junction: float  # where the margin leaves the petiole, along the axis
    end: float
    lamina: list[Array]  # polygons on the plane
    petiole: list[Array]
    midrib: Array
    stipules: list[Array]
    holes: list[Array]
    width: float
    start: float  # where the lamina begins, be it hidden under the petiole
    notch: float = 0.0  # depth of the notch in the tip
    marked: bool = False  # with a pale chevron


def _curve(rng: np.random.Generator, petiole: float, blade: float, bend: float) -> tuple[Array, Array]:
    """A smooth axis: its direction turns slowly, more in the petiole than in the blade."""
    n = 700
    total = petiole + blade
    s = np.linspace(0, total, n)
    t = s / total
    split = petiole / total
    turn = (
        bend * rng.normal() * np.clip(t / max(split, 0.05), 0, 1.2)
        + 0.5 * bend * rng.normal() * np.sin(np.pi * t)
        + 0.35 * bend * rng.normal() * t**2
    )
    step = total / (n - 1)
    x = np.concatenate([[0], np.cumsum(np.cos(turn[:-1]) * step)])
    y = np.concatenate([[0], np.cumsum(np.sin(turn[:-1]) * step)])
    return np.column_stack([x, y]), s


def _half_width(rng: np.random.Generator, shape: str, t: Array) -> Array:
    """Half the lamina's width at t = 0 (start) to 1 (tip), its greatest value 1."""
    if shape == "rhombic":
        peak = rng.uniform(0.4, 0.55)
        soft = rng.uniform(0.05, 0.12)
        w = np.minimum(t / peak, (1 - t) / (1 - peak))
        w = ndimage.gaussian_filter1d(w, soft * len(t) * 0.5, mode="nearest")
        w = w * np.clip(t / 0.02, 0, 1) ** 0.5
    else:
        low, high = {
            "ovate": ((0.45, 0.75), (0.9, 1.3)),
            "elliptic": ((0.6, 0.9), (0.6, 0.9)),
            "lanceolate": ((0.6, 0.95), (1.0, 1.4)),
            "obovate": ((1.0, 1.4), (0.5, 0.7)),
            "cordate": ((0.35, 0.5), (0.9, 1.2)),
            "wedge": ((1.05, 1.45), (0.9, 1.2)),
        }[shape]
        a, b = rng.uniform(*low), rng.uniform(*high)
        w = np.clip(t, 0, 1) ** a * np.clip(1 - t, 0, 1) ** b
    return np.asarray(w / w.max())


def _leaf(rng: np.random.Generator, shape: str, ratio: float, style: str, *, stalk: float = 1.0) -> _Leaf:
    blade = 1.0
    slim = {"lanceolate": (2.4, 4.2), "cordate": (1.1, 1.6), "rhombic": (1.3, 2.2)}.get(shape, (1.35, 2.5))
    half = 0.5 / rng.uniform(*slim)
    start = ratio * blade
    axis, along = _curve(rng, start, blade, rng.uniform(0.05, 0.45))
    normal = _normals(axis)
    # The petiole: thin, a little thicker at its foot, widening into the blade.
    thin = stalk * rng.uniform(0.010, 0.024)
    foot, reach = rng.uniform(0, 1.0), rng.uniform(0.02, 0.06)
    flare, over = rng.choice([0.0, rng.uniform(0.2, 1.2)]), rng.uniform(0.03, 0.15)
    left_of = start - along
    stalk_half = thin * (1 + foot * np.exp(-((along / reach) ** 2)) + flare * np.exp(-np.clip(left_of, 0, None) / over))
    stalk_half *= 1 + 0.04 * np.interp(along, np.linspace(0, along[-1], 12), rng.normal(size=12))
    foot_round = np.sqrt(np.clip(1 - (1 - np.clip(along / (0.8 * stalk_half[0]), 0, 1)) ** 2, 0, 1))
    stalk_half *= np.maximum(foot_round, 0.15)
    t = np.clip((along - start) / blade, 0, 1)
    lamina_half = _half_width(rng, shape, t) * half
    skew = rng.normal() * 0.06
    sides = [lamina_half * (1 + skew), lamina_half * (1 - skew)]
    # On the blade the petiole goes on as the midrib, thinner and thinner.
    inside = along >= start
    rib = thin * (1 + flare) * np.where(inside, (1 - t) ** 1.2 * rng.uniform(0.5, 0.95), 1)
    adds = style != "flat" and bool(rng.random() < 0.5)
    if adds:  # the lamina starts at the edge of the petiole
        fade = stalk_half[np.searchsorted(along, start)] * np.exp(-np.clip(along - start, 0, None) / 0.1)
        sides = [np.where(inside, side + np.minimum(fade, 3 * side + fade * 0.7), 0) for side in sides]
        junction = start
    else:  # the lamina starts on the axis and comes out from under the petiole
        edge = thin * (1 + flare)
        first = [along[np.argmax(inside & (side > edge))] for side in sides]
        junction = float(np.mean(first))
    teeth = rng.choice([0.0, 0.004, 0.01]) * np.sin(t * rng.uniform(40, 120) + rng.uniform(0, 6))
    waves = 0.03 * np.interp(along, np.linspace(start, along[-1], 9), rng.normal(size=9)) * np.sqrt(t * (1 - t))
    keep = np.clip(t / 0.08, 0, 1) * np.clip((1 - t) / 0.05, 0, 1)
    sides = [np.clip(side + keep * (teeth + waves) * half * 2, 0, None) for side in sides]
    notch = float(rng.choice([0.0, rng.uniform(0.005, 0.03)], p=[0.65, 0.35])) if shape != "lanceolate" else 0.0
    tail_end = along[-1]
    body = along >= start
    left = axis[body] + normal[body] * sides[0][body, None]
    right = axis[body] - normal[body] * sides[1][body, None]
    polygon = np.vstack([left, right[::-1]])
    lamina = [polygon]
    if shape == "cordate":
        lamina.extend(_lobes(rng, axis, normal, along, start, half))
    holes: list[Array] = []
    if notch:
        # A notch takes a small wedge out; the blade then ends in its ground.
        at = axis[-1]
        back = (axis[-1] - axis[-20]) / np.linalg.norm(axis[-1] - axis[-20])
        side = np.array([-back[1], back[0]])
        reach_ = notch * blade
        holes.append(np.array([at - back * reach_, at + back * 0.02 + side * reach_, at + back * 0.02 - side * reach_]))
        tail_end -= reach_
        wedge = (along - tail_end) / (reach_ + 0.02) * reach_
        past = [along[(along > tail_end) & (half_ > wedge)].max(initial=tail_end) for half_ in sides]
        notch = float(min(past) - tail_end)
    for _ in range(int(rng.choice([0, 0, 1, 3]))):
        where = start + rng.uniform(0.2, 0.85)
        k = int(np.searchsorted(along, where))
        middle = axis[k] + normal[k] * rng.uniform(-0.9, 0.9) * sides[0][k]
        angle = np.linspace(0, 2 * np.pi, 14, endpoint=False)
        size = rng.uniform(0.008, 0.04)
        holes.append(
            middle + size * (1 + 0.3 * rng.normal(size=(14, 1))) * np.column_stack([np.cos(angle), np.sin(angle)])
        )
    stipules = []
    if rng.random() < 0.25:
        for sign in (-1, 1):
            length = rng.uniform(0.03, 0.07)
            at = axis[int(rng.uniform(2, 20))]
            ahead = (axis[25] - axis[0]) / np.linalg.norm(axis[25] - axis[0])
            out = np.array([-ahead[1], ahead[0]]) * sign
            tip = at + length * (0.8 * ahead + 0.6 * out)
            mid = 0.5 * (at + tip) + out * 0.2 * length
            stipules.append(np.array([at, mid, tip, 0.5 * (at + tip)]))
    upto = along <= start + 0.004
    stalk_poly = np.vstack(
        [axis[upto] + normal[upto] * stalk_half[upto, None], (axis[upto] - normal[upto] * stalk_half[upto, None])[::-1]]
    )
    ribs = along >= start - 0.004
    midrib = np.vstack(
        [axis[ribs] + normal[ribs] * rib[ribs, None], (axis[ribs] - normal[ribs] * rib[ribs, None])[::-1]]
    )
    return _Leaf(
        axis, along, junction, tail_end, lamina, [stalk_poly], midrib, stipules, holes,
        float((sides[0] + sides[1]).max()), start, notch,
    )  # fmt: skip


def _lobes(  # noqa: PLR0917
    rng: np.random.Generator, axis: Array, normal: Array, along: Array, start: float, half: float
) -> list[Array]:
    """Rounded lobes that reach back beside the petiole without touching it."""
    k = int(np.searchsorted(along, start))
    ahead = (axis[k + 10] - axis[k]) / np.linalg.norm(axis[k + 10] - axis[k])
    found = []
    back = rng.uniform(0.02, 0.08)
    for sign in (-1, 1):
        angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        out = normal[k] * sign
        middle = axis[k] + ahead * 0.13 + out * 0.55 * half
        found.append(
            middle + np.cos(angle)[:, None] * ahead * (0.13 + back) + np.sin(angle)[:, None] * out * 0.38 * half
        )
    return found


def _normals(axis: Array) -> Array:
    tangent = np.gradient(axis, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


# ------------------------------------------------------------------ the camera


@dataclass(frozen=True)
class _Camera:
    """Plane → picture: turned, scaled, moved, then seen with a tilt; `focal` in pixels."""

    turn: float
    scale: float
    middle: tuple[float, float]
    origin: tuple[float, float]
    tilt: float
    toward: float
    focal: float

    def see(self, points: Array) -> Array:
        p = (np.atleast_2d(points) - self.origin) * self.scale
        c, s = np.cos(self.turn), np.sin(self.turn)
        p = p @ np.array([[c, s], [-s, c]])
        d = np.array([np.cos(self.toward), np.sin(self.toward)])
        u = p @ d
        v = p @ np.array([-d[1], d[0]])
        depth = 1 + u * np.sin(self.tilt) / self.focal
        u, v = u * np.cos(self.tilt) / depth, v / depth
        q = u[:, None] * d + v[:, None] * np.array([-d[1], d[0]])
        return np.asarray(q + self.middle)


def _fill(polygons: list[Array], camera: _Camera, size: tuple[int, int]) -> Array:
    """Cover of each pixel, 0 to 1."""
    width, height = size
    canvas = Image.new("L", (width * _OVER, height * _OVER), 0)
    pen = ImageDraw.Draw(canvas)
    for polygon in polygons:
        pen.polygon([tuple(p) for p in (camera.see(polygon) + 0.5) * _OVER - 0.5], fill=255)
    over = np.asarray(canvas, dtype=np.float32) / 255
    return np.asarray(over.reshape(height, _OVER, width, _OVER).mean(axis=(1, 3)), dtype=np.float64)


# ------------------------------------------------------------------ light, ground, colour


def _clouds(rng: np.random.Generator, shape: tuple[int, int], grain: float) -> Array:
    """Smooth noise of unit sd whose lumps are `grain` pixels wide."""
    small = (max(2, int(shape[0] / grain) + 2), max(2, int(shape[1] / grain) + 2))
    noise = ndimage.zoom(rng.normal(size=small), (shape[0] / small[0], shape[1] / small[1]), order=3)
    noise = noise[: shape[0], : shape[1]]
    noise = np.pad(noise, ((0, shape[0] - noise.shape[0]), (0, shape[1] - noise.shape[1])), mode="edge")
    return np.asarray(noise / (noise.std() + 1e-9))


def _ground(rng: np.random.Generator, background: str, shape: tuple[int, int], style: str) -> Array:
    height, width = shape
    rough = {"flat": 0.25, "shaded": 0.7, "textured": 1.2}[style]
    y, x = np.mgrid[0:height, 0:width]
    x, y = x / max(shape), y / max(shape)
    if background == "white_paper":
        base = np.array([240, 238, 232]) + rng.normal(0, 5, 3)
        tone = 1 + 0.008 * rough * _clouds(rng, shape, 2)
    elif background == "grey_card":
        base = np.full(3, rng.uniform(95, 165)) + rng.normal(0, 4, 3)
        tone = 1 + 0.03 * rough * rng.normal(size=shape) + 0.02 * rough * _clouds(rng, shape, 40)
    elif background == "brown_clipboard":
        base = np.array([150, 108, 68]) * rng.uniform(0.7, 1.2) + rng.normal(0, 8, 3)
        grain = ndimage.gaussian_filter1d(rng.normal(size=shape), 25, axis=1)
        tone = 1 + rough * (0.05 * grain / grain.std() + 0.03 * _clouds(rng, shape, 3))
    elif background == "palm":
        base = np.array([[222, 176, 150], [196, 146, 116], [160, 112, 84], [205, 150, 130]][rng.integers(4)])
        base = base + rng.normal(0, 6, 3)
        tone = 1 + rough * (0.02 * _clouds(rng, shape, 4) + 0.04 * _clouds(rng, shape, 60))
        for _ in range(rng.integers(2, 5)):
            a, b, c = rng.uniform(-0.6, 0.6), rng.uniform(0.1, 0.9), rng.uniform(-0.7, 0.7)
            far = np.abs(y - (b * height / max(shape) + a * (x - 0.5) + c * (x - 0.5) ** 2))
            tone = tone - rng.uniform(0.06, 0.22) * np.exp(-((far / rng.uniform(0.0025, 0.006)) ** 2))
    else:
        base = np.array([45, 92, 165]) + rng.normal(0, 10, 3)
        pitch = rng.uniform(0.006, 0.015)
        weave = np.sin(2 * np.pi * x / pitch) * np.sin(2 * np.pi * y / pitch)
        folds = _clouds(rng, shape, 90)
        tone = 1 + 0.06 * rough * weave + 0.09 * folds + 0.02 * rough * rng.normal(size=shape)
    picture = base[None, None, :] * tone[..., None]
    if background == "palm":  # skin is blotched in colour too
        picture[..., 0] *= 1 + 0.015 * _clouds(rng, shape, 70)
        picture[..., 2] *= 1 + 0.02 * _clouds(rng, shape, 50)
    if rng.random() < 0.5:  # dust
        for _ in range(rng.integers(5, 60)):
            cy, cx, r = rng.integers(height), rng.integers(width), rng.uniform(0.5, 2.2)
            y0, y1, x0, x1 = max(0, int(cy - 4)), int(cy + 5), max(0, int(cx - 4)), int(cx + 5)
            part = picture[y0:y1, x0:x1]
            yy, xx = np.mgrid[y0 : y0 + part.shape[0], x0 : x0 + part.shape[1]]
            part *= 1 - rng.uniform(0.1, 0.5) * np.exp(-((yy - cy) ** 2 + (xx - cx) ** 2) / r**2)[..., None]
    return picture


def _light(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    height, width = shape
    y, x = np.mgrid[0:height, 0:width]
    x, y = x / width - 0.5, y / height - 0.5
    light = 1 + rng.normal(0, 0.15) * x + rng.normal(0, 0.15) * y
    light = light - rng.uniform(0, 0.5) * (x**2 + y**2)
    if rng.random() < 0.4:  # somebody's shadow, soft
        a = rng.uniform(0, 2 * np.pi)
        edge = x * np.cos(a) + y * np.sin(a) - rng.uniform(-0.2, 0.4)
        light = light * (1 - rng.uniform(0.1, 0.45) / (1 + np.exp(-edge / rng.uniform(0.01, 0.08))))
    return np.asarray(light)


_GREENS = ((62, 108, 48), (84, 128, 52), (48, 92, 44), (100, 142, 66), (40, 78, 52), (112, 150, 60))
_STALKS = {
    "green": (138, 168, 88),
    "pale": (172, 188, 130),
    "pink": (176, 112, 102),
    "red": (150, 52, 60),
    "purple": (118, 42, 66),
    "as_leaf": None,
}


def _paint(  # noqa: PLR0917
    rng: np.random.Generator, leaf: _Leaf, camera: _Camera, size: tuple[int, int], style: str, under: Array
) -> Array:
    width, height = size
    lamina = _fill(leaf.lamina, camera, size)
    stalk = _fill(leaf.petiole, camera, size)
    rib = _fill([leaf.midrib], camera, size)
    stipules = _fill(leaf.stipules, camera, size) if leaf.stipules else np.zeros((height, width))
    holes = _fill(leaf.holes, camera, size) if leaf.holes else np.zeros((height, width))
    cover = np.maximum(np.maximum(lamina * (1 - holes), stalk), stipules)
    # Its own shadow on the ground.
    drift, soft = rng.uniform(0, 0.02) * max(size), rng.uniform(0.002, 0.02) * max(size)
    way = rng.uniform(0, 2 * np.pi)
    shadow = ndimage.shift(cover, (drift * np.sin(way), drift * np.cos(way)), order=1)
    shadow = ndimage.gaussian_filter(shadow, soft) * rng.uniform(0.0, 0.6)
    picture = under * (1 - shadow[..., None])
    green = np.array(_GREENS[rng.integers(len(_GREENS))]) * rng.uniform(0.85, 1.15) + rng.normal(0, 5, 3)
    name = rng.choice(list(_STALKS), p=[0.3, 0.15, 0.15, 0.2, 0.1, 0.1])
    colour = (
        green * rng.uniform(1.05, 1.3) if _STALKS[name] is None else np.array(_STALKS[name]) * rng.uniform(0.85, 1.15)
    )
    seen = camera.see(leaf.axis)
    box = np.nonzero(cover.max(axis=0))[0], np.nonzero(cover.max(axis=1))[0]
    if len(box[0]) == 0:
        return picture
    x0, x1, y0, y1 = box[0][0], box[0][-1] + 1, box[1][0], box[1][-1] + 1
    yy, xx = np.mgrid[y0:y1, x0:x1]
    far, near = cKDTree(seen).query(np.column_stack([xx.ravel(), yy.ravel()]))
    normal = _normals(seen)
    off = np.sum((np.column_stack([xx.ravel(), yy.ravel()]) - seen[near]) * normal[near], axis=1)
    far, off = far.reshape(xx.shape), off.reshape(xx.shape)
    along = leaf.along[near].reshape(xx.shape)
    unit = camera.scale
    tone = np.ones((height, width))
    veins = np.zeros((height, width))
    pitch = rng.uniform(0.05, 0.1)
    phase = np.abs(((along - leaf.start - 0.8 * np.abs(off) / unit) / pitch) % 1 - 0.5)
    veins[y0:y1, x0:x1] = np.exp(-(((phase - 0.5) * pitch * unit / max(1.0, 0.003 * unit)) ** 2))
    if style == "shaded":
        tone[y0:y1, x0:x1] = 1 + rng.normal(0, 0.12) * np.clip(off / (0.3 * unit), -1, 1) + 0.06 * np.cos(phase * 6)
        gloss = np.exp(-(((off / unit - rng.uniform(-0.1, 0.1)) / 0.05) ** 2)) * rng.uniform(0, 0.35)
        tone[y0:y1, x0:x1] += gloss
    elif style == "textured":
        tone += 0.07 * _clouds(rng, (height, width), 3) + 0.09 * _clouds(rng, (height, width), 25)
    painted = green * tone[..., None]
    if style != "flat":
        painted = painted + (colour * 0.8 + 30 - painted) * (veins * rng.uniform(0.05, 0.35))[..., None]
        if rng.random() < 0.25:  # the pale chevron
            leaf.marked = True
            k = leaf.start + rng.uniform(0.35, 0.6)
            mark = np.zeros((height, width))
            mark[y0:y1, x0:x1] = np.exp(-(((along + 0.9 * np.abs(off) / unit - k) / 0.03) ** 2))
            painted = painted + (np.array([190, 205, 170]) - painted) * (mark * rng.uniform(0.2, 0.5))[..., None]
    fade = np.ones((height, width))
    over = leaf.start + rng.uniform(0.1, 0.9)  # the midrib keeps the petiole's colour as far as this
    fade[y0:y1, x0:x1] = np.clip((over - along) / 0.25 + 0.5, 0.15, 1)
    rib_colour = colour if style != "flat" or rng.random() < 0.7 else green
    round_ = np.ones((height, width))
    if style != "flat":
        round_[y0:y1, x0:x1] = 1.08 - 0.3 * np.clip(far / (0.02 * unit), 0, 1) ** 2
    stalk_tone = round_ * (1 + (0.06 * _clouds(rng, (height, width), 6) if style == "textured" else 0))
    change = np.ones((height, width))
    if rng.random() < 0.4 and style != "flat":  # redder at the foot, greener at the blade, or the other way round
        change[y0:y1, x0:x1] = np.clip(along / max(leaf.start, 1e-6), 0, 1)
        if rng.random() < 0.3:
            change = 1 - change
    other = np.array(_STALKS["green"]) * rng.uniform(0.9, 1.1)
    stalk_colour = (
        (colour * change[..., None] + other * (1 - change[..., None]))
        if rng.random() < 0.5
        else (other * change[..., None] + colour * (1 - change[..., None]))
    )
    if not np.ptp(change):
        stalk_colour = np.broadcast_to(colour, (height, width, 3))
    for cover_, shade in (
        (stalk, stalk_colour * stalk_tone[..., None]),
        (stipules, np.broadcast_to(green * 1.15, (height, width, 3))),
        (lamina * (1 - holes), painted),
    ):
        picture = picture + (shade - picture) * cover_[..., None]
    on = rib * fade * np.maximum(lamina * (1 - holes), 1e-9)
    at_start = np.clip(rib * (lamina > 0), 0, 1)
    on = np.where(at_start > 0, np.minimum(on, 1), 0)
    return np.asarray(picture + (rib_colour * stalk_tone[..., None] - picture) * on[..., None])


# ------------------------------------------------------------------ whole photos


def draw(
    rng: np.random.Generator,
    *,
    style: str,
    background: str,
    shape: str | None = None,
    ratio: float | None = None,
    size: tuple[int, int] | None = None,
    tilt_deg: float | None = None,
    fault: str | None = None,
) -> tuple[NDArray[np.uint8], Truth]:
    """One photo. `fault`: petiole_cut, overlapping, none, grass, blurred, stem_only, no_petiole; to be refused."""
    shape = shape or str(rng.choice(SHAPES))
    ratio = float(rng.uniform(0.2, 1.8)) if ratio is None else ratio
    long_side = int(rng.choice([700, 1000, 1400]))
    size = size or ((long_side, int(long_side * 0.75)) if rng.random() < 0.5 else (int(long_side * 0.75), long_side))
    width, height = size
    leaf = _leaf(rng, shape, ratio, style)
    tilt = np.deg2rad(abs(rng.normal(0, 2.5)) if tilt_deg is None else tilt_deg)
    camera = _place(rng, leaf, size, float(tilt), fault)
    ground = _ground(rng, background, (height, width), style)
    if fault == "grass":
        ground = _grass(rng, (height, width))
    picture = ground
    if fault == "overlapping":
        other = _leaf(rng, str(rng.choice(SHAPES)), ratio, style)
        mid = leaf.axis[int(len(leaf.axis) * rng.uniform(0.6, 0.9))]
        moved = _Camera(
            camera.turn + rng.uniform(0.8, 2.0), camera.scale * rng.uniform(0.75, 0.95), tuple(camera.see(mid)[0]),
            tuple(other.axis[int(len(other.axis) * 0.75)]), 0.0, 0.0, camera.focal,
        )  # fmt: skip
        picture = _paint(rng, other, moved, size, style, picture)
    if fault == "stem_only":
        leaf.lamina, leaf.midrib, leaf.holes, leaf.stipules = [], leaf.petiole[0][:3], [], []
        picture = _paint_stem(rng, leaf, camera, size, picture)
    elif fault == "no_petiole":
        leaf.petiole = [leaf.petiole[0][:3] * 0 + leaf.axis[-1]]
        leaf.stipules = []
        picture = _paint(rng, leaf, camera, size, style, picture)
    elif fault != "none":
        picture = _paint(rng, leaf, camera, size, style, picture)
    picture = picture * _light(rng, (height, width))[..., None]
    picture = picture * (1 + rng.normal(0, 0.03, 3))
    blur = rng.uniform(0.3, 1.1) * max(size) / 1000
    if fault == "blurred":
        blur = rng.uniform(0.012, 0.02) * max(size)
    picture = ndimage.gaussian_filter(picture, (blur, blur, 0))
    picture = picture + rng.normal(0, rng.uniform(0.5, 5.0), picture.shape)
    points = [tuple(float(v) for v in camera.see(_at(leaf, s))[0]) for s in (0.0, leaf.junction, leaf.end)]
    petiole, blade = leaf.junction, leaf.end - leaf.junction
    traced = camera.see(leaf.axis)
    so_far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(traced, axis=0), axis=1))])
    at = np.interp([leaf.junction, leaf.end], leaf.along, so_far)
    truth = Truth(
        petiole / blade, petiole * camera.scale, blade * camera.scale, leaf.width * camera.scale,
        points[0], points[1], points[2], style, background, shape,
        {
            "tilt_deg": float(np.rad2deg(tilt)),
            "fault": fault,
            "traced": float(at[0] / (at[1] - at[0])),
            "chevron": "present" if leaf.marked else "absent",
            "notch": leaf.notch / blade,
            "length_width": blade / leaf.width,
        },
    )  # fmt: skip
    return np.clip(picture, 0, 255).astype(np.uint8), truth


def _at(leaf: _Leaf, s: float) -> Array:
    return np.array([np.interp(s, leaf.along, leaf.axis[:, 0]), np.interp(s, leaf.along, leaf.axis[:, 1])])


def _place(rng: np.random.Generator, leaf: _Leaf, size: tuple[int, int], tilt: float, fault: str | None) -> _Camera:
    """Turn and scale the leaf so that it stands whole in the picture, or cut where it is meant to be."""
    width, height = size
    every = np.vstack([*leaf.lamina, *leaf.petiole])
    turn = rng.uniform(0, 2 * np.pi)
    c, s = np.cos(turn), np.sin(turn)
    turned = every @ np.array([[c, s], [-s, c]])
    span = np.ptp(turned, axis=0)
    scale = min(width / span[0], height / span[1]) * rng.uniform(0.62, 0.88)
    middle = 0.5 * (every.max(axis=0) + every.min(axis=0))
    lowest, highest = turned.min(axis=0), turned.max(axis=0)
    centre = 0.5 * (lowest + highest) @ np.array([[c, -s], [s, c]])
    spare = np.array([width, height]) - span * scale
    at = np.array([width, height]) / 2 + rng.uniform(-0.3, 0.3, 2) * spare
    del middle
    camera = _Camera(
        turn, scale, tuple(at), tuple(centre), tilt, rng.uniform(0, 2 * np.pi), rng.uniform(0.9, 1.3) * max(size)
    )
    if fault == "petiole_cut":
        gone = _at(leaf, leaf.junction * rng.uniform(0.35, 0.8))
        p = camera.see(gone)[0]
        ahead = camera.see(leaf.axis[0])[0] - camera.see(_at(leaf, leaf.junction))[0]
        # Move the picture so that the petiole leaves it where it should.
        way = 0 if abs(ahead[0]) > abs(ahead[1]) else 1
        border = (width, height)[way] if ahead[way] > 0 else 0
        shift = np.zeros(2)
        shift[way] = border - p[way]
        camera = _Camera(turn, scale, tuple(at + shift), tuple(centre), tilt, camera.toward, camera.focal)
    return camera


def _paint_stem(rng: np.random.Generator, leaf: _Leaf, camera: _Camera, size: tuple[int, int], under: Array) -> Array:
    cover = _fill(leaf.petiole, camera, size)
    colour = np.array(_STALKS[str(rng.choice(["green", "red", "pink"]))])
    return np.asarray(under + (colour - under) * cover[..., None])


def _grass(rng: np.random.Generator, shape: tuple[int, int]) -> Array:
    height, width = shape
    canvas = Image.new("RGB", (width, height), (52, 70, 30))
    pen = ImageDraw.Draw(canvas)
    for _ in range(int(height * width / 250)):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        a, length = rng.normal(-1.5, 0.6), rng.uniform(0.03, 0.12) * max(shape)
        colour = np.array([86, 122, 44]) * rng.uniform(0.6, 1.4) + rng.normal(0, 12, 3)
        pen.line(
            [(x, y), (x + length * np.cos(a), y + length * np.sin(a))],
            fill=tuple(int(v) for v in np.clip(colour, 0, 255)), width=int(rng.uniform(2, 7)),
        )  # fmt: skip
    return np.asarray(canvas, dtype=np.float64)

"""The pictures that came by telephone: drawn, since no photograph is made up here."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

_SOIL, _STONES, _GREEN, _EDGE, _STEM = "#b7a68b", "#9b8a70", "#567a37", "#3f5a28", "#7f9a55"
_WIDE, _HIGH = 42.0, 56.0


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as a file: its bytes, its media type, and where and when it says that it was taken."""

    data: bytes
    media_type: str
    lonlat: tuple[float, float] | None = None
    taken_at: datetime | None = None

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()

    @property
    def file_name(self) -> str:
        return self.sha256 + {"image/png": ".png", "image/jpeg": ".jpg"}[self.media_type]

    def body(self, of: str | None = None) -> dict[str, Any]:
        """The body of its `photo` entry; `of` is the entry that it came with."""
        return {
            "sha256": self.sha256,
            "media_type": self.media_type,
            "size_bytes": len(self.data),
            "of": of,
            "at": None if self.lonlat is None else list(self.lonlat),
            "taken_at": None if self.taken_at is None else self.taken_at.isoformat(),
        }


def seedlings(rng: np.random.Generator) -> Picture:
    """Three small pigweeds on bare soil; its program left no place and no day in it."""
    figure, axes = _page(rng)
    for east, north, size in ((12, 36, 1.0), (29, 40, 0.8), (22, 17, 1.25)):
        turn = rng.uniform(0, 180)
        for k in range(2):  # the two seed leaves, long and narrow
            _oval(axes, (east, north), turn + 180 * k, length=3.2 * size, width=1.0 * size, colour="#6f8a4c")
        for k in range(3):
            _oval(axes, (east, north), turn + 75 + 120 * k, length=4.6 * size, width=2.6 * size, colour=_GREEN)
        axes.plot([east], [north], marker="o", ms=4 * size, color="#8c5a4a")
    return Picture(_png(figure), "image/png")


def whole_plant(rng: np.random.Generator, lonlat: tuple[float, float], taken_at: datetime) -> Picture:
    """A young plant from the side, from the soil to its tip."""
    figure, axes = _page(rng, horizon=9.0)
    axes.plot([21, 21.6, 20.8], [7, 26, 47], color=_STEM, lw=5, solid_capstyle="round")
    for k, north in enumerate(np.linspace(12, 46, 9)):
        side = 1 if k % 2 else -1
        reach = 1.15 - 0.6 * k / 8
        _leaf(axes, (21, north), 90 - side * (62 - 4 * k), stalk=4.5 * reach, length=10 * reach, width=3.4 * reach)
    return _jpeg(figure, lonlat, taken_at)


def upper_stem(rng: np.random.Generator, lonlat: tuple[float, float], taken_at: datetime) -> Picture:
    """The upper stem, close up: smooth, with lines along it and no hair."""
    figure, axes = _page(rng)
    for shift, width in ((0.0, 46), (-1.6, 1.2), (0.4, 1.2), (1.9, 1.2)):
        axes.plot(
            [17 + shift, 25 + shift], [-4, 60], color=_STEM if width > 2 else _EDGE, lw=width, solid_capstyle="butt"
        )
    _leaf(axes, (22.5, 30), 28, stalk=9, length=24, width=9)
    _leaf(axes, (20, 14), 152, stalk=9, length=24, width=9)
    return _jpeg(figure, lonlat, taken_at)


def folded_leaf(rng: np.random.Generator, lonlat: tuple[float, float], taken_at: datetime, *, ratio: float) -> Picture:
    """A lower leaf with its petiole folded back over the blade: `ratio` = petiole over blade."""
    figure, axes = _page(rng)
    base, length = np.array([21.0, 8.0]), 38.0
    _leaf(axes, (base[0], base[1]), 90, stalk=0.0, length=length, width=13)
    # It comes out at the foot, turns, and lies on the blade; a dark edge keeps it apart from the green.
    bend = [21, 22.6, 23.6, 23.2], [8, 6.2, 7.6, 8 + ratio * length]
    for colour, width in ((_EDGE, 7.5), ("#b6c98a", 5)):
        axes.plot(*bend, color=colour, lw=width, solid_capstyle="round", solid_joinstyle="round", zorder=6)
    return _jpeg(figure, lonlat, taken_at)


def _page(rng: np.random.Generator, *, horizon: float = _HIGH) -> tuple[Any, Any]:
    """Soil with stones up to a height of the picture, a pale sky above."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(4.2, 5.6), dpi=110, facecolor=_SOIL if horizon >= _HIGH else "#dfe6e4")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, _WIDE)
    axes.set_ylim(0, _HIGH)
    axes.axis("off")
    axes.axhspan(0, horizon, color=_SOIL)
    stones = rng.uniform(0, _WIDE, 900), rng.uniform(0, horizon, 900)
    axes.scatter(*stones, s=rng.uniform(1, 14, 900), c=_STONES, alpha=0.5)
    return figure, axes


def _png(figure: Any) -> bytes:
    out = io.BytesIO()
    # No date and no software line: the same picture is the same bytes, and so has the same hash.
    figure.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def _jpeg(figure: Any, lonlat: tuple[float, float], taken_at: datetime) -> Picture:
    """As a telephone sends it: the place and the time stand in the file's head (EXIF 2.32)."""
    from PIL import Image

    exif = Image.Exif()
    exif[0x8769] = {0x9003: taken_at.strftime("%Y:%m:%d %H:%M:%S"), 0x9011: "+00:00"}
    lon, lat = lonlat
    exif[0x8825] = {
        1: "N" if lat >= 0 else "S",
        2: _sexagesimal(abs(lat)),
        3: "E" if lon >= 0 else "W",
        4: _sexagesimal(abs(lon)),
    }
    out = io.BytesIO()
    Image.open(io.BytesIO(_png(figure))).convert("RGB").save(out, format="JPEG", quality=88, exif=exif)
    return Picture(out.getvalue(), "image/jpeg", lonlat, taken_at)


def _sexagesimal(degrees: float) -> tuple[float, float, float]:
    minutes, seconds = divmod(round(degrees * 3600, 2), 60)
    whole, minutes = divmod(minutes, 60)
    return whole, minutes, round(seconds, 2)


def _oval(axes: Any, foot: tuple[float, float], turn: float, *, length: float, width: float, colour: str) -> None:
    from matplotlib.patches import Ellipse

    angle = np.deg2rad(turn)
    middle = (foot[0] + 0.62 * length * np.cos(angle), foot[1] + 0.62 * length * np.sin(angle))
    axes.plot([foot[0], middle[0]], [foot[1], middle[1]], color=colour, lw=1.4)
    axes.add_patch(Ellipse(middle, length, width, angle=turn, facecolor=colour, edgecolor=_EDGE, lw=0.8))


def _leaf(axes: Any, foot: tuple[float, float], turn: float, *, stalk: float, length: float, width: float) -> None:
    """A long leaf on its stalk, widest below the middle, with its midrib."""
    from matplotlib.patches import Polygon

    along = np.linspace(0, 1, 40)
    half = width / 2 * np.sin(np.pi * along**0.8) ** 0.9
    outline = np.concatenate([np.column_stack([along, half]), np.column_stack([along, -half])[::-1]])
    outline[:, 0] = stalk + outline[:, 0] * length
    angle = np.deg2rad(turn)
    turned = outline @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]]) + foot
    ends = np.array([[0.0, stalk, stalk + length]]).T * np.array([[np.cos(angle), np.sin(angle)]]) + foot
    axes.plot(*ends[:2].T, color=_STEM, lw=max(1.2, width / 3), solid_capstyle="round", zorder=2)
    axes.add_patch(Polygon(turned, facecolor=_GREEN, edgecolor=_EDGE, lw=0.9, zorder=3))
    axes.plot(*ends[1:].T, color="#8fae66", lw=1.0, zorder=4)

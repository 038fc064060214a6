"""A photo as it comes, made into one upright RGB picture of bounded size, whatever the file holds."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tepal.leaf._heif import decoded
from tepal.leaf._picture import Photo, working_scale
from tepal.tables import Refused

# What may be kept of a photo, to be looked at.
_KEPT_PIXELS = 3_000_000
_MOST_BYTES = 100_000_000
# JPEG is read at an eighth, a quarter or half of its size; other formats stand whole in memory, 4 bytes a pixel.
_MOST_PIXELS = {"JPEG": 250_000_000, "JPEG progressive": 60_000_000, "HEIF": 50_000_000}
_MOST_PIXELS_ELSE = 50_000_000
_LEAST_SIDE = 120
# EXIF's orientation → the transpose that sets it upright, as Pillow numbers them.
_TURN_TAG = 0x0112
_TURNS = {2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}


def open_photo(source: Any, *, name: str = "photo") -> Photo:
    """A path, bytes, a Pillow image, or an array (h, w), (h, w, 3 or 4) of uint8, uint16 or floats of 0..1.

    Raises
    ------
    Refused
        If it is no image of a known kind, is cut short, too large or too small.
    """
    from PIL import Image

    if isinstance(source, np.ndarray):
        image = _from_array(source, name)
    elif isinstance(source, Image.Image):
        image = source
    else:
        return _from_file(source, name)
    return _finish(image, image.size, name)


def open_picture(source: Any, long_side: int, *, name: str = "photo") -> tuple[Any, tuple[int, int]]:
    """The upright photo as a Pillow RGB image of at most `long_side`, to draw on; and its full size."""
    if isinstance(source, np.ndarray):
        image = _from_array(source, name)
        full = image.size
    else:
        image, full, _ = _decoded(source, name)
    image = image.copy()
    factor = long_side / max(image.size)
    if factor < 1 or max(image.size) < 0.5 * long_side:
        image = image.resize((max(1, round(image.width * factor)), max(1, round(image.height * factor))))
    return image, full


def _from_file(source: Any, name: str) -> Photo:
    return _scaled(*_decoded(source, name))


def _decoded(source: Any, name: str) -> tuple[Any, tuple[int, int], float]:
    """An upright RGB Pillow image, perhaps smaller than the photo, the upright photo's full size, and the mean step
    (of 255) to which a JPEG's waves of brightness were rounded; else 0."""
    from PIL import Image, UnidentifiedImageError

    if isinstance(source, (bytes, bytearray)):
        raw = bytes(source)
    else:
        path = Path(source)
        try:
            if path.stat().st_size > _MOST_BYTES:
                raise _bad("a file of over 100 MB", name, "A photo is smaller.", "Save it as JPEG.")
            raw = path.read_bytes()
        except OSError as problem:
            raise _bad(
                f"the file cannot be read: {problem.strerror or problem}",
                name, "A readable file is needed.", "Check the name and the rights.",
            ) from None  # fmt: skip
    kind = _kind(raw)
    if kind is None:
        raise _bad("this is no JPEG, PNG, HEIC, TIFF, WebP, GIF or BMP", name, "A photo is needed.", "Save it as JPEG.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            if kind == "HEIF":
                try:
                    image = decoded(raw, _MOST_PIXELS.get(kind, _MOST_PIXELS_ELSE))
                except OverflowError as large:
                    raise _bad(str(large), name, "50 million pixels are enough.", "Send a smaller copy.") from None
                # The library has turned the pixels already; the tag may still say otherwise.
                return *_upright(image, image.size, name, turn=False), 0.0
            plugin = Image.open(io.BytesIO(raw), formats=[kind])
            full = plugin.size
            slow = kind == "JPEG" and bool(plugin.info.get("progressive"))
            _check_size(full, "JPEG progressive" if slow else kind, name)
            if kind == "JPEG":
                factor = (_KEPT_PIXELS / max(1, full[0] * full[1])) ** 0.5
                plugin.draft("RGB", (max(1, int(full[0] * factor)), max(1, int(full[1] * factor))))
            plugin.seek(0)
            plugin.load()
            steps = getattr(plugin, "quantization", {}).get(0, (0,))
            return *_upright(plugin, full, name), float(np.mean(steps))
    except Refused:
        raise
    except (Image.DecompressionBombError, MemoryError):
        raise _bad("a picture too large", name, "50 million pixels are enough.", "Send a smaller copy.") from None
    except (
        UnidentifiedImageError,
        OSError,
        ValueError,
        SyntaxError,
        TypeError,
        KeyError,
        EOFError,
        RuntimeError,
        IndexError,
        OverflowError,
        AttributeError,
        ZeroDivisionError,
    ) as problem:
        raise _bad(
            f"the picture cannot be read ({type(problem).__name__})",
            name, "It is cut short or broken.", "Copy it from the phone or camera again.",
        ) from None  # fmt: skip


def _kind(raw: bytes) -> str | None:
    heads = (
        (b"\xff\xd8\xff", "JPEG"), (b"\x89PNG\r\n\x1a\n", "PNG"), (b"II*\x00", "TIFF"), (b"MM\x00*", "TIFF"),
        (b"GIF8", "GIF"), (b"BM", "BMP"),
    )  # fmt: skip
    for head, kind in heads:
        if raw.startswith(head):
            return kind
    if raw[:4] == b"RIFF" and raw[8:12] == b"WEBP":
        return "WEBP"
    if raw[4:8] == b"ftyp" and any(
        brand in raw[8:40] for brand in (b"heic", b"heix", b"mif1", b"heif", b"hevc", b"msf1")
    ):
        return "HEIF"
    return None


def _check_size(size: tuple[int, int], kind: str, name: str) -> None:
    most = _MOST_PIXELS.get(kind, _MOST_PIXELS_ELSE)
    if size[0] * size[1] > most:
        raise _bad(
            f"{size[0]} × {size[1]} pixels", name,
            f"A {kind} of that make may have {most // 1_000_000} million pixels.", "Send a smaller copy.",
        )  # fmt: skip


def _finish(image: Any, full: tuple[int, int], name: str) -> Photo:
    return _scaled(*_upright(image, full, name))


def _upright(image: Any, full: tuple[int, int], name: str, *, turn: bool = True) -> tuple[Any, tuple[int, int]]:
    if min(full) < _LEAST_SIDE:
        raise _bad(
            f"{full[0]} × {full[1]} pixels", name, f"Each side needs at least {_LEAST_SIDE}.",
            "Send the photo itself, not its thumbnail.",
        )  # fmt: skip
    if max(full) > 12 * min(full):
        raise _bad(f"{full[0]} × {full[1]} pixels", name, "A photo is not that narrow.", "Send the photo itself.")
    tag = image.getexif().get(_TURN_TAG, 1) if turn else 1
    # Made small before it is turned and its colours are changed: each of these copies it.
    step = int((image.width * image.height / _KEPT_PIXELS) ** 0.5)
    if step > 1 and image.mode in ("RGB", "L", "RGBA", "CMYK"):
        image = image.reduce(step)
    if tag in _TURNS:
        image = image.transpose(_TURNS[tag])
    if tag in (5, 6, 7, 8):
        full = (full[1], full[0])
    return _rgb(image), full


def _scaled(rgb: Any, full: tuple[int, int], rounded: float = 0.0) -> Photo:
    from PIL import Image

    scale = working_scale(*full)
    size = (max(1, round(full[0] * scale)), max(1, round(full[1] * scale)))
    step = rgb.width // size[0]
    small = rgb.reduce(step) if step > 1 else rgb
    small = small.resize(size, Image.Resampling.BOX if rgb.width >= size[0] else Image.Resampling.BICUBIC)
    # Pixels that are put together have the mean of their errors.
    return Photo(np.asarray(small), full[0], full[1], scale, kept=rgb, squeezed=rounded * min(1.0, scale))


def _rgb(image: Any) -> Any:
    """Eight bits of red, green and blue, what is transparent on white."""
    from PIL import Image

    if image.mode in ("I;16", "I;16B", "I;16L", "I", "F"):
        values = np.asarray(image, dtype=np.float32)
        top = float(np.nanmax(values)) if values.size else 0.0
        full = 1.0 if top <= 1.0 else 255.0 if top <= 255 else 65535.0
        return Image.fromarray(np.clip(np.nan_to_num(values) / full * 255, 0, 255).astype(np.uint8)).convert("RGB")
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        clear = image.convert("RGBA")
        white = Image.new("RGB", clear.size, (255, 255, 255))
        white.paste(clear, mask=clear.getchannel("A"))
        return white
    return image.convert("RGB")


def _from_array(values: NDArray[Any], name: str) -> Any:
    from PIL import Image

    if values.ndim not in (2, 3) or (values.ndim == 3 and values.shape[2] not in (1, 3, 4)) or 0 in values.shape:
        raise _bad(
            f"an array of shape {values.shape}", name, "An image is (h, w), (h, w, 3) or (h, w, 4).", "Check it."
        )
    if values.ndim == 3 and values.shape[2] == 1:
        values = values[..., 0]
    if values.dtype == np.uint16:
        values = (values >> 8).astype(np.uint8)
    elif values.dtype == bool or values.dtype.kind == "f":
        values = np.clip(np.nan_to_num(values.astype(np.float32)) * 255, 0, 255).astype(np.uint8)
    elif values.dtype != np.uint8:
        raise _bad(f"an array of {values.dtype}", name, "Pixels are uint8, uint16 or floats of 0..1.", "Convert it.")
    return Image.fromarray(np.ascontiguousarray(values))


def _bad(what: str, name: str, rule: str, step: str) -> Refused:
    return Refused(what, where=name, rule=rule, step=step)

"""A HEIC's pixels, decoded in a process of its own: one wrong byte in the file can end the process that reads it."""

from __future__ import annotations

import io
import subprocess
import sys
from typing import Any

_SECONDS = 30


def decoded(raw: bytes, most_pixels: int) -> Any:
    """The picture as a Pillow RGB image, upright as the library gives it.

    Raises
    ------
    ValueError
        If the file is broken, or its decoder ended or took too long.
    OverflowError
        If it has more pixels than `most_pixels`; its size is the error's text.
    """
    from PIL import Image

    try:
        done = subprocess.run(
            [sys.executable, "-m", "tepal.leaf._heif", str(most_pixels)], input=raw, capture_output=True,
            check=False, timeout=_SECONDS,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        raise ValueError("the decoder took too long") from None
    if done.returncode != 0 or b"\n" not in done.stdout:
        raise ValueError("the decoder ended")
    head, pixels = done.stdout.split(b"\n", 1)
    width, height = map(int, head.split())
    if width * height > most_pixels:
        raise OverflowError(f"{width} × {height} pixels")
    return Image.frombytes("RGB", (width, height), pixels)


def main() -> None:
    """Read a HEIC from standard input; write its size, a line end, and its RGB bytes."""
    import pi_heif
    from PIL import Image

    opened: Any = pi_heif.open_heif(io.BytesIO(sys.stdin.buffer.read()), convert_hdr_to_8bit=True)
    width, height = opened.size
    sys.stdout.buffer.write(f"{width} {height}\n".encode())
    if width * height <= int(sys.argv[1]):
        image = Image.frombuffer(opened.mode, opened.size, opened.data, "raw", opened.mode, opened.stride)
        sys.stdout.buffer.write(image.convert("RGB").tobytes())


if __name__ == "__main__":
    main()

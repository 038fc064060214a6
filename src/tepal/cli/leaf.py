"""`tepal leaf`: petiole, blade and outline from photos of plucked leaves; the scale card."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused, write_whole

if TYPE_CHECKING:
    from tepal.leaf import LeafMeasure

# path, every leaf (else the largest), mm_per_px, flat, where to draw
_Task = tuple[str, bool, float | None, bool, str | None]
# one JSON object a leaf, a sentence for each, and whether the file could be read
_Answer = tuple[list[dict[str, Any]], list[str], bool]


def leaf(
    *photos: Path,
    every: Annotated[bool, Parameter(name="--all", negative=())] = False,
    mm_per_px: float | None = None,
    flat: Annotated[bool, Parameter(negative=())] = False,
    draw: Path | None = None,
    card: Path | None = None,
    jobs: int = 1,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Measure petiole, blade and outline of a plucked leaf from a photo, each with its error.

    Lay the leaf on paper, a clipboard or your palm, its petiole straight and clear of the blade, fill half of the
    picture with it, and hold the phone straight above. A photo that cannot be measured is told why, and what to do.

    Parameters
    ----------
    photos: Path
        JPEG, PNG or HEIC files, or folders of them.
    every: bool
        Measure every whole leaf of a photo, not only the largest.
    mm_per_px: float
        Millimetres for one pixel of the full-size photo. The printed sheet (--card) in the photo tells it too.
    flat: bool
        Scans, or photos from a stand straight above: no tilt of the camera in the errors.
    draw: Path
        Write the photo with what was measured drawn on it: a PNG for one photo, a folder for several.
    card: Path
        Write the sheet with rings and ruler to be printed, as a PDF.
    jobs: int
        So many photos at once.
    json_output: bool
        Print one JSON object a leaf.
    """
    if card is not None:
        _write_card(card, json_output=json_output)
        if not photos:
            return _out.DONE
    if mm_per_px is not None and not 1e-5 < mm_per_px < 100:
        raise Refused(
            f"--mm-per-px {mm_per_px:g}", where="command line", rule="It is millimetres for one pixel, above 0.",
            step="Measure something of known length in the photo.",
        )  # fmt: skip
    if not 1 <= jobs <= 256:
        raise Refused(f"--jobs {jobs}", where="command line", rule="It is 1 to 256.", step="Give the number of cores.")
    paths = list(_every(photos))
    if not paths:
        raise Refused(
            "no photos", where="command line", rule="At least one JPEG, PNG or HEIC is needed.", step="Name it."
        )
    tasks = [(str(path), every, mm_per_px, flat, _where(draw, path, many=len(paths) > 1)) for path in paths]
    shown = sys.stderr.isatty() and len(tasks) > 3
    whole = True
    for number, (objects, sentences, read) in enumerate(_answers(tasks, jobs), start=1):
        whole &= read
        if json_output:
            for value in objects:
                _out.emit(value)
        else:
            for sentence in sentences:
                _out.say(sentence)
        if shown:
            print(f"\r{number} of {len(tasks)}", end="", file=sys.stderr, flush=True)
    if shown:
        print(file=sys.stderr)
    return _out.DONE if whole else _out.IN_PART


def _answers(tasks: list[_Task], jobs: int) -> Iterator[_Answer]:
    if jobs == 1 or len(tasks) == 1:
        yield from map(_answer, tasks)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    # One thread each: the processes share the cores.
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    with ProcessPoolExecutor(min(jobs, len(tasks)), mp_context=get_context("spawn")) as pool:
        yield from pool.map(_answer, tasks, chunksize=max(1, min(16, len(tasks) // (4 * jobs))))


def _answer(task: _Task) -> _Answer:
    """One photo; whatever is wrong with it is its own answer and stops nothing."""
    from tepal.leaf import draw as drawn
    from tepal.leaf import in_numbers, measure_all

    path, every, mm_per_px, flat, target = task
    name = Path(path).name
    try:
        found = measure_all(path, mm_per_px=mm_per_px, flat=flat, most=24 if every else 1)
        if target is not None:
            Path(target).parent.mkdir(parents=True, exist_ok=True)
            picture = io.BytesIO()
            drawn(path, found).save(picture, "PNG")
            write_whole(Path(target), picture.getvalue())
    except Refused as refusal:
        text = f"{refusal.what}. {refusal.rule} {refusal.step}"
        return [{"photo": path, "refused": text, "reason": "unreadable"}], [f"{name}: {text}"], False
    except OSError as problem:
        text = f"{problem.strerror or problem}. Check the place that --draw names."
        return [{"photo": path, "refused": text, "reason": "unwritable"}], [f"{name}: {text}"], False
    except MemoryError:
        text = "Too large for this machine's memory. Send a smaller copy."
        return [{"photo": path, "refused": text, "reason": "unreadable"}], [f"{name}: {text}"], False
    except Exception as fault:  # one photo's fault must not cost the others theirs
        if os.environ.get("TEPAL_DEBUG"):
            raise
        text = f"A fault in tepal ({type(fault).__name__}). Send us the photo, and take another."
        return [{"photo": path, "refused": text, "reason": "fault"}], [f"{name}: {text}"], False
    return [as_json(path, one) for one in found], [f"{name}: {in_numbers(one)}" for one in found], True


def as_json(path: str, leaf_: LeafMeasure) -> dict[str, Any]:
    """One leaf as the contract has it."""
    if leaf_.refused is not None:
        return {"photo": path, "refused": leaf_.refused, "reason": leaf_.reason}
    found: dict[str, Any] = {
        "photo": path,
        "petiole_blade_ratio": leaf_.petiole_blade_ratio,
        "ratio_sd": leaf_.ratio_sd,
        "petiole_px": leaf_.petiole_px,
        "blade_px": leaf_.blade_px,
        "width_px": leaf_.width_px,
        "points": {name: list(point) for name, point in leaf_.points.items()},
        "petiole_sd": leaf_.petiole_sd,
        "blade_sd": leaf_.blade_sd,
        "width_sd": leaf_.width_sd,
        "length_width": leaf_.length_width,
        "length_width_sd": leaf_.length_width_sd,
        "widest_at": leaf_.widest_at,
        "tip_notch": leaf_.tip_notch,
        "outline": dict(leaf_.outline),
        "chevron": leaf_.chevron,
        "leaves_seen": leaf_.leaves_seen,
    }
    if leaf_.mm_per_px is not None:
        found.update(
            petiole_mm=leaf_.mm(leaf_.petiole_px),
            blade_mm=leaf_.mm(leaf_.blade_px),
            width_mm=leaf_.mm(leaf_.width_px),
            mm_per_px=leaf_.mm_per_px,
            mm_per_px_sd=leaf_.mm_per_px_sd,
            scale_from=leaf_.scale_from,
        )
    return {key: round(value, 5) if isinstance(value, float) else value for key, value in found.items()}


_KINDS = {".jpg", ".jpeg", ".png", ".heic", ".heif", ".tif", ".tiff", ".webp", ".bmp", ".gif"}


def _every(photos: tuple[Path, ...]) -> Iterator[Path]:
    for path in photos:
        if path.is_dir():
            yield from sorted(p for p in path.rglob("*") if p.suffix.lower() in _KINDS and p.is_file())
        else:
            yield path


def _where(draw: Path | None, path: Path, *, many: bool) -> str | None:
    if draw is None:
        return None
    return str(draw / f"{path.stem}{path.suffix.replace('.', '_')}.png") if many or draw.is_dir() else str(draw)


def _write_card(path: Path, *, json_output: bool) -> None:
    from tepal.leaf import card_pdf

    data = card_pdf()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
    except OSError as problem:
        raise Refused(
            f"the sheet cannot be written: {problem.strerror or problem}", where=str(path),
            rule="A place that can be written to is needed.", step="Name another file.",
        ) from None  # fmt: skip
    if json_output:
        _out.emit({"card": str(path)})
    else:
        _out.say(f"The sheet is in {path}. Print it at 100 % and measure its ruler: 10 cm.")

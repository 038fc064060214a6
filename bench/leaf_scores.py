"""How near `tepal.leaf` comes to the truth of drawn photos and of real ones, beside a plain approach in the same run.

Drawn: `tests/leaf/drawn.py`, three ways of drawing × five grounds × ROUNDS, seeds never used while the room was made.
Real: `$TEPAL_LEAVES` or ../shared/data/leaves (left out, saying so, where absent). Plain: Otsu on greenness, the
longest way through the skeleton, junction where the width first passes a fifth of the greatest.
Writes its section of bench/RESULTS.md. Run: python bench/leaf_scores.py [rounds]
"""

from __future__ import annotations

import csv
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from leaf.drawn import BACKGROUNDS, STYLES, Truth, draw  # noqa: E402
from results import put  # noqa: E402
from tepal.leaf import LeafMeasure, measure  # noqa: E402
from tepal.leaf._photo import open_photo  # noqa: E402

DATA = Path(os.environ.get("TEPAL_LEAVES", ROOT.parent / "shared" / "data" / "leaves"))
SEED = 90210
FAULTS = {"petiole_cut": 6, "overlapping": 6, "none": 3, "grass": 3, "blurred": 3, "stem_only": 3, "no_petiole": 2}


def plain(image: np.ndarray) -> float:
    """Petiole over blade by the plain approach; NaN where it finds nothing."""
    from scipy import ndimage
    from skimage.filters import threshold_otsu
    from skimage.graph import MCP_Geometric
    from skimage.morphology import skeletonize

    picture = open_photo(image).picture.astype(float)
    green = 2 * picture[..., 1] - picture[..., 0] - picture[..., 2]
    label, count = ndimage.label(green > threshold_otsu(green))
    if not count:
        return float("nan")
    mask = label == 1 + int(np.argmax(np.bincount(label.ravel())[1:]))
    mask = ndimage.binary_fill_holes(mask)
    inner = ndimage.distance_transform_edt(mask)
    bones = skeletonize(mask)
    if bones.sum() < 20:
        return float("nan")
    cost = np.where(bones, 1.0, -1.0)

    def far(start: tuple[int, int]) -> tuple[MCP_Geometric, tuple[int, int]]:
        way = MCP_Geometric(cost)
        reach = way.find_costs([start])[0]
        at = np.unravel_index(int(np.argmax(np.where(np.isfinite(reach), reach, -1))), reach.shape)
        return way, (int(at[0]), int(at[1]))

    _, one = far(tuple(int(v[0]) for v in np.nonzero(bones)))
    way, other = far(one)
    path = np.array(way.traceback(other))
    width = inner[path[:, 0], path[:, 1]]
    if width[: len(width) // 3].mean() > width[-len(width) // 3 :].mean():
        width, path = width[::-1], path[::-1]
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    at = along[int(np.argmax(width > 0.2 * width.max()))]
    return float(at / max(along[-1] - at, 1e-9))


Row = tuple[Truth, LeafMeasure, float, float]


def drawn(rounds: int) -> list[Row]:
    rows = []
    for k in range(rounds):
        for i, style in enumerate(STYLES):
            for j, ground in enumerate(BACKGROUNDS):
                image, truth = draw(np.random.default_rng([SEED, k, i, j]), style=style, background=ground)
                begun = time.process_time()
                found = measure(image)
                rows.append((truth, found, plain(image), time.process_time() - begun))
    return rows


def seconds(rows: list[Row]) -> float:
    """Processor seconds of one measure, without the plain approach."""
    image, _ = draw(np.random.default_rng([SEED, 1]), style="shaded", background="palm", size=(1600, 1200))
    begun = time.process_time()
    for _ in range(5):
        measure(image)
    del rows
    return (time.process_time() - begun) / 5


def _errors(rows: list[Row]) -> tuple[np.ndarray, np.ndarray]:
    error = np.array([abs(m.petiole_blade_ratio - t.ratio) for t, m, _, _ in rows])
    return error, np.array([m.ratio_sd for _, m, _, _ in rows])


def _line(name: str, rows: list[Row]) -> str:
    error, sd = _errors(rows)
    told = np.isfinite(error)
    peer = np.array([abs(p - t.ratio) for t, _, p, _ in rows])
    covered = np.mean(error[told] < 2 * sd[told]) if told.any() else float("nan")
    return (
        f"| {name} | {len(rows)} | {np.mean(error < 0.05):.2f} | {np.sum(~told)} | {np.nanmedian(error):.3f} "
        f"| {np.nanquantile(error, 0.9):.3f} | {covered:.2f} | {np.nanmedian(sd):.3f} | {np.mean(peer < 0.05):.2f} |"
    )


def table(rows: list[Row], groups: dict[str, Callable[[Row], bool]]) -> list[str]:
    return [
        "| photos | n | within 0.05, of all | refused | median error | 90 % | within 2 sd | median sd | plain 0.05 |",
        "|---|---|---|---|---|---|---|---|---|",
        *(_line(name, chosen) for name, test in groups.items() if (chosen := [row for row in rows if test(row)])),
    ]


def lengths(rows: list[Row]) -> str:
    told = [(t, m) for t, m, _, _ in rows if m.refused is None]
    petiole = [abs(m.petiole_px - t.petiole_px) / t.blade_px for t, m in told]
    blade = [abs(m.blade_px / t.blade_px - 1) for t, m in told]
    junction = [np.hypot(*np.subtract(m.points["junction"], t.junction)) / t.blade_px for t, m in told]
    side = np.mean([(m.petiole_blade_ratio > 1) == (t.ratio > 1) for t, m in told])
    traced = [abs(t.more["traced"] - t.ratio) < 0.05 for t, _, _, _ in rows]
    return (
        f"Tracing the picture without any fault, its tilt uncorrected, would have {np.mean(traced):.2f} within 0.05. "
        f"Median error in shares of the blade: petiole {np.median(petiole):.4f}, blade {np.median(blade):.4f}, "
        f"junction {np.median(junction):.4f}. On the right side of 1: {side:.2f} of those measured."
    )


def refusals() -> str:
    wrong, total = [], 0
    for i, (fault, many) in enumerate(FAULTS.items()):
        for k in range(many):
            rng = np.random.default_rng([SEED + 1, i, k])
            image, _ = draw(rng, style=STYLES[k % 3], background=BACKGROUNDS[(k + i) % 5], fault=fault)
            total += 1
            if measure(image).refused is None:
                wrong.append(fault)
    return f"To be refused: {len(wrong)} of {total} were measured all the same" + (
        f" ({', '.join(wrong)})." if wrong else "."
    )


def real() -> list[str]:
    if not (DATA / "truth.csv").exists():
        return ["Real photos: not on this machine."]
    lines = ["| photo | by hand | measured | sd | error |", "|---|---|---|---|---|"]
    errors = []
    for row in csv.DictReader((DATA / "truth.csv").open()):
        if row["set"] != "plantvillage_apple":
            continue
        found, truth = measure(DATA / row["file"]), float(row["petiole_blade_ratio"])
        errors.append(abs(found.petiole_blade_ratio - truth))
        lines.append(
            f"| {row['file']} | {truth:.3f} | {found.petiole_blade_ratio:.3f} | {found.ratio_sd:.3f} "
            f"| {found.petiole_blade_ratio - truth:+.3f} |"
        )
    e = np.array(errors)
    return [
        f"Apple leaves (256 px): {np.sum(e < 0.05)} of {len(e)} within 0.05, 90 % within {np.nanquantile(e, 0.9):.3f}.",
        "",
        *lines,
    ]


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 16
    rows = drawn(rounds)
    groups: dict[str, Callable[[Row], bool]] = {"all": bool}
    groups |= {name.replace("_", " "): lambda row, name=name: row[0].background == name for name in BACKGROUNDS}
    groups |= {f"drawn {name}": lambda row, name=name: row[0].style == name for name in STYLES}
    for low, high in ((0.2, 0.7), (0.7, 1.2), (1.2, 2.1)):
        groups[f"ratio {low} to {high}"] = lambda row, low=low, high=high: low <= row[0].ratio < high
    text = [
        "## leaf",
        "",
        f"{len(rows)} drawn photos (seed {SEED}); a refusal counts as a miss in the third column.",
        "",
        *table(rows, groups),
        "",
        lengths(rows),
        "",
        refusals(),
        "",
        *real(),
        "",
        f"One photo of 2 megapixels: {seconds(rows):.2f} s of processor time, on a shared machine.",
    ]
    print("\n".join(text))
    put("leaf", "\n".join(text))


if __name__ == "__main__":
    main()

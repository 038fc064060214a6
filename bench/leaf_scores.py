"""How near `tepal.leaf` comes to the truth of drawn photos and of real ones, beside a plain approach in the same run.

Drawn: `tests/leaf/drawn.py`, three ways of drawing × five grounds × ROUNDS, seeds never used while the room was made;
and `tests/leaf/another_hand.py`, five grounds × ROUNDS × 2, which share no code.
Real: `$TEPAL_LEAVES` or ../shared/data/leaves (left out, saying so, where absent). Plain: Otsu on greenness, the
longest way through the skeleton, junction where the width first passes a fifth of the greatest.
Writes its section of bench/RESULTS.md. Run: python bench/leaf_scores.py [rounds] [processes]
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "bench")]

from leaf.another_hand import draw as draw_otherwise  # noqa: E402
from leaf.drawn import BACKGROUNDS, STYLES, Truth, draw  # noqa: E402
from results import put  # noqa: E402
from tepal.leaf import LeafMeasure, measure, measure_all  # noqa: E402
from tepal.leaf._photo import open_photo  # noqa: E402

DATA = Path(os.environ.get("TEPAL_LEAVES", ROOT.parent / "shared" / "data" / "leaves"))
SEED = 90210
HANDS = ("drawn", "another hand")
# Shapes of the drawings → states of leaf_outline; elliptic and wedge-shaped blades are none of them.
STATES = {
    "ovate": "ovate", "cordate": "ovate", "lanceolate": "lanceolate", "rhombic": "rhombic", "triangular": "triangular",
    "obovate": "obovate_spatulate",
}  # fmt: skip
FAULTS = {"petiole_cut": 6, "overlapping": 6, "none": 3, "grass": 3, "blurred": 3, "stem_only": 3, "no_petiole": 2}


def plain(image: np.ndarray | bytes) -> float:
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


Key = tuple[int, ...]


def one(task: tuple[str, Key, str, str, str | None]) -> Row:
    """One photo drawn and measured; its processor time without the drawing."""
    hand, key, style, ground, fault = task
    rng = np.random.default_rng(list(key))
    image: np.ndarray | bytes
    if hand == "drawn":
        image, truth = draw(rng, style=style, background=ground, fault=fault)
    else:
        image, truth = draw_otherwise(rng, background=ground, fault=fault)
    begun = time.process_time()
    found = measure(image)
    return truth, found, plain(image) if fault is None else float("nan"), time.process_time() - begun


def good(rounds: int) -> list[tuple[str, Key, str, str, None]]:
    tasks: list[tuple[str, Key, str, str, None]] = []
    for k in range(rounds):
        for j, ground in enumerate(BACKGROUNDS):
            tasks += [("drawn", (SEED, k, i, j), style, ground, None) for i, style in enumerate(STYLES)]
            tasks += [("another hand", (SEED, n, 0, j), "", ground, None) for n in (2 * k, 2 * k + 1)]
    return tasks


def faulty(hand: str) -> list[tuple[str, Key, str, str, str]]:
    return [
        (hand, (SEED + 1, i, k), STYLES[k % 3], BACKGROUNDS[(k + i) % 5], fault)
        for i, (fault, many) in enumerate(FAULTS.items())
        for k in range(many)
    ]


def cost() -> str:
    """Processor seconds and the most memory of one measure, in a process of its own, by the size of the photo."""
    image, _ = draw(np.random.default_rng([SEED, 1]), style="shaded", background="palm", size=(1600, 1200))
    told = []
    with TemporaryDirectory() as folder:
        for name, across in (("2", 1600), ("12", 4000), ("100", 11500)):
            path = Path(folder) / f"{name}.jpg"
            Image.fromarray(image).resize((across, across * 3 // 4)).save(path, quality=90)
            line = (
                "import re, sys, time; from tepal.leaf import measure; measure(sys.argv[1]); "
                "begun = time.process_time(); measure(sys.argv[1]); spent = time.process_time() - begun; "
                # The program's own: what getrusage tells is inherited from whoever started it.
                "print(spent, int(re.search(r'VmHWM:\\s+(\\d+)', open('/proc/self/status').read())[1]) / 1024)"
            )
            done = subprocess.run(
                [sys.executable, "-c", line, str(path)], capture_output=True, text=True, check=True
            ).stdout.split()
            told.append(f"{name} megapixels {float(done[0]):.2f} s and {float(done[1]):.0f} MB")
    return f"Processor time and memory of one photo, a JPEG: {'; '.join(told)}."


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


def refusals(hand: str, rows: list[Row]) -> str:
    wrong = [truth.more["fault"] for truth, found, _, _ in rows if found.refused is None]
    return f"To be refused, {hand}: {len(wrong)} of {len(rows)} were measured all the same" + (
        f" ({', '.join(wrong)})." if wrong else "."
    )


def outlines(rows: list[Row]) -> list[str]:
    """Of all shares that were told for a state, how often that state was drawn; shapes without a state left out."""
    told = [(m, STATES[t.shape]) for t, m, _, _ in rows if m.refused is None and t.shape in STATES]
    share = np.array([v for m, _ in told for v in m.outline.values()])
    true = np.array([name == state for m, state in told for name in m.outline])
    edges = (0.0, 0.05, 0.2, 0.5, 0.8, 0.95, 1.01)
    lines = ["| share told | n | mean share | drawn so |", "|---|---|---|---|"]
    for low, high in pairwise(edges):
        within = (share >= low) & (share < high)
        if within.any():
            lines.append(
                f"| {low:.2f} to {min(high, 1):.2f} | {within.sum()} | {share[within].mean():.2f} "
                f"| {true[within].mean():.2f} |"
            )
    first = np.mean([next(iter(m.outline)) == state for m, state in told])
    return [f"Outline: the likeliest state is the one drawn in {first:.2f} of {len(told)} photos.", "", *lines]


def marks(rows: list[Row]) -> list[str]:
    lines = ["| photos | chevron drawn | seen | not seen | cannot tell |", "|---|---|---|---|---|"]
    for hand in ("drawn", "another hand"):
        for truth in ("present", "absent"):
            said = [
                m.chevron
                for t, m, _, _ in rows
                if m.refused is None and t.more["chevron"] == truth and (t.style == "another_hand") == (hand != "drawn")
            ]
            counts = " | ".join(str(said.count(name)) for name in ("present", "absent", "cannot_tell"))
            lines.append(f"| {hand} | {truth} | {counts} |")
    notched = [(t.more["notch"], m.tip_notch) for t, m, _, _ in rows if m.refused is None]
    deep = np.array([pair for pair in notched if pair[0] > 0.01])
    none = np.array([told for true, told in notched if true == 0])
    return [
        *lines,
        "",
        f"Notches over 1 % of the blade deep: {np.mean(deep[:, 1] > 0.009):.2f} of {len(deep)} told as a notch, depth "
        f"off by {np.median(np.abs(deep[:, 1] - deep[:, 0])):.3f} of the blade at the median; of {len(none)} blades "
        f"without one {np.mean(none > 0.009):.2f} told as notched.",
    ]


def real() -> list[str]:
    if not (DATA / "truth.csv").exists():
        return ["Real photos: not on this machine."]
    rows = list(csv.DictReader((DATA / "truth.csv").open()))
    lines = ["| photo | leaf | by hand | measured | sd | error |", "|---|---|---|---|---|---|"]
    errors, lengths_ = [], []
    found = {
        name: measure_all(DATA / name, flat=not name.startswith("RS"))
        for name in dict.fromkeys(r["file"] for r in rows)
    }
    for row in rows:
        base = (float(row["blade_base_x"]), float(row["blade_base_y"]))
        near = [m for m in found[row["file"]] if m.junction and np.hypot(*np.subtract(m.junction, base)) < 60]
        truth = float(row["petiole_blade_ratio"])
        if not near:
            errors.append(float("nan"))
            why = next((m.reason for m in found[row["file"]] if m.reason), "refused")
            lines.append(f"| {row['file']} | {row['leaf']} | {truth:.3f} | {why} | | |")
            continue
        m = near[0]
        errors.append(abs(m.petiole_blade_ratio - truth))
        lines.append(
            f"| {row['file']} | {row['leaf']} | {truth:.3f} | {m.petiole_blade_ratio:.3f} | {m.ratio_sd:.3f} "
            f"| {m.petiole_blade_ratio - truth:+.3f} |"
        )
        if not row["file"].startswith("RS"):
            blade = float(row["blade_length_px"])
            lengths_.append((abs(m.blade_px / blade - 1), abs(m.petiole_px - float(row["petiole_px"])) / blade))
    e = np.array(errors)
    blade, petiole = np.median(np.array(lengths_), axis=0) if lengths_ else (np.nan, np.nan)
    return [
        f"Real leaves (eight of apple, 256 px; six on two scans): {np.sum(e < 0.05)} of {len(e)} within 0.05, "
        f"{np.sum(~np.isfinite(e))} refused, 90 % of the others within {np.nanquantile(e, 0.9):.3f}. On the scans, "
        f"median error in shares of the blade: blade {blade:.4f}, petiole {petiole:.4f}.",
        "",
        *lines,
    ]


Task = tuple[str, Key, str, str, str | None]


def every_task(rounds: int) -> list[Task]:
    return [*faulty("drawn"), *faulty("another hand"), *good(rounds)]


def report(tasks: list[Task], every: list[Row]) -> str:
    """The section of bench/RESULTS.md from what was measured."""
    rows = [row for row, task in zip(every, tasks, strict=True) if task[4] is None]
    bad = {hand: [row for row, task in zip(every, tasks, strict=True) if task[4] and task[0] == hand] for hand in HANDS}
    told = [f"{len(rows)} drawn photos (seed {SEED}); a refusal counts as a miss in the third column."]
    for hand in HANDS:
        mine = [row for row in rows if (row[0].style == "another_hand") == (hand != "drawn")]
        groups: dict[str, Callable[[Row], bool]] = {f"all, {hand}": bool}
        groups |= {name.replace("_", " "): lambda row, name=name: row[0].background == name for name in BACKGROUNDS}
        if hand == "drawn":
            groups |= {f"drawn {name}": lambda row, name=name: row[0].style == name for name in STYLES}
        for low, high in ((0.2, 0.7), (0.7, 1.2), (1.2, 2.3)):
            groups[f"ratio {low} to {high}"] = lambda row, low=low, high=high: low <= row[0].ratio < high
        told += [
            "",
            f"### {hand.capitalize()}",
            "",
            *table(mine, groups),
            "",
            lengths(mine),
            "",
            refusals(hand, bad[hand]),
        ]
    return "\n".join(
        ["## leaf", "", *told, "", "### Outline and marks", "", *outlines(rows), "", *marks(rows), "",
         "### Real leaves", "", *real(), "", cost()]
    )  # fmt: skip


def main() -> None:
    # Each process on one thread: they share the cores.
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    tasks = every_task(int(sys.argv[1]) if len(sys.argv) > 1 else 16)
    with ProcessPoolExecutor(int(sys.argv[2]) if len(sys.argv) > 2 else 1) as pool:
        text = report(tasks, list(pool.map(one, tasks, chunksize=2)))
    print(text)
    put("leaf", text)


if __name__ == "__main__":
    main()

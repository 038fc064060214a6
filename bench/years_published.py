"""Published points against the 90 % bands of `tepal.years`, misses included, with a figure for the docs.

The points stand in `years_points.csv`: what a trial tells of its field is its programme, everything else is drawn from
the tables; what had to be assumed stands beside it. "Took part" says that the point set a value, its doubt or the form
of the model; "trial" that only another point of the same trial did. Run: python bench/years_published.py
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from results import put
from tepal.flora import load
from tepal.programme import read_programme_text
from tepal.years import Tracks, project

HERE = Path(__file__).parent
FIGURE = HERE.parent / "docs" / "rooms" / "years-published.svg"
REPLICATES = 4000
KINDS = {"left": "seed in the ground", "up": "seed in the ground", "live": "plants that live", "each": "seed set",
         "rain": "seed set", "relative": "seed set", "loss": "yield"}  # fmt: skip
PULLED = '[[season.pull]]\nshare = 1\nwhen = "{}"\n'
TOLD = {"yes": "", "trial": " +", "no": " *"}
_DAYS = {"pulled 80": ("05-10", "07-29"), "pulled 35": ("05-01", "06-05")}  # planted, pulled


@dataclass(frozen=True)
class Point:
    what: str
    source: str
    took_part: str  # yes, trial (another point of the same trial did), no
    kind: str
    value: float
    band: tuple[float, float, float]  # 5, 50, 95 %
    assumed: str

    @property
    def inside(self) -> bool:
        return self.band[0] <= self.value <= self.band[2]

    @property
    def off(self) -> float:
        """Natural logarithm of published over middle."""
        return float(np.log(self.value / max(self.band[1], 1e-9)))

    @property
    def spread(self) -> float:
        """Standard deviation of the logarithm that the band promises."""
        return float(np.log(max(self.band[2], 1e-9) / max(self.band[0], 1e-9)) / 2 / 1.645)


def _season(told: str) -> str:
    if told == "nothing returned":
        return PULLED.format("before seed")
    if told in _DAYS:
        planted, day = _DAYS[told]
        return f'planted = "{planted}"\n{PULLED.format(day)}'
    return told + "\n"


def run(row: dict[str, str], **known: float) -> Tracks:
    local = dict(part.split(" = ") for part in row["local"].split("; ") if part) | {k: str(v) for k, v in known.items()}
    start = row["start"].replace("; ", "\n")
    text = (f'taxon = "{row["taxon"]}"\n[start]\n{start}\n[[season]]\ncrop = "{row["crop"]}"\n'
            f"{_season(row['season'])}[local]\n" + "\n".join(f"{k} = {v}" for k, v in local.items()))  # fmt: skip
    given = read_programme_text(text, name=f"{row['what']}.toml")
    return project([given], flora=load(), years=int(row["years"]), replicates=REPLICATES, seed=7)[0].tracks


def measured(row: dict[str, str]) -> np.ndarray:
    """The projected quantity, (R,)."""
    got, start = run(row), float(row["start"].split(";")[0].split(" = ")[1])
    match row["quantity"]:
        case "left":
            return 100 * got.seedbank_m2[:, -1] / start
        case "up" | "live":
            return 100 * got.plants_m2[:, 0] / start
        case "rain":
            return got.seed_rain_m2[:, 0]
        case "each":
            return got.seed_rain_m2[:, 0] / start
        case "relative":
            return 100 * got.seed_rain_m2[:, 0] / run(row, days_after_crop=0).seed_rain_m2[:, 0]
        case "loss":
            return 100 * got.yield_loss[:, 0]
    raise ValueError(row["quantity"])


def points() -> list[Point]:
    out = []
    with (HERE / "years_points.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            low, middle, high = (float(q) for q in np.quantile(measured(row), (0.05, 0.5, 0.95)))
            out.append(Point(row["what"], row["source"], row["took_part"], KINDS[row["quantity"]],
                             float(row["value"]), (low, middle, high), row["assumed"]))  # fmt: skip
    return out


def score(point: Point) -> float:
    """Interval score of the 90 % band on the log scale (Gneiting and Raftery 2007): its width, and 20 times a miss."""
    low, high = (max(each, 1e-9) for each in (point.band[0], point.band[2]))
    missed = max(0.0, np.log(low / point.value), np.log(point.value / high))
    return float(np.log(high / low) + 20 * missed)


def left_out(told: Sequence[Point]) -> list[Point]:
    """Each source's bands, moved and stretched by what the other sources of the same kind say of them.

    The shift is the median of log(published / middle), the stretch the root mean square of what remains over the
    promised spread, each of the other sources counting as one.
    """
    out = []
    for point in told:
        others: dict[str, list[Point]] = {}
        for other in told:
            if other.kind == point.kind and other.source != point.source:
                others.setdefault(other.source, []).append(other)
        shift = float(np.median([np.median([p.off for p in each]) for each in others.values()]))
        stretch = float(np.sqrt(np.mean([np.mean([((p.off - shift) / p.spread) ** 2 for p in each])
                                         for each in others.values()])))  # fmt: skip
        middle = np.log(max(point.band[1], 1e-9)) + shift
        low, high = (np.log(max(each, 1e-9) / max(point.band[1], 1e-9)) * stretch for each in point.band[::2])
        band = float(np.exp(middle + low)), float(np.exp(middle)), float(np.exp(middle + high))
        out.append(replace(point, band=band))
    return out


def summed(name: str, told: Sequence[Point]) -> str:
    ratios = [abs(p.off) for p in told]
    scores = [score(p) for p in told]
    return (
        f"| {name} | {sum(p.inside for p in told)} of {len(told)} | {np.median(ratios):.2f} | {np.mean(scores):.2f} | "
        f"{np.median(scores):.2f} |"
    )


def draw(told: Sequence[Point]) -> None:
    figure = Figure(figsize=(8.6, 0.27 * len(told) + 0.9), layout="constrained")
    axes = figure.subplots()
    for at, point in enumerate(reversed(told)):
        low, middle, high = (value / point.value for value in point.band)
        axes.plot([max(low, 1e-3), high], [at, at], color="#1d1a16", lw=1.4, solid_capstyle="butt")
        axes.plot([middle], [at], marker="|", ms=8, color="#1d1a16", mew=1.6)
        axes.plot([1], [at], marker="o", ms=5, mfc="#1d1a16" if point.inside else "#ffffff", mec="#1d1a16")
    axes.set_xscale("log")
    axes.set_xlim(1e-2, 1e2)
    axes.axvline(1, color="#8a8378", lw=0.8, zorder=0)
    axes.set_ylim(-0.8, len(told) - 0.2)
    axes.set_yticks(range(len(told)), [f"{p.what}{TOLD[p.took_part]}" for p in reversed(told)], fontsize=7)
    axes.set_xlabel(
        "band of 90 %, as multiples of what was published; open circle: outside; *: took no part; +: only its trial",
        fontsize=8,
    )
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)
    figure.savefig(FIGURE, metadata={"Date": None})


def main() -> None:
    told = points()
    draw(told)
    own = [point for point in told if point.took_part != "yes"]
    moved = left_out(told)
    left = [p for p in moved if p.took_part != "yes"]
    lines = [
        "## years: published points",
        "",
        "90 % bands of single fields; what the trial tells is given, all else is drawn. Points and what was assumed of "
        "each: `bench/years_points.csv`. `bench/years_published.py`.",
        "",
        "| point | source | took part | published | 5 % | 50 % | 95 % | inside |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for p in told:
        shown = " | ".join(f"{value:,.3g}" if value < 1e4 else f"{value:,.0f}" for value in (p.value, *p.band))
        lines.append(f"| {p.what} | {p.source} | {p.took_part} | {shown} | {'yes' if p.inside else 'NO'} |")
    lines += [
        "",
        "| points | inside | median of \\|log(published / middle)\\| | interval score, mean | median |",
        "|---|---|---|---|---|",
        summed("all", told),
        summed("took no part, or only their trial did", own),
        summed("took no part, nor did their trial", [p for p in own if p.took_part == "no"]),
    ]
    for kind in dict.fromkeys(p.kind for p in own):
        lines.append(summed(f"took no part, or only their trial did: {kind}", [p for p in own if p.kind == kind]))
    lines += [
        summed("the same, without nearly all seed gone (below 0.1 %)", [p for p in own if p.value >= 0.1]),
        summed("one source left out, bands moved and stretched by the others: all", moved),
        summed("one source left out: took no part, or only their trial did", left),
        summed("one source left out: the same, without nearly all seed gone", [p for p in left if p.value >= 0.1]),
        "",
        "Interval score on the log scale: the width of the band, and 20 times what a point lies outside (Gneiting and "
        "Raftery 2007). One source left out: the other sources of the same kind move and stretch the bands of the one "
        "that is scored.",
    ]
    put("years-published", "\n".join(lines))
    print("\n".join(lines))


if __name__ == "__main__":
    main()

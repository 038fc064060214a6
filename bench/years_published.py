"""Published points against the 90 % bands of `tepal.years`, misses included, with a figure for the docs.

Each point is reckoned as a programme of a field as it was in the trial; what the trial tells (plants counted, nothing
done) stands in it, everything else is drawn from the tables. "Used" says that the point, or one of the same trial, had
a part in setting a parameter; the others did not. Run: python bench/years_published.py
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from results import put
from tepal.flora import load
from tepal.programme import read_programme_text
from tepal.years import Tracks, project

FIGURE = Path(__file__).parent.parent / "docs" / "rooms" / "years-published.svg"
REPLICATES = 4000


@dataclass(frozen=True)
class Point:
    what: str
    source: str
    used: bool
    value: float
    band: tuple[float, float, float]  # 5, 50, 95 %

    @property
    def inside(self) -> bool:
        return self.band[0] <= self.value <= self.band[2]


def run(taxon: str, start: str, season: str = "", *, crop: str = "soybean", local: str = "", years: int = 1) -> Tracks:
    text = f'taxon = "{taxon}"\n[start]\n{start}\n[[season]]\ncrop = "{crop}"\n{season}\n[local]\n{local}\n'
    return project(
        [read_programme_text(text, name="trial.toml")], flora=load(), years=years, replicates=REPLICATES, seed=7
    )[0].tracks


def points() -> list[Point]:
    out: list[Point] = []

    def add(what: str, source: str, used: bool, value: float, draws: np.ndarray) -> None:
        low, middle, high = np.quantile(draws, (0.05, 0.5, 0.95))
        out.append(Point(what, source, used, value, (float(low), float(middle), float(high))))

    # Seed in the ground, nothing returned.
    none = "[[season.pull]]\nshare = 1\n"
    bank = run("AMATU", "seedbank_m2 = 5000", none, years=3)
    left = 100 * bank.seedbank_m2 / 5000
    add("waterhemp, seed left after 1 year, Illinois, %", "Steckel2007", True, 39, left[:, 0])
    add("waterhemp, seed left after 2 years, Illinois, %", "Steckel2007", True, 28, left[:, 1])
    add("waterhemp, seed left after 2 years, Iowa, %", "Buhler2000abs", True, 29, left[:, 1])
    add("waterhemp, seed left after 3 years, Iowa, %", "Buhler2000abs", False, 4, left[:, 2])
    palmer = run("AMAPA", "seedbank_m2 = 5000", none, years=3)
    add("Palmer amaranth, seed left after 3 years at 1 cm, Georgia, %", "Sosnoskie2013", True, 9,
        100 * palmer.seedbank_m2[:, 2] / 5000)  # fmt: skip
    add("Palmer amaranth, seed left after 3 years on the surface, %", "Korres2018", False, 4.1,
        100 * palmer.seedbank_m2[:, 2] / 5000)  # fmt: skip
    # Plants that come up, and live.
    flush = "days_after_crop = {day}\nyear_to_year = 0\n"
    up = run("AMATU", "seedbank_m2 = 1000", local=flush.format(day=0)).plants_m2
    alive = run("AMATU", "plants_m2 = 20", local=flush.format(day=0)).plants_m2 / 20
    add("waterhemp, up in a season of seed in the top 5 cm, four Iowa sites, %", "Sandell1998", True, 15,
        100 * up / 1000 / np.maximum(alive, 1e-9))  # fmt: skip
    add("waterhemp up with soybean, living to seed, %", "Hartzler2004", True, 90, 100 * alive)
    late = run("AMATU", "plants_m2 = 20", local=flush.format(day=50)).plants_m2 / 20
    add("waterhemp up 50 days after soybean, living to seed, %", "Hartzler2004", True, 16, 100 * late)
    # Seed per area.
    row = 0.76
    for per_m, seeds, used in ((0.5, 140_000, True), (8, 514_000, True)):
        got = run(
            "AMAPA", f"plants_m2 = {per_m / row}", crop="corn", local=flush.format(day=0) + "seedlings_live = 1\n"
        )
        add(f"Palmer amaranth, seed per m2 in corn, {per_m:g} plants per m of row", "Massinga2001", used, seeds,
            got.seed_rain_m2)  # fmt: skip
    later = run("AMAPA", f"plants_m2 = {0.5 / row}", crop="corn", local=flush.format(day=28) + "seedlings_live = 1\n")
    add("Palmer amaranth, seed per m2, up at the 4- to 7-leaf stage of corn", "Massinga2001", False, 1800,
        later.seed_rain_m2)  # fmt: skip
    dense = run("AMATU", "plants_m2 = 100", local=flush.format(day=20))
    for value, year in ((22_000, 2021), (1_050_000, 2022)):
        add(f"waterhemp, seed per m2 at harvest, soybean with a residual only, Iowa {year}", "GrowIWM2024", False,
            value, dense.seed_rain_m2)  # fmt: skip
    # Yield.
    for taxon, crop, per_m, loss, source, used in (
        ("AMAPA", "soybean", 0.33, 17, "KlingamanOliver1994", True),
        ("AMAPA", "soybean", 1.0, 32, "KlingamanOliver1994", True),
        ("AMAPA", "soybean", 3.33, 64, "KlingamanOliver1994", True),
        ("AMAPA", "corn", 0.5, 11, "Massinga2001", True),
        ("AMAPA", "corn", 8.0, 91, "Massinga2001", True),
        ("AMATU", "soybean", 8.0, 56.3, "Bensch2003", True),
        ("AMAPA", "peanut", 1.0, 28, "Burke2007", True),
        ("AMARE", "corn", 0.5, 5, "Knezevic1994", True),
    ):
        got = run(taxon, f"plants_m2 = {per_m / row}", crop=crop, local=flush.format(day=0) + "seedlings_live = 1\n")
        add(f"{taxon}, loss of {crop}, {per_m:g} plants per m of row, %", source, used, loss, 100 * got.yield_loss)
    hager = run("AMATU", "plants_m2 = 200", local=flush.format(day=3))
    add("waterhemp, loss of soybean, dense stand left ten weeks, Illinois, %", "Hager2002", False, 43,
        100 * hager.yield_loss)  # fmt: skip
    wide, narrow = (run("AMATU", "plants_m2 = 215", f"row_cm = {r}\n", local=flush.format(day=3)) for r in (76, 19))
    add("waterhemp, loss of soybean, over 215 per m2, wide rows, %", "CortevaPage", False, 44, 100 * wide.yield_loss)
    add("waterhemp, loss of soybean, over 215 per m2, narrow rows, %", "CortevaPage", False, 37,
        100 * narrow.yield_loss)  # fmt: skip
    for value, what in ((74, "two dry years"), (11, "a wetter year")):
        corn = run("AMATU", "plants_m2 = 300", crop="corn", local=flush.format(day=3))
        add(f"waterhemp, loss of corn, dense stand, {what}, Illinois, %", "SteckelSprague2004", True, value,
            100 * corn.yield_loss)  # fmt: skip
    return out


def score(point: Point) -> float:
    """Interval score of the 90 % band on the log scale (Gneiting and Raftery 2007): its width, and 20 times a miss."""
    low, high = (max(each, 1e-9) for each in (point.band[0], point.band[2]))
    missed = max(0.0, np.log(low / point.value), np.log(point.value / high))
    return float(np.log(high / low) + 20 * missed)


def draw(told: list[Point]) -> None:
    figure = Figure(figsize=(8.2, 0.32 * len(told) + 0.8), layout="constrained")
    axes = figure.subplots()
    for at, point in enumerate(reversed(told)):
        low, middle, high = (value / point.value for value in point.band)
        axes.plot([max(low, 1e-3), high], [at, at], color="#1d1a16", lw=1.4, solid_capstyle="butt")
        axes.plot([middle], [at], marker="|", ms=9, color="#1d1a16", mew=1.6)
        axes.plot([1], [at], marker="o", ms=5, mfc="#1d1a16" if point.inside else "#faf7f0", mec="#1d1a16")
    axes.set_xscale("log")
    axes.set_xlim(1e-2, 1e2)
    axes.axvline(1, color="#cfc7b8", lw=0.8, zorder=0)
    axes.set_yticks(range(len(told)), [f"{p.what}{'' if p.used else ' *'}" for p in reversed(told)], fontsize=7)
    axes.set_xlabel(
        "band of 90 %, as multiples of the published value; open circle: outside; *: took no part", fontsize=8
    )
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(axis="y", length=0)
    figure.savefig(FIGURE, metadata={"Date": None})


def main() -> None:
    told = points()
    draw(told)
    own = [point for point in told if not point.used]
    ratios = np.abs(np.log([max(p.band[1], 1e-9) / p.value for p in told]))
    scores = [score(p) for p in told]
    lines = [
        "## years: published points",
        "",
        "90 % bands of single fields; what the trial tells is given, all else is drawn. `bench/years_published.py`.",
        "",
        "| point | source | took part | published | 5 % | 50 % | 95 % | inside |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for p in told:
        shown = " | ".join(f"{value:,.3g}" if value < 1e4 else f"{value:,.0f}" for value in (p.value, *p.band))
        lines.append(
            f"| {p.what} | {p.source} | {'yes' if p.used else 'no'} | {shown} | {'yes' if p.inside else 'NO'} |"
        )
    lines += [
        "",
        f"Inside: {sum(p.inside for p in told)} of {len(told)}; without a part {sum(p.inside for p in own)} "
        f"of {len(own)}. Median of |log(median / published)| {np.median(ratios):.2f}. Interval score on the log "
        f"scale, mean {np.mean(scores):.2f}, median {np.median(scores):.2f}; without a part "
        f"{np.mean([score(p) for p in own]):.2f}.",
    ]
    put("years-published", "\n".join(lines))
    print("\n".join(lines))


if __name__ == "__main__":
    main()

"""How fast `tepal.years` is: against a plain vectorised numpy version of the same model, and two processes against one.

Both play 10,000 replicates through 20 years at 3 loci with 5 cohorts, in this process, one after the other, by
processor time. The plain version is what one would write first: arrays of replicates by genotypes, `rng.binomial` and
`rng.poisson` for every number, one generator, no blocks. It is given the season's plan ready made; ours has to make
it. Run: OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python bench/years_speed.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time

import numpy as np

from results import put
from tepal.flora import load
from tepal.programme import read_programme_text
from tepal.years import InTurn, Processes, project
from tepal.years._genes import gamete_shares, hardy_weinberg, mated, meiosis
from tepal.years._loci import loci_of
from tepal.years._luck import Luck
from tepal.years._plan import plan_of
from tepal.years._values import Published, Values

REPLICATES, YEARS, ROUNDS = 10_000, 20, 3
PROGRAMMES = (1, 4, 12)
TEXT = """
taxon = "AMATU"
[start]
seedbank_m2 = [300, 3000]
[resistance.9]
allele_share = [0.1, 0.4]
[resistance.14]
allele_share = [0.001, 0.01]
[resistance.10]
allele_share = [1e-7, 1e-5]
[[season]]
crop = "soybean"
  [[season.residual]]
  groups = [14]
  [[season.post]]
  groups = [9, 10]
  height_cm = 8
  [[season.pull]]
  share = 0.5
  [season.harvest]
  seed_control = "mill"
[[season]]
crop = "corn"
  [[season.post]]
  groups = [9]
  height_cm = 10
"""


def plain(values: Values, loci, plans, *, outside: np.ndarray, area: float, start: np.ndarray) -> np.ndarray:
    """Seed per m2 at the end of each year, (R, years): the same processes, written down as they come."""
    rng = np.random.default_rng(1)
    n = len(start)
    top = rng.poisson(np.minimum((start * area)[:, None] * hardy_weinberg(loci.start), 1e15))
    deep = np.zeros_like(top)
    share = meiosis(loci.count)
    told = np.empty((n, YEARS))

    def some(count, chance):
        return rng.binomial(count, np.clip(np.broadcast_to(chance, count.shape), 0.0, 1.0))

    for year in range(YEARS):
        plan = plans[year % len(plans)]
        emerges = values.emerges * np.exp(values.year_to_year * rng.standard_normal(n)) * plan.emergence_left
        up = some(top, emerges[:, None])
        top = top - up
        dense = np.einsum("ng,ng->n", up, plan.crowds) / area
        chances = plan.setting / (1 + dense / values.most_live)[:, None, None]
        setting = np.empty(chances.shape, dtype=np.int64)
        left, free = up, np.ones(up.shape)
        for cohort in range(setting.shape[1]):
            setting[:, cohort] = some(left, chances[:, cohort] / free)
            free = free - chances[:, cohort]
            left = left - setting[:, cohort]
        mothers = some(setting, values.bears[:, None, None])
        crowd = np.einsum("nkg,nk->n", setting, plan.size) / area
        each = values.seeds_alone(plan.crop) * np.exp(values.year_to_year * rng.standard_normal(n))
        each = each / (1 + values.crowding(plan.crop) * crowd)
        eggs = np.einsum("nkg,nk->ng", mothers, plan.size) * loci.kept * each[:, None]
        grains = (np.einsum("nkg,nk->ng", setting - mothers, plan.size) * loci.kept) @ share
        total = grains.sum(axis=1, keepdims=True)
        near = np.divide(grains, total, out=np.zeros_like(grains), where=total > 0)
        far = np.where(total == 0, 1.0, values.pollen_from_outside[:, None])
        seed = mated(eggs @ share, (1 - far) * near + far * outside) * (1 - plan.kept_out[:, None])
        survives = values.survives(year + 1)
        new = rng.poisson(seed * ((1 - values.eaten) * survives)[:, None])
        top = some(top, survives[:, None]) + new
        deep = some(deep, values.survives_deep(year + 1)[:, None])
        told[:, year] = (top + deep).sum(axis=1) / area
    return told


def measure_plain(flora) -> tuple[float, np.ndarray]:
    programme = read_programme_text(TEXT, name="speed.toml")
    luck = Luck(1, 0, REPLICATES)
    values = Values(Published.of(flora, "AMATU"), programme, luck)
    loci = loci_of(programme, values)
    plans = [plan_of(season, values, loci, 76.0) for season in programme.season]
    start = programme.start.seedbank_m2.draws(luck.of("seedbank"), REPLICATES)
    began = time.process_time()
    told = plain(
        values, loci, plans, outside=gamete_shares(loci.start), area=programme.field.hectares * 1e4, start=start
    )
    return time.process_time() - began, told


def measure_ours(flora) -> tuple[float, np.ndarray]:
    programme = read_programme_text(TEXT, name="speed.toml")
    began = time.process_time()
    done = project([programme], flora=flora, years=YEARS, replicates=REPLICATES)[0]
    return time.process_time() - began, done.tracks.seedbank_m2


def memory() -> float:
    """MB at most of a process of its own that plays ours alone."""
    asked = (
        "import resource, sys; sys.path.insert(0, 'bench'); import years_speed as y; from tepal.flora import load; "
        "y.measure_ours(load()); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    )
    return float(subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout)


def two_processes(flora, programmes: int) -> tuple[float, float, float]:
    """Processor seconds: all in this process; of two processes this one, and the other with its start."""
    many = [read_programme_text(f'name = "{i}"\n{TEXT}', name="speed.toml") for i in range(programmes)]
    began = time.process_time()
    project(many, flora=flora, years=YEARS, replicates=REPLICATES, runs=InTurn())
    one = time.process_time() - began
    began, others = time.process_time(), _children()
    project(many, flora=flora, years=YEARS, replicates=REPLICATES, runs=Processes(2))
    return one, time.process_time() - began, _children() - others


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    megabytes = memory()  # first: a process started later would be told the peak of this one
    flora = load()
    ours, theirs = [], []
    for _ in range(ROUNDS):  # in turn, so that a busy spell of the machine meets both
        seconds, told = measure_ours(flora)
        ours.append(seconds)
        seconds, other = measure_plain(flora)
        theirs.append(seconds)
    middle = [np.median(np.log10(each[:, -1] + 0.1)) for each in (told, other)]
    shared = [(n, *two_processes(flora, n)) for n in PROGRAMMES]
    lines = [
        "## years: speed",
        "",
        f"{REPLICATES:,} replicates x {YEARS} years x 3 loci x 5 cohorts, processor seconds, least of {ROUNDS} runs in "
        "turn in one process. `bench/years_speed.py`.",
        "",
        "| | seconds | median log10 seed per m2 in the last year |",
        "|---|---|---|",
        f"| tepal.years | {min(ours):.2f} | {middle[0]:.2f} |",
        f"| plain numpy, every number by `rng.binomial` | {min(theirs):.2f} | {middle[1]:.2f} |",
        "",
        f"At most {megabytes:.0f} MB.",
        "",
        "Two processes, of which the first is the one that was asked; the other's start is counted. So many times as "
        "fast as one process where each has a core to itself:",
        "",
        "| programmes | one process, s | of two the first, s | the second, s | times as fast |",
        "|---|---|---|---|---|",
        *(
            f"| {n} | {one:.1f} | {here:.1f} | {there:.1f} | {one / max(here, there):.2f} |"
            for n, one, here, there in shared
        ),
    ]
    put("years-speed", "\n".join(lines))
    print("\n".join(lines))


if __name__ == "__main__":
    main()

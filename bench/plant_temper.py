"""Estimate the temper of the plant room on make-believe plants, and write it into its settings with how it was got.

The likelihood of each look is raised to temper(stage) / (1 + (n - 1) overlap), n the looks of its overlap group; and
the flora's chances of misreading are scaled. These numbers are fitted together by least log loss over counties that
differ in how much characters go together and populations shift. Other seeds than the bench's are used.

    python bench/plant_temper.py [--write]
"""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from plant_specimens import Trouble, some_looks, specimens
from tepal.flora import load
from tepal.plant import Specimen, identify, identify_many, load_settings

SETTINGS = Path(__file__).parent.parent / "src" / "tepal" / "plant" / "settings.csv"
STAGES = ("reproductive", "vegetative", "seedling_2-4_leaf")
SEEDS = range(7001, 7007)
# Mild, middling and hard counties, with and without looks at what no flora tells: no one of them is the truth.
TROUBLES = (
    Trouble(together=0.0, shift_sd=0.25),
    Trouble(),
    Trouble(together=0.6, shift_sd=0.5),
    Trouble(together=0.2, shares=0.6),
    Trouble(together=0.0, shows_untold=False),
    Trouble(together=0.3, shows_untold=False),
)
WORLDS, PLANTS = 25, 24
# Numbers of looks that people have in hand, in turn: mostly some, now and then few or nearly all.
LOOKS = ((4, 8), (1, 3), (4, 8), (9, 40))
KEYS = (*(("temper", stage) for stage in STAGES), ("overlap_correlation", ""), ("misread_scale", ""))
LOW = np.array([0.5, 0.5, 0.5, 0.0, 0.3])
HIGH = np.array([1.25, 1.25, 1.25, 1.0, 1.5])


def main() -> None:
    flora, settings = load(), load_settings()
    names = identify({}, stage="vegetative", flora=flora).taxa
    plants: list[Specimen] = []
    truth: list[int] = []
    for seed, trouble in zip(SEEDS, TROUBLES, strict=True):
        for stage in STAGES:
            rng = np.random.default_rng([seed, 1])
            made = specimens(flora, stage, worlds=WORLDS, plants=PLANTS, seed=seed, trouble=trouble)
            for number, one in enumerate(made):
                # A cross of which no cross is documented has no name; it is left out of the fit.
                if one.truth in names:
                    looks = some_looks(one, rng, *LOOKS[number % len(LOOKS)])
                    plants.append(Specimen(looks, stage, one.region))
                    truth.append(names.index(one.truth))
    at = np.array(truth)

    def loss(x: np.ndarray) -> float:
        changed = settings.changed(dict(zip(KEYS, np.clip(x, LOW, HIGH).tolist(), strict=True)))
        posterior = identify_many(plants, flora=flora, settings=changed).posterior
        # Outside the bounds the loss rises, so that the search turns back.
        outside = np.maximum(x - HIGH, 0).sum() + np.maximum(LOW - x, 0).sum()
        return float(-np.log(np.maximum(posterior[np.arange(len(at)), at], 1e-12)).mean() + outside)

    # From a fixed place and with wide first steps: from the last values it would only find them again.
    start = np.array([1.0, 1.0, 1.0, 0.1, 0.7])
    simplex = np.vstack([start, start + np.diag([0.12, 0.12, 0.12, 0.15, 0.25])])
    untempered = loss(np.array([1, 1, 1, 0, 1.0]))
    options = {"maxfev": 110, "xatol": 0.01, "fatol": 1e-4, "initial_simplex": simplex}
    found = minimize(loss, start, method="Nelder-Mead", options=options)
    best = np.round(np.clip(found.x, LOW, HIGH), 3)
    print(f"{len(plants)} plants; log loss {untempered:.4f} untempered, {loss(best):.4f} with")
    for key, value in zip(KEYS, best, strict=True):
        print(f"  {' '.join(key).strip():28s} {value:g}")
    if "--write" in sys.argv:
        how = (
            f"Estimated by bench/plant_temper.py: least log loss over {len(plants)} make-believe plants of "
            f"{WORLDS * len(TROUBLES)} counties a stage, seeds {SEEDS[0]} to {SEEDS[-1]}: {untempered:.3f} untempered, "
            f"{loss(best):.3f} with."
        )
        write(dict(zip(KEYS, best.tolist(), strict=True)), how)


def write(values: dict[tuple[str, str], float], how: str) -> None:
    """Put the fitted values into the settings; stages that were not fitted take the mean of those that were."""
    mean = round(float(np.mean([value for (name, _), value in values.items() if name == "temper"])), 3)
    with SETTINGS.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        key = (row["name"], row["key"])
        if key in values:
            row |= {"value": f"{values[key]:g}", "source": "simulation", "note": how}
        elif row["name"] == "temper":
            row |= {"value": f"{mean:g}", "note": "The mean of the stages that were fitted."}
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    SETTINGS.write_text(text.getvalue(), encoding="utf-8")


if __name__ == "__main__":
    main()

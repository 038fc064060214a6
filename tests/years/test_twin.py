"""A slow twin: every seed and every plant by itself, one coin after another. It must agree in distribution."""

from __future__ import annotations

import random

import numpy as np
import pytest
from scipy import stats

from tepal.years import project
from years.fields import programme

E, LIVE, FEMALE, SEEDS, CROWD, EATEN, TOP, P, H, LEFT, KILL, FAR, OUT = (
    0.3, 0.8, 0.5, 16, 0.4, 0.2, 0.5, 0.2, 0.5, 0.1, 0.6, 0.1, 0.6,
)  # fmt: skip
AREA = 100.0  # m2
START, YEARS = 120, 4


def poisson(rng: random.Random, mean: float) -> int:
    # Knuth's: multiply uniform numbers until they fall below e^-mean.
    limit, count, product = np.exp(-mean), -1, 1.0
    while product > limit:
        product *= rng.random()
        count += 1
    return count


def one_field(rng: random.Random) -> tuple[int, int, int]:
    """Seeds, resistant alleles and plants after some years: a list of seeds, each a pair of alleles."""
    draw = lambda p: rng.random() < p  # noqa: E731 - a coin
    bank = [(draw(P), draw(P)) for _ in range(START)]
    plants = []
    for _ in range(YEARS):
        up = [seed for seed in bank if draw(E)]
        stay = bank.copy()
        for seed in up:
            stay.remove(seed)
        live = {0: 1 - KILL, 2: 1 - min(LEFT, KILL)}
        live[1] = live[0] + H * (live[2] - live[0])
        plants = [seed for seed in up if draw(LIVE) and draw(live[sum(seed)])]
        females, males = [], []
        for plant in plants:
            (females if draw(FEMALE) else males).append(plant)
        each = SEEDS / (1 + CROWD * len(plants) / AREA)
        new = []
        for mother in females:
            for _ in range(poisson(rng, each * (1 - EATEN) * TOP)):
                father_allele = draw(OUT) if draw(FAR) or not males else rng.choice(rng.choice(males))
                new.append((rng.choice(mother), father_allele))
        bank = [seed for seed in stay if draw(TOP)] + new
    return len(bank), sum(map(sum, bank)), len(plants)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_twin_agrees_in_distribution(flora, seed):
    rng = random.Random(seed)
    twin = np.array([one_field(rng) for _ in range(1500)])
    head = f"[resistance.9]\nallele_share = {P}\ndominance = {H}\ncost = 0\nkill_left = {LEFT}\n"
    spray = f"[[season.post]]\ngroups = [9]\ndays_after_planting = 20\nheight_cm = 8\nkill = {KILL}\n"
    given = programme(spray, head=head, hectares=AREA / 1e4, start=f"seedbank_m2 = {START / AREA}", emerges=E,
                      seedlings_live=LIVE, seed_bearing=FEMALE, seeds_per_plant=SEEDS, crowding=CROWD, eaten=EATEN,
                      seed_survives=TOP, pollen_from_outside=FAR, outside=f"{{ 9 = {OUT} }}")  # fmt: skip
    got = project([given], flora=flora, years=YEARS, replicates=1500, seed=seed)[0].tracks
    seeds = got.seedbank_m2[:, -1] * AREA
    alleles = got.resistant["9"][:, -1] * 2 * seeds
    ours = np.stack([seeds, alleles, got.plants_m2[:, -1] * AREA], axis=1)
    for column in range(3):
        # A difference of 1 in 1000 by chance alone; the counts are whole, which makes the test careful.
        assert stats.ks_2samp(twin[:, column], np.rint(ours[:, column])).pvalue > 1e-3
        assert ours[:, column].mean() == pytest.approx(
            twin[:, column].mean(), abs=4.5 * np.hypot(twin[:, column].std(), ours[:, column].std()) / np.sqrt(1500)
        )

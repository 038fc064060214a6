"""Where everything is known the projection is a sum that can be done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from years.fields import programme, run

GENE = "[resistance.9]\nallele_share = {p}\ndominance = {h}\ncost = {c}\nkill_left = {left}\n"
SPRAY = "[[season.post]]\ngroups = [9]\ndays_after_planting = 20\nheight_cm = 8\nkill = {kill}\n"


def test_without_crowding_seed_grows_geometrically(flora):
    got = run(flora, programme(), years=6).tracks
    seed = 100.0
    for year in range(6):
        up = 0.05 * seed
        plants = 0.9 * up
        rain = plants * 0.5 * 200
        seed = (seed - up) * 0.45 + rain * 0.7 * 0.45
        # 40 ha hold 40 million seeds: chance is far below a thousandth.
        assert got.plants_m2[:, year].mean() == pytest.approx(plants, rel=2e-3)
        assert got.seed_rain_m2[:, year].mean() == pytest.approx(rain, rel=2e-3)
        assert got.seedbank_m2[:, year].mean() == pytest.approx(seed, rel=2e-3)
        assert got.yield_loss[:, year].mean() == pytest.approx(0.15 * plants / (1 + 0.15 * plants / 0.75), rel=2e-3)


def test_without_seed_return_the_bank_only_dies(flora):
    pull = "[[season.pull]]\nshare = 1\n"
    got = run(flora, programme(pull, start="seedbank_m2 = 100\ndeep_share = 0.4"), years=4).tracks
    top, deep = 60.0, 40.0
    for year in range(4):
        top, deep = top * 0.95 * 0.45, deep * 0.58
        assert (got.seed_rain_m2[:, year] == 0).all()
        assert got.seedbank_m2[:, year].mean() == pytest.approx(top + deep, rel=2e-3)


def test_the_seed_of_two_sexes_is_half_of_that_of_one(flora):
    both = run(flora, programme(taxon="AMARE", seed_bearing=1), years=1).tracks.seed_rain_m2.mean()
    half = run(flora, programme(taxon="AMATU", seed_bearing=0.5), years=1).tracks.seed_rain_m2.mean()
    assert half == pytest.approx(both / 2, rel=2e-3)


def test_crowding_is_a_hyperbola(flora):
    got = run(flora, programme(crowding=0.4, start="plants_m2 = 50", seedlings_live=1), years=1).tracks
    assert got.seed_rain_m2.mean() == pytest.approx(50 * 0.5 * 200 / (1 + 0.4 * 50), rel=2e-3)


def test_limits_of_the_loss(flora):
    few = run(flora, programme(start="plants_m2 = 0.001", seedlings_live=1), years=1).tracks.yield_loss.mean()
    assert few == pytest.approx(0.15 * 0.001, rel=0.02)  # 400 plants in the field: no chance in their number
    many = run(flora, programme(start="plants_m2 = 1e6", seedlings_live=1), years=1).tracks.yield_loss.mean()
    assert many == pytest.approx(0.75, rel=1e-3)
    assert run(flora, programme(crop="fallow"), years=1).tracks.yield_loss.max() == 0


@pytest.mark.parametrize(("p", "h", "kill", "left"), [(0.1, 0.5, 1, 0), (0.02, 1, 0.9, 0.2), (0.3, 0, 0.95, 0.1)])
def test_allele_share_after_selection_at_random_mating(flora, p, h, kill, left):
    """The textbook: frequencies of genotypes times their survival; the seedbank holds old seed and new."""
    given = programme(SPRAY.format(kill=kill), head=GENE.format(p=p, h=h, c=0, left=left))
    got = run(flora, given, years=1, replicates=60).tracks
    two, none = 1 - min(left, kill), 1 - kill
    live = np.array([none, none + h * (two - none), two])
    share = np.array([(1 - p) ** 2, 2 * p * (1 - p), p**2])
    mean = float(share @ live)
    selected = float(share @ (live * [0, 0.5, 1])) / mean
    up = 100 * 0.05
    old, new = (100 - up) * 0.45, up * 0.9 * mean * 0.5 * 200 * 0.7 * 0.45
    assert got.resistant["9"].mean() == pytest.approx((old * p + new * selected) / (old + new), rel=4e-3)
    assert got.escapes["9"].mean() == pytest.approx(mean, rel=4e-3)
    assert got.plants_m2.mean() == pytest.approx(up * 0.9 * mean, rel=4e-3)


def test_the_cost_is_paid_in_seed_and_in_pollen(flora):
    p, c, h = 0.4, 0.3, 0.5
    given = programme(head=GENE.format(p=p, h=h, c=c, left=0), seed_survives=1, emerges=1, eaten=0)
    got = run(flora, given, years=1, replicates=60).tracks
    kept = np.array([1, 1 - h * c, 1 - c])
    share = np.array([(1 - p) ** 2, 2 * p * (1 - p), p**2]) * kept
    # All seed comes up, so that the bank is the new seed alone; eggs and pollen are of the same shares.
    assert got.resistant["9"].mean() == pytest.approx(float(share @ [0, 0.5, 1] / share.sum()), rel=3e-3)


def test_a_neutral_allele_stays_in_the_mean(flora):
    given = programme(head=GENE.format(p=0.01, h=0.5, c=0, left=0), hectares=0.01, start="seedbank_m2 = 40")
    got = run(flora, given, years=4, replicates=3000).tracks.resistant["9"]
    # 4,000 seeds, 160 plants of them: drift spreads the share, chance moves its mean by the standard error only.
    for year in range(4):
        error = got[:, year].std() / np.sqrt(len(got))
        assert abs(got[:, year].mean() - 0.01) < 4 * error
    assert got[:, 3].std() > got[:, 0].std()


def test_the_number_of_founders_is_2pn(flora):
    p, n = 2e-7, 40 * 10_000 * 100
    given = programme(head=GENE.format(p=p, h=0.5, c=0, left=0), start="seedbank_m2 = 100", emerges=0,
                      seed_survives=1, deep_survives=1)  # fmt: skip
    got = run(flora, given, years=1, replicates=4000).tracks
    copies = got.resistant["9"][:, 0] * 2 * n
    assert copies.mean() == pytest.approx(2 * p * n, abs=4 * np.sqrt(2 * p * n / 4000))
    assert copies.var() == pytest.approx(2 * p * n, rel=0.12)  # Poisson
    assert (copies == 0).mean() == pytest.approx(np.exp(-2 * p * n), abs=0.003)


def test_pollen_from_outside_mixes_in(flora):
    given = programme(head=GENE.format(p=0, h=0.5, c=0, left=0), emerges=1, eaten=0, seed_survives=1,
                      pollen_from_outside=0.2, outside="{ 9 = 0.5 }")  # fmt: skip
    got = run(flora, given, years=1).tracks.resistant["9"]
    assert got.mean() == pytest.approx(0.5 * 0.2 * 0.5, rel=3e-3)  # half of each seed's genes is the father's


def test_selfing_keeps_the_share_and_takes_half_of_the_mixed(flora):
    """With full selfing heterozygotes halve: plants with two copies go from p^2 to p^2 + pq/2."""
    spray = SPRAY.format(kill=1)
    given = programme(spray, head=GENE.format(p=0.2, h=0, c=0, left=0), taxon="AMARE", seed_bearing=1, outcrossing=0,
                      emerges=0.5)  # fmt: skip
    first = run(flora, programme(head=GENE.format(p=0.2, h=0, c=0, left=0), taxon="AMARE", seed_bearing=1,
                                 outcrossing=0, emerges=1, eaten=0, seed_survives=1), years=2).tracks  # fmt: skip
    assert first.resistant["9"].mean() == pytest.approx(0.2, rel=2e-3)
    # Under a spray that only two copies survive, the second season's escapes are two-copy plants of both sources.
    got = run(flora, given, years=1).tracks
    assert got.escapes["9"].mean() == pytest.approx(0.04, rel=4e-3)


def test_inversion_moves_seed_between_the_layers(flora):
    season = "inversion = true\ninverted = 0.9\n[[season.pull]]\nshare = 1\n"
    got = run(flora, programme(season), years=1).tracks
    top, deep = 100 * 0.1, 100 * 0.9
    assert got.seedbank_m2.mean() == pytest.approx(top * 0.95 * 0.45 + deep * 0.58, rel=2e-3)


def test_seed_kept_out_and_brought_in(flora):
    season = "[season.harvest]\nseed_kept_out = 0.4\nseed_brought_m2 = 7\n"
    got = run(flora, programme(season), years=1).tracks
    assert got.seed_rain_m2.mean() == pytest.approx(100 * 0.05 * 0.9 * 0.5 * 200 * 0.6 + 7, rel=2e-3)


def test_groups_of_one_spray_act_independently(flora):
    both = "[[season.post]]\ngroups = [10, 4]\ndays_after_planting = 20\nheight_cm = 8\nkill = { 10 = 0.9, 4 = 0.8 }\n"
    genes = "[resistance.10]\nallele_share = 0\n[resistance.4]\nallele_share = 0\n"
    got = run(flora, programme(both, head=genes), years=1).tracks
    assert got.plants_m2.mean() == pytest.approx(100 * 0.05 * 0.9 * 0.1 * 0.2, rel=4e-3)


def test_the_metabolic_gene_weakens_each_group_it_names(flora):
    both = (
        "[[season.post]]\ngroups = [15, 27]\ndays_after_planting = 20\nheight_cm = 8\nkill = { 15 = 0.9, 27 = 0.8 }\n"
    )
    genes = ("[resistance.15]\nallele_share = 0\n[resistance.27]\nallele_share = 0\n"
             "[resistance.metabolic]\nallele_share = 1\nweakens = { 15 = 0.4, 27 = 0.5 }\n")  # fmt: skip
    got = run(flora, programme(both, head=genes), years=1).tracks
    assert got.plants_m2.mean() == pytest.approx(100 * 0.05 * 0.9 * (1 - 0.36) * (1 - 0.4), rel=4e-3)


def test_money_is_what_was_done(flora):
    season = SPRAY.format(kill=0.9) + "cost_ha = 45\n[[season.pull]]\nshare = 0.5\nhours_ha = 2\n"
    money = "[money]\nwage_hour = 20\nprice_t = { soybean = 400 }\nyield_t_ha = { soybean = 3 }\n"
    given = programme(season, head="[resistance.9]\nallele_share = 0\n" + money)
    got = run(flora, given, years=2)
    assert (got.tracks.cost == 85).all()
    assert got.tracks.lost is not None
    np.testing.assert_allclose(got.tracks.lost, got.tracks.yield_loss * 1200)
    np.testing.assert_allclose(
        got.spent(0.1), (got.tracks.cost + got.tracks.lost)[:, 0] + (got.tracks.cost + got.tracks.lost)[:, 1] / 1.1
    )

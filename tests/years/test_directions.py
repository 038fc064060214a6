"""More control never means more seed; what breeds resistance faster does so here; the same seed, the same bytes."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tepal.programme import read_programme_text
from tepal.years import InTurn, Processes, project, to_json
from years.fields import programme

POST = "[[season.post]]\ngroups = [{groups}]\nheight_cm = {height}\n"
# With each of these more is done: seed and loss must not rise in any year, in the mean over the same luck.
PULLED, COVERED = "[[season.pull]]\nshare = 0.97\n", "cover_crop_t_ha = 6\n"
SPRAYED = POST.format(groups="10, 4", height=8)
RESIDUAL = "[[season.residual]]\ngroups = [15]\n"
MORE = {
    "a post": ("", POST.format(groups=10, height=8)),
    "a lower post": (POST.format(groups=10, height=25), POST.format(groups=10, height=6)),
    "a second group": (POST.format(groups=10, height=8), POST.format(groups="10, 4", height=8)),
    "a residual": (POST.format(groups=10, height=8), POST.format(groups=10, height=8) + RESIDUAL),
    "a longer residual": (RESIDUAL + "lasts_days = 15\n", RESIDUAL + "lasts_days = 45\n"),
    "a late residual as well": (RESIDUAL, RESIDUAL + RESIDUAL + "days_after_planting = 28\n"),
    "pulling": ("", "[[season.pull]]\nshare = 0.5\n"),
    "more pulling": ("[[season.pull]]\nshare = 0.5\n", "[[season.pull]]\nshare = 0.9\n"),
    "a cut": ("", "[[season.cut]]\nheight_cm = 15\n"),
    "a lower cut": ("[[season.cut]]\nheight_cm = 15\n", "[[season.cut]]\nheight_cm = 2.5\n"),
    "cultivation": ("", "[[season.cultivate]]\ndays_after_planting = 25\n"),
    "late cultivation, which kills late plants": ("", "[[season.cultivate]]\ndays_after_planting = 60\n"),
    "a mill": ("", '[season.harvest]\nseed_control = "mill"\n'),
    "a cover crop": ("", COVERED),
    "a cover crop beside all else": (SPRAYED + PULLED, COVERED + SPRAYED + PULLED),
}  # fmt: skip


def field(season, crop="soybean", head="", taxon="AMATU", start="seedbank_m2 = [100, 2000]"):
    return read_programme_text(
        f'taxon = "{taxon}"\n[start]\n{start}\n{head}[[season]]\ncrop = "{crop}"\n{season}',
        name="f.toml",
    )


@pytest.mark.parametrize("what", MORE)
def test_more_control_never_gives_more_seed(flora, what):
    less, more = (p.tracks for p in project([field(s) for s in MORE[what]], flora=flora, years=5, replicates=250))
    # In one replicate the whole plants are drawn anew, so that means over the same doubt are compared.
    assert (more.seed_rain_m2.mean(axis=0) <= less.seed_rain_m2.mean(axis=0) * 1.01).all()
    assert (more.seedbank_m2.mean(axis=0) <= less.seedbank_m2.mean(axis=0) * 1.01).all()
    assert (more.yield_loss.mean(axis=0) <= less.yield_loss.mean(axis=0) + 0.005).all()
    assert more.seed_rain_m2[:, 0].mean() < less.seed_rain_m2[:, 0].mean()


@pytest.mark.parametrize("what", MORE)
def test_nor_in_a_dense_field(flora, what):
    """Where plants crowd, killing some must not let the rest bear more than all of them did: late ones crowd little."""
    dense = "seedbank_m2 = [20000, 100000]"
    less, more = (
        p.tracks
        for p in project([field(s, crop="corn", taxon="AMATU", start=dense) for s in MORE[what]], flora=flora, years=8,
                         replicates=120)
    )  # fmt: skip
    assert (more.seed_rain_m2.mean(axis=0) <= less.seed_rain_m2.mean(axis=0) * 1.01).all()
    assert (more.seedbank_m2.mean(axis=0) <= less.seedbank_m2.mean(axis=0) * 1.01).all()
    assert (more.yield_loss.mean(axis=0) <= less.yield_loss.mean(axis=0) + 0.005).all()


def test_narrow_rows_and_later_planting_hold_seed_down(flora):
    wide, narrow = (p.tracks for p in project([field("row_cm = 76\n"), field("row_cm = 38\n")], flora=flora, years=1,
                                              replicates=250))  # fmt: skip
    assert narrow.seed_rain_m2.mean() < wide.seed_rain_m2.mean()
    early, late = (p.tracks for p in project([field('planted = "04-25"\n'), field('planted = "06-05"\n')], flora=flora,
                                             years=1, replicates=250))  # fmt: skip
    assert late.plants_m2.mean() < early.plants_m2.mean()


def _gene(group, share):
    return f"[resistance.{group}]\nallele_share = {share}\ndominance = 0.5\ncost = 0\nkill_left = 0.05\n"


def test_two_independent_sites_are_slower_than_one(flora):
    """With a seedbank, and each site nearly complete by itself, two together hold both for longer."""
    genes = _gene(9, 1e-4) + _gene(10, 1e-4)
    one = "[[season.post]]\ngroups = [9]\nheight_cm = 6\nkill = 0.95\n"
    two = "[[season.post]]\ngroups = [9, 10]\nheight_cm = 6\nkill = 0.95\n"
    single, both = project([field(one, head=genes), field(two, head=genes)], flora=flora, years=10, replicates=250)
    assert (both.tracks.resistant["9"].mean(axis=0) <= single.tracks.resistant["9"].mean(axis=0) + 1e-3).all()
    assert both.tracks.resistant["9"][:, 5].mean() < 0.5 * single.tracks.resistant["9"][:, 5].mean()


def test_without_old_seed_or_escapes_a_mixture_does_not_slow_resistance(flora):
    """All seed comes up and all plants are sprayed: who lives through both carries both, as who lives through one."""
    genes = "".join(_gene(group, 0.02).replace("kill_left = 0.05", "kill_left = 0") for group in (9, 10))
    spray = "[[season.post]]\ngroups = [{}]\ndays_after_planting = 10\nheight_cm = 6\nkill = 1\n"
    known = {"emerges": 1, "seeds_per_plant": 4000}
    one, both = project([programme(spray.format(groups), head=genes, **known) for groups in ("9", "9, 10")],
                        flora=flora, years=1, replicates=60)  # fmt: skip
    # Only plants with a copy live, each with one or two: the share after one spraying is the same.
    assert both.tracks.resistant["9"].mean() == pytest.approx(one.tracks.resistant["9"].mean(), rel=0.02)
    # With escapes that no spray meets the mixture is slower.
    few = {"emerges": 0.05, "seeds_per_plant": 4000}
    one, both = project([programme(spray.format(groups).replace("kill = 1", "kill = 0.95"), head=genes, **few)
                         for groups in ("9", "9, 10")], flora=flora, years=1, replicates=60)  # fmt: skip
    assert both.tracks.resistant["9"].mean() < 0.7 * one.tracks.resistant["9"].mean()


def test_a_shared_metabolic_gene_breaks_what_seemed_three_sites(flora):
    spray = "[[season.post]]\ngroups = [15, 27, 4]\nheight_cm = 6\nkill = 0.9\n"
    genes = _gene(15, 0) + _gene(27, 0) + _gene(4, 0)
    shared = genes + "[resistance.metabolic]\nallele_share = 1e-3\nweakens = { 15 = 0.3, 27 = 0.3, 4 = 0.3 }\n"
    apart, together = project(
        [field(spray, head=genes), field(spray, head=shared)], flora=flora, years=8, replicates=250
    )
    assert together.tracks.escapes["27"][:, -1].mean() > apart.tracks.escapes["27"][:, -1].mean() + 0.05


def test_a_cost_holds_an_unused_gene_down(flora):
    genes = "[resistance.9]\nallele_share = 0.2\ndominance = 0.5\ncost = {}\n"
    free, dear = project([field("", head=genes.format(0)), field("", head=genes.format(0.2))], flora=flora, years=6,
                         replicates=250)  # fmt: skip
    assert dear.tracks.resistant["9"][:, -1].mean() < free.tracks.resistant["9"][:, -1].mean() - 0.03


def test_a_small_field_can_lose_a_gene_and_empty_itself(flora):
    tiny = programme("[[season.pull]]\nshare = 0.9\n", head=_gene(9, 0.01), hectares=0.02, start="seedbank_m2 = 3",
                     emerges=0.5, seed_survives=0.1)  # fmt: skip
    got = project([tiny], flora=flora, years=8, replicates=400)[0].tracks
    assert 0 < (got.seedbank_m2[:, -1] == 0).mean() <= 1
    assert (got.resistant["9"][got.seedbank_m2[:, -1] == 0, -1] == 0).all()


@pytest.mark.slow
def test_the_same_seed_gives_the_same_bytes_however_it_is_run(flora):
    both = [field(MORE["a post"][1]), field(MORE["a residual"][1])]

    def told(runs, seed=1):
        done = project(both, flora=flora, years=3, replicates=600, seed=seed, runs=runs)
        return json.dumps([to_json(projection) for projection in done])

    here = told(InTurn())
    assert told(Processes(2)) == here
    assert told(None) == here
    assert told(None, seed=2) != here


def test_programmes_share_their_luck(flora):
    """A programme gives the same whether it stands alone or beside others."""
    one, two = field(MORE["a post"][1]), field(MORE["pulling"][1])
    alone = project([two], flora=flora, years=2, replicates=50)[0].tracks.seedbank_m2
    beside = project([one, two], flora=flora, years=2, replicates=50)[1].tracks.seedbank_m2
    np.testing.assert_array_equal(alone, beside)

"""The estimator of what matters against another library and closed forms, and the exchange of streams."""

from __future__ import annotations

import numpy as np
import pytest
from SALib.analyze import sobol

from tepal.programme import read_programme_text
from tepal.years import Processes, project, stands_on, what_matters
from tepal.years._luck import Luck
from tepal.years._matters import Exchanged, indices
from years.fields import programme

NAMES = ("x1", "x2", "x3")
# Ishigami and Homma (1990) with a = 7, b = 0.1, in closed form.
A, B = 7.0, 0.1
VARIANCE = A**2 / 8 + B * np.pi**4 / 5 + B**2 * np.pi**8 / 18 + 0.5
FIRST = np.array([0.5 * (1 + B * np.pi**4 / 5) ** 2, A**2 / 8, 0.0]) / VARIANCE
TOTAL = np.array([FIRST[0] + 8 * B**2 * np.pi**8 / 225 / VARIANCE, FIRST[1], 8 * B**2 * np.pi**8 / 225 / VARIANCE])


def ishigami(luck):
    x1, x2, x3 = ((2 * luck.of(name).random(luck.size) - 1) * np.pi for name in NAMES)
    return np.sin(x1) + A * np.sin(x2) ** 2 + B * x3**4 * np.sin(x1)


def outcomes(size):
    """Drawn as the projection is: each value from its own stream, one exchanged at a time."""
    streams = [Exchanged(), Exchanged(rest="b"), *(Exchanged(frozenset({name})) for name in NAMES)]
    f = [ishigami(Luck(3, 0, size, stream)) for stream in streams]
    return f[0], f[1], np.stack(f[2:])


def test_a_known_function_by_its_closed_form():
    first, total = indices(*outcomes(200_000))
    assert first == pytest.approx(FIRST, abs=0.015)
    assert total == pytest.approx(TOTAL, abs=0.015)


def test_the_same_as_another_library():
    f_a, f_b, f_ab = outcomes(4096)
    rows = np.concatenate([f_a[:, None], f_ab.T, f_b[:, None]], axis=1).ravel()  # the order in which it wants them
    problem = {"num_vars": 3, "names": list(NAMES), "bounds": [[-np.pi, np.pi]] * 3}
    theirs = sobol.analyze(problem, rows, calc_second_order=False, num_resamples=2)
    first, total = indices(f_a, f_b, f_ab)
    np.testing.assert_allclose(first, theirs["S1"], atol=5e-3)  # it takes another mean off first
    np.testing.assert_allclose(total, theirs["ST"], rtol=1e-9)


def test_nothing_varies_nothing_matters():
    first, total = indices(np.ones(5), np.ones(5), np.ones((2, 5)))
    assert not first.any()
    assert not total.any()


def test_a_product_shares_the_doubt_as_its_logarithms_do(flora):
    """Few plants, no crowding: seed is a product, so that shares are those of squared spreads of the logarithms."""
    given = programme("[[season.pull]]\nshare = 0\n", start="seedbank_m2 = [50, 200]", emerges=1,
                      seeds_per_plant="[100, 300]", seedlings_live=0.9, hectares=400)  # fmt: skip
    found = {m.name: m for m in what_matters(given, flora=flora, years=1, replicates=4000)}
    bank, seeds = np.log(4) ** 2, np.log(3) ** 2
    assert found["seedbank"].first == pytest.approx(bank / (bank + seeds), abs=0.04)
    assert found["seeds_alone"].total == pytest.approx(seeds / (bank + seeds), abs=0.04)
    assert sum(m.total for name, m in found.items() if name not in ("seedbank", "seeds_alone")) < 0.01


@pytest.mark.slow
def test_what_matters_is_the_same_however_it_is_run(flora):
    text = 'taxon = "AMAPA"\n[start]\nseedbank_m2 = [100, 2000]\n[[season]]\ncrop = "cotton"\n'
    given = read_programme_text(text, name="p")
    here = what_matters(given, flora=flora, years=2, replicates=40)
    assert what_matters(given, flora=flora, years=2, replicates=40, runs=Processes(2)) == here
    assert here[0].total >= here[-1].total
    assert {"seeds_alone", "seed_emerges", "seasons"} <= {m.name for m in here}


def test_exchanging_leaves_the_rest_as_it_is(flora):
    """The luck of a projection is set A itself: nothing exchanged gives the same numbers."""
    given = programme()
    from tepal.years._matters import _outcome
    from tepal.years._values import Published

    same = _outcome((given, Published.of(flora, "AMATU"), 2, Luck(1, 0, 20, Exchanged())))
    seed = project([given], flora=flora, years=2, replicates=20)[0].tracks.seedbank_m2[:, -1]
    np.testing.assert_array_equal(same, np.log10(seed + 0.1))


def test_a_projection_names_the_sources_of_what_it_asked_for_and_of_nothing_else(flora):
    told = stands_on(programme(), flora=flora)  # all of it is told here, but for when a stand has cost what it costs
    open_ = stands_on(programme("row_cm = 38\n", seedlings_live=None, seed_survives=None), flora=flora)
    assert {"Korres2017", "Singh2023", "Steckel2007"} <= set(open_) - set(told)
    assert "Korres2018" not in told

"""What may stand among the plants that nobody looked at."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.reading._names import _MIXED, _among_the_rest


def test_with_nobody_looking_the_chance_is_the_one_before():
    assert _among_the_rest(0.4, 0, 1000) == pytest.approx(_MIXED * 0.4)


def test_with_every_plant_looked_at_nothing_is_left():
    assert _among_the_rest(0.4, 12, 12) == 0.0


@given(st.floats(0.001, 0.99), st.integers(0, 200), st.floats(300, 1e7))
def test_every_further_plant_lowers_it(weight, looked_at, plants):
    assert _among_the_rest(weight, looked_at + 1, plants) < _among_the_rest(weight, looked_at, plants)


def test_it_agrees_with_counting_in_a_simulation():
    import numpy as np

    rng = np.random.default_rng(5)
    present = rng.random(400_000) < _MIXED * 0.5
    share = np.exp(rng.uniform(np.log(1 / 1000), 0, present.size))
    unseen = rng.binomial(10, np.where(present, share, 0)) == 0
    assert present[unseen].mean() == pytest.approx(_among_the_rest(0.5, 10, 1000), abs=0.004)

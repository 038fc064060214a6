"""How many on the whole site, from a walk: fields made here, plant by plant, against what the reading says of them."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from _books import AS_OF, book, lonlat, palmer, said, site
from tepal import reading as readings

# One line through a field of 400 m, seen sigma 6 m to either side: of plants scattered over it a line sees
# sigma sqrt(2 pi) / 400.
SIGMA_M, SIDE_M = 6.0, 400.0
SHARE = SIGMA_M * math.sqrt(2 * math.pi) / SIDE_M
LINE = {"type": "LineString", "coordinates": [lonlat(-200, 0), lonlat(200, 0)]}


def _read(folder, *entries):
    with book(folder, site(), *entries, with_weather=False) as ledger:
        return readings.read(ledger, "west", as_of=AS_OF)


def _walk(found: int | None):
    told = {} if found is None else {"found": found}
    return said("walk", {"track": LINE, "sigma_m": SIGMA_M, "looked_for": ["AMAPA"], **told})


@pytest.mark.parametrize("plants", [60, 400, 3000])
def test_a_thin_look_at_scattered_plants_leaves_room_for_all_that_stand_there(tmp_path, plants):
    rng = np.random.default_rng(plants)
    held = []
    for again in range(6):
        away = rng.uniform(-SIDE_M / 2, SIDE_M / 2, plants)
        met = int((rng.random(plants) < np.exp(-((away / SIGMA_M) ** 2) / 2)).sum())
        total = _read(tmp_path / str(again), _walk(met)).stand.all_total
        held.append(total is not None and total["q05"] <= plants <= total["q95"])
    assert np.mean(held) >= 0.8, held


def test_many_met_where_little_was_seen_are_not_cut_off(tmp_path):
    found = _read(tmp_path, _walk(50))
    assert found.stand.seen_share == pytest.approx(SHARE, rel=0.05)
    # Scattered, fifty seen are fifty by the share that was seen.
    assert found.stand.all_total["q95"] > 50 / SHARE


def test_plants_looked_at_on_a_walk_without_a_number_say_only_that_there_are_at_least_these(tmp_path):
    plants = [palmer(at=lonlat(10 * i, 2)) for i in range(4)]
    told, untold = (_read(tmp_path / str(found), *plants, _walk(found)) for found in (4, None))
    assert untold.stand.basis == "plants" and not untold.facts["counted"]
    assert told.stand.basis == "walk" and told.facts["counted"]
    assert untold.stand.all_total["q05"] >= 4
    # As many as thirty times what was written down may have been met.
    assert untold.stand.all_total["q95"] > 8 * told.stand.all_total["q95"]
    assert untold.as_of == date(2026, 7, 1)


def test_a_slip_of_the_pen_in_a_count_leaves_the_site_readable(tmp_path):
    # A million plants on a square millimetre, over sixteen hectares, are more than a computer counts one by one.
    slip = said("stop", {"at": lonlat(0, 0), "area_m2": 1e-6, "counts": [{"taxon": "pigweed", "count": 10**6}]})
    pulled = said("done", {"what": "pulled", "plants": 10}, on="2026-06-30")
    for folder, entries in (("read", [slip]), ("pulled", [slip, pulled])):
        total = _read(tmp_path / folder, *entries).stand.all_total
        assert total is not None and 0 < total["q05"] <= total["q95"] <= 1e15

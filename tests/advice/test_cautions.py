"""Every caution has a case in which it stands beside the advice and one, a single fact away, in which it does not."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import _advice_cases as cases
import pytest

from tepal.advice import advise, rules_for
from tepal.flora import load
from tepal.reading import Reading
from tepal.words import Words

Make = Callable[..., Reading]
SEEDED = {"flowering_seen": True}
# caution: (how the reading is made, what is set for it, what is then changed so that it just misses)
CASES: dict[str, tuple[Make, dict[str, Any], dict[str, Any]]] = {
    "label": (cases.seedlings, {"days_since_planting": 40.0}, {"tallest_cm": 12}),
    "applicator": (cases.seedlings, {"days_since_planting": 40.0}, {"tallest_cm": 12}),
    "neighbors": (cases.seedlings, {"days_since_planting": 40.0}, {"tallest_cm": 12}),
    "water": (cases.escapes, {"waterway": True}, {"waterway": False}),
    "state_law": (cases.escapes, {"law__listed": None}, {"law__listed": "no"}),
    "transport": (cases.escapes, SEEDED, {"flowering_seen": False}),
    "re_entry": (cases.escapes, {"sprayed_days": 30.0}, {"sprayed_days": 31.0}),
    "training": (cases.escapes, {"sprayed_days": 30.0}, {"sprayed_days": 31.0}),
    "heat": (cases.escapes, {"hot_days": 1.0}, {"hot_days": 2.0}),
    "heat_hot": (cases.escapes, {"hottest_lately_c": 32.0}, {"hottest_lately_c": 31.5}),
    "gloves": (cases.escapes, {}, {"season_over": True}),
    "snakes": (cases.escapes, {"region": "SP"}, {"region": "CB"}),
    "lightning": (cases.escapes, {}, {"as_of": date(2026, 3, 20)}),
    "lone_work": (cases.escapes, {}, {"season_over": True}),
    "pollen": (cases.escapes, SEEDED, {"flowering_seen": False}),
    "young_workers": (cases.escapes, {}, {"season_over": True}),
    "tools": (cases.escapes, SEEDED, {"season_over": True}),
    "machinery": (cases.escapes, {"harvest_near": True}, {"harvest_near": False}),
    "thrown": (cases.off_field, {"ground": "roadside"}, {"ground": "field"}),
    "dust": (cases.escapes, {"harvest_near": True}, {"harvest_near": False}),
    "traffic": (cases.off_field, {"ground": "roadside"}, {"ground": "pasture"}),
    "flood": (cases.off_field, {"ground": "ditch"}, {"ground": "pasture"}),
    "insurance": (cases.escapes, {"total": 300_000}, {"ground": "pasture"}),
    "erosion": (cases.stubble, {}, {"harvested": False}),
    "burning": (cases.escapes, SEEDED, {"flowering_seen": False}),
    "nesting": (cases.off_field, {"ground": "conservation"}, {"ground": "field"}),
    "cattle": (cases.off_field, {"ground": "pasture"}, {"ground": "ditch"}),
    "privacy": (cases.first_find, {}, {"first_find__AMAPA": False}),
}


def _shown(reading: Reading) -> dict[str, str]:
    advice = advise(reading, flora=load(), limit=99)
    return {caution.key: caution.text(Words()) for caution in advice.cautions}


def _made(make: Make, facts: dict[str, Any]) -> Reading:
    # Where the law is known nobody is sent to ask after it.
    return make(**{"law__listed": "no", **facts})


def test_every_caution_has_a_case_and_one_that_nearly_is() -> None:
    assert set(CASES) == set(rules_for(load()).cautions)


@pytest.mark.parametrize("key", CASES)
def test_a_caution_stands_in_its_case_and_misses_one_fact_away(key: str) -> None:
    make, facts, change = CASES[key]
    assert key in _shown(_made(make, facts))
    assert key not in _shown(_made(make, facts | change))


def test_nobody_on_stubble_is_told_to_call_the_insurance_agent_and_fallow_is() -> None:
    assert "insurance" not in _shown(cases.stubble())
    fallow = cases.escapes(crop="prevented planting", crop_kind="none", harvested=False)
    assert "insurance" in _shown(fallow)


def test_the_caution_for_stock_speaks_of_more_than_cattle() -> None:
    assert "horses" in _shown(cases.off_field("pasture"))["cattle"]

"""What is taken for a look, a stage, a region, a prior, and what is refused with which advice."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tepal.plant import identify
from tepal.tables import Refused

BAD = [
    ({"nodal_spine": "absent"}, "nodal_spines"),
    ({"nodal_spines": "absnt"}, "absent"),
    ({"nodal_spines": 3}, "state of nodal_spines"),
    ({"nodal_spines": None}, "list of 1"),
    ({"nodal_spines": []}, "list of 1"),
    ({"nodal_spines": ["absent", ["absent"]]}, "state of nodal_spines"),
    ({"nodal_spines": {"state": "absent"}}, "list of 1"),
    ({"nodal_spines": True}, "state of nodal_spines"),
    ({"nodal_spines": ["absent"] * 1001}, "1000"),
    ({"petiole_blade_ratio_lower": "long"}, "is a number"),
    ({"petiole_blade_ratio_lower": "1.2"}, "is a number"),
    ({"petiole_blade_ratio_lower": True}, "is a number"),
    ({"petiole_blade_ratio_lower": math.nan}, "between 0 and"),
    ({"petiole_blade_ratio_lower": math.inf}, "between 0 and"),
    ({"petiole_blade_ratio_lower": -0.1}, "between 0 and"),
    ({"petiole_blade_ratio_lower": 1e6}, "between 0 and"),
    ({"petiole_blade_ratio_lower": 10**400}, "between 0 and"),
    ({"petiole_blade_ratio_lower": [1.0, math.nan]}, "between 0 and"),
    ([("nodal_spines", "absent")], "object"),
    (None, "object"),
    ({3: "absent"}, "no character 3"),
    ({"x" * 5000: "absent"}, "no character"),
    ({"nodal_spines": "x" * 5000}, "state of nodal_spines"),
]
GOOD = [
    {},
    {"nodal_spines": "cannot_tell"},
    {"nodal_spines": ["cannot_tell", "absent"]},
    {"petiole_blade_ratio_lower": 0},
    {"petiole_blade_ratio_lower": 1},
    {"petiole_blade_ratio_lower": ["cannot_tell", 0.8]},
    {"petiole_blade_ratio_lower": (0.8, 0.9)},
]


@pytest.mark.parametrize(("looks", "says"), BAD)
def test_a_bad_look_is_refused_in_one_line_that_helps(looks: Any, says: str) -> None:
    with pytest.raises(Refused, match=says) as caught:
        identify(looks, stage="vegetative")
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize("looks", GOOD)
def test_a_good_look_is_taken(looks: Any) -> None:
    assert identify(looks, stage="vegetative").posterior.sum() == pytest.approx(1)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ({"stage": "vegetativ"}, "Did you mean vegetative"),
        ({"stage": 4}, "no stage 4"),
        ({"region": "cb"}, "Did you mean CB"),
        ({"region": ["CB"]}, "no region"),
        ({"prior": {"AMAPPA": 1.0}}, "Did you mean AMAPA"),
        ({"prior": {"AMAPA": -1.0}}, "from 0 upwards"),
        ({"prior": {"AMAPA": math.nan}}, "from 0 upwards"),
        ({"prior": {"AMAPA": 0.0}}, "no weight above 0"),
        ({"prior": {}}, "no weight above 0"),
        ({"prior": {"AMAPA": [1.0]}}, "from 0 upwards"),
        ({"prior": {3: 1.0}}, "no taxon 3"),
        ({"prior": {"AMAPA": 10**400}}, "from 0 upwards"),
        ({"prior": {"AMAPA": math.inf}}, "from 0 upwards"),
    ],
)
def test_a_bad_stage_region_or_prior_is_refused(arguments: dict[str, Any], says: str) -> None:
    with pytest.raises(Refused, match=says):
        identify({"nodal_spines": "absent"}, **arguments)


def test_a_value_beyond_every_taxon_is_taken_as_something_odd() -> None:
    call = identify({"petiole_blade_ratio_lower": 9.0}, stage="vegetative")
    assert call.probability("other") > 0.5


def test_a_prior_takes_the_place_of_the_region() -> None:
    call = identify({}, stage="vegetative", prior={"AMASP": 3.0, "AMAAL": 1.0})
    assert call.probability("AMASP") == pytest.approx(0.75, abs=0.03)
    assert 0 < call.probability("AMAPA") < 0.02

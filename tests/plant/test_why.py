"""Why a call says what it says: the pushes of the looks make up the whole change of the odds."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tepal.cli import main
from tepal.flora import STAGES, load
from tepal.plant import UNKNOWN, identify, why, why_in_words
from tepal.words import Words

FLORA = load()
CATEGORICAL = sorted(name for name, c in FLORA.characters.items() if c.states and c.look)


@st.composite
def looks(draw: st.DrawFn) -> dict[str, str | list[str]]:
    names = draw(st.lists(st.sampled_from(CATEGORICAL), min_size=1, max_size=6, unique=True))
    return {name: draw(st.sampled_from(FLORA.characters[name].states)) for name in names}


@settings(max_examples=60, deadline=None)
@given(looks(), st.sampled_from(STAGES), st.sampled_from(["CB", "SP", None]))
def test_the_pushes_multiply_to_the_change_of_the_odds(seen: dict[str, str], stage: str, region: str | None) -> None:
    call = identify(seen, stage=stage, region=region)
    found = why(call, FLORA)
    nothing = identify({}, stage=stage, region=region)
    before = nothing.probability(found.one) / nothing.probability(found.other)
    after = call.probability(found.one) / call.probability(found.other)
    assert found.before == pytest.approx(before, rel=1e-6)
    assert before * math.prod(push.factor for push in found.pushes) == pytest.approx(after, rel=1e-6)
    assert found.of_stages == pytest.approx(1, rel=1e-6)
    assert found.one == call.best


def test_where_the_stage_is_unknown_what_is_left_over_is_told() -> None:
    seen = {"petiole_blade_ratio_lower": 1.3, "stem_hair_upper": "none", "nodal_spines": "absent"}
    call = identify(seen | {"watermark": "present"}, stage=UNKNOWN, region="SE")
    found = why(call, FLORA)
    product = found.before * math.prod(push.factor for push in found.pushes) * found.of_stages
    assert product == pytest.approx(found.after, rel=1e-9)
    assert any("Not knowing its stage" in line for line in why_in_words(call, FLORA, Words()))


def test_a_call_without_looks_has_odds_and_no_pushes() -> None:
    call = identify({}, stage="vegetative", region="CB")
    found = why(call, FLORA)
    assert found.pushes == ()
    assert 1 < found.before == pytest.approx(found.after)


def test_every_look_is_told_with_its_basis_and_every_source_is_cited() -> None:
    call = identify({"nodal_spines": "absent", "blade_lw_ratio": 3.1}, stage="vegetative", region="SE")
    text = "\n".join(why_in_words(call, FLORA, Words()))
    for item in call.evidence:
        for key in item.sources:
            assert key in text
            assert FLORA.sources[key].citation in text


def test_in_json_the_keys_of_the_contract_are_kept(capsys: pytest.CaptureFixture[str]) -> None:
    line = ["plant", "nodal_spines=absent", "--stage", "vegetative", "--region", "SE", "--json"]
    assert main(line) == 0
    plain = json.loads(capsys.readouterr().out)
    assert main([*line, "--why"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert plain == {key: value for key, value in told.items() if key != "why"}
    (look,) = told["why"]["looks"]
    assert look["character"] == "nodal_spines"
    assert look["sources"]
    assert all(source["citation"] for source in look["sources"])
    product = told["why"]["odds_before"] * look["odds_times"] * told["why"]["stages_times"]
    assert product == pytest.approx(told["why"]["odds_after"])

"""The prior of one place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.flora import Flora
from tepal.plant import Finding, identify, load_settings, local_prior
from tepal.tables import Refused


def test_without_findings_it_is_the_region(flora: Flora) -> None:
    found = local_prior([], flora=flora, region="CB")
    whole = sum(flora.weights("CB").values())
    for code, weight in found.items():
        assert weight == pytest.approx(flora.weights("CB")[code] / whole)


def test_one_plant_by_hand(flora: Flora) -> None:
    """Region 4 plants; one finding of weight 2, two years (half of it after four) and 800 m away (half): 2 / √2 / 2."""
    settings = load_settings().changed(
        {("local", "region"): 4, ("local", "plant"): 2, ("local", "years"): 4, ("local", "metres"): 800}
        | {("local", "laboratory"): 1}
    )
    found = local_prior(
        [Finding("AMAPA", "laboratory", years=2, metres=800)], flora=flora, region="UM", settings=settings
    )
    weights = flora.weights("UM")
    start, plants = weights["AMAPA"] / sum(weights.values()), 2 / 2**0.5 / 2
    assert found["AMAPA"] == pytest.approx((4 * start + plants) / (4 + plants))
    assert sum(found.values()) == pytest.approx(1)


@given(st.floats(0, 30), st.floats(0, 5000), st.integers(1, 50))
def test_a_laboratory_says_more_than_an_eye_and_less_when_older_or_farther(
    years: float, metres: float, plants: int
) -> None:
    flora = _flora()

    def palmer(by: str, years: float, metres: float) -> float:
        finding = Finding("AMAPA", by, years, metres, plants)  # type: ignore[arg-type]
        return local_prior([finding], flora=flora, region="UM")["AMAPA"]

    here = palmer("laboratory", years, metres)
    assert here >= palmer("eye", years, metres)
    assert here >= palmer("laboratory", years + 1, metres)
    assert here >= palmer("laboratory", years, metres + 100)
    assert palmer("laboratory", 1000, 0) == pytest.approx(local_prior([], flora=flora, region="UM")["AMAPA"])


def _flora() -> Flora:
    import tepal.flora

    return tepal.flora.load()


def test_what_was_proved_next_door_changes_the_call(flora: Flora) -> None:
    seen = {"petiole_blade_ratio_lower": 0.95, "stem_hair_upper": "none"}
    prior = local_prior([Finding("AMAPA", "laboratory", years=1, metres=400)], flora=flora, region="UM")
    before = identify(seen, stage="vegetative", region="UM")
    after = identify(seen, stage="vegetative", prior=prior)
    assert after.probability("AMAPA") > 2 * before.probability("AMAPA")
    assert after.prior[after.taxa.index("AMAPA")] > before.prior[before.taxa.index("AMAPA")]


def test_a_cross_found_speaks_for_both_parents(flora: Flora) -> None:
    none, cross = (
        local_prior(found, flora=flora, region="SE") for found in ([], [Finding("AMACHxAMATU", "laboratory")])
    )
    assert cross["AMACH"] > none["AMACH"]
    assert cross["AMATU"] > none["AMATU"]


@pytest.mark.parametrize("code", ["AMAXX", "other", "CHEAL", "AMAPAxAMAXX"])
def test_what_is_no_pigweed_is_refused(code: str, flora: Flora) -> None:
    with pytest.raises(Refused, match="finding of"):
        local_prior([Finding(code, "laboratory")], flora=flora)


@pytest.mark.parametrize("wrong", [{"by": "rumour"}, {"years": -1}, {"metres": float("nan")}, {"plants": 0}])
def test_a_finding_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(Refused):
        Finding(**{"code": "AMAPA", "by": "eye", **wrong})  # type: ignore[arg-type]

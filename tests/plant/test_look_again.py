"""What the room asks to look at a second time, and that it asks nothing where nothing seems misread.

Truth from floras: of the genus here only Amaranthus spinosus has spines at the nodes (Flora of North America 4); these
species with separate sexes bear no seed on male plants; no lower leaf stalk is ten times its blade.
"""

from __future__ import annotations

from typing import Any

import pytest

from tepal.flora import Flora, Measure, StateShares
from tepal.plant import identify, look_again
from tepal.words import Words

WORDS = Words()


def _told(flora: Flora, stage: str, region: str, **looks: Any) -> str:
    return " ".join(look_again(identify(looks, stage=stage, region=region, flora=flora), flora, WORDS))


def test_spines_alone_leave_a_doubt_of_reading_and_that_is_said(flora: Flora) -> None:
    text = _told(flora, "vegetative", "SE", nodal_spines="present")
    assert text.startswith(
        "Sharp spines at the leaf joints: of these plants only spiny amaranth is known to have that."
    )
    assert "look at two or three other places" in text


def test_a_name_that_is_sure_or_that_leads_for_other_reasons_asks_nothing(flora: Flora) -> None:
    sure = {
        "nodal_spines": "present",
        "inflorescence_type": "axillary_balls_plus_male_spike",
        "bract_length_female": 1.2,
    }
    assert identify(sure, stage="reproductive", region="SE", flora=flora).probability("AMASP") > 0.98
    assert not _told(flora, "reproductive", "SE", **sure)
    assert not _told(flora, "vegetative", "SE", nodal_spines="absent", petiole_blade_ratio_lower=1.3)
    # At the seedling stage few spiny amaranths have spines yet: no state is theirs as a rule.
    assert not _told(flora, "seedling_2-4_leaf", "SE", nodal_spines="present")


def test_a_seed_head_on_a_male_plant_is_a_contradiction_either_way(flora: Flora) -> None:
    male = _told(
        flora, "reproductive", "UM", plant_sex="male_only", bract_length_female=5, seedhead_feel_female="sharp"
    )
    assert "A plant with male flowers only cannot show this:" in male
    assert "feel of the seed head" in male
    assert "length of the bracts on a seed head" in male
    female = _told(flora, "reproductive", "UM", plant_sex="female_only", bract_length_male=4)
    assert "cannot show this" in female
    assert not _told(flora, "reproductive", "UM", plant_sex="female_only", bract_length_female=5)


@pytest.mark.parametrize(
    ("value", "far"), [(0.05, True), (0.3, False), (1.9, False), (4.0, False), (4.5, True), (12, True)]
)
def test_a_number_twice_beyond_all_published_is_asked_for_again(flora: Flora, value: float, far: bool) -> None:
    """Published for lower leaves: 0.2 to 2.1."""
    rows = [row for (_, name, _), row in flora.measures.items() if name == "petiole_blade_ratio_lower"]
    assert min(row.low for row in rows) == pytest.approx(0.2)
    assert max(row.high for row in rows) == pytest.approx(2.1)
    text = _told(flora, "vegetative", "CB", petiole_blade_ratio_lower=value)
    assert ("far from all that is published (0.2 to 2.1)" in text) is far


@pytest.mark.parametrize("region", ["SE", "SP", "CB", "UM", "NE"])
@pytest.mark.parametrize(("stage", "most", "sure"), [("vegetative", 10, 0.7), ("reproductive", 4, 0.99)])
def test_a_usual_spiny_amaranth_is_named_in_a_few_looks(
    flora: Flora, stage: str, most: int, sure: float, region: str
) -> None:
    """Each question is answered by what the tables have as usual in it: the look's commonest state, or its mean."""
    looks: dict[str, Any] = {}
    call = identify(looks, stage=stage, region=region, flora=flora)
    while not call.enough and len(looks) <= most:
        name = call.next[0].character
        row = flora.look("AMASP", name, stage)
        looks[name] = "cannot_tell" if row is None else _usual(row)
        call = identify(looks, stage=stage, region=region, flora=flora)
    assert len(looks) <= most
    assert call.best == "AMASP"
    assert call.probability("AMASP") >= sure


def _usual(row: Measure | StateShares) -> float | str:
    return row.mean if isinstance(row, Measure) else max(row.shares, key=row.shares.__getitem__)

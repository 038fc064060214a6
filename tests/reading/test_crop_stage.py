"""How far a crop is, as people write it, and what that closes for a spray; and which crop is organic.

The numbers are those of the BBCH monograph (2001): leaves 10 to 19, tillers 21 on, stem 31 on, boot 41 on, heads 51 on,
flowers 60 on, fruit 71 on.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from _books import book, said, site
from tepal import reading as readings
from tepal.flora import load
from tepal.reading._crop_stage import bbch
from tepal.words import Words

FLORA = load()
PLANTED = date(2026, 5, 10)


@pytest.mark.parametrize(
    ("told", "stage"),
    [
        ("V3", 13), ("v 6", 16), ("V14", 19), ("VE", 9), ("VT", 55), ("R1", 60), ("R5.5", 80), ("BBCH 65", 65),
        ("5 leaf", 15), ("8-leaf", 18), ("four true leaves", None), ("first bloom", 60), ("full flower", 60),
        ("before first bloom", None), ("tillering", 21), ("jointing", 31), ("boot", 41), ("headed out", 51),
        ("pods filling", 71), ("ripe", 85), ("knee high", None), ("", None), (None, None),
    ],
)  # fmt: skip
def test_a_stage_as_people_write_it_lies_where_the_scale_has_it(told: str | None, stage: int | None) -> None:
    assert bbch(told) == stage


def _read(folder, on: date, crop: str = "soybean", **more):
    body = {"year": 2026, "crop": crop, "traits": [], "planted": PLANTED.isoformat(), "row_cm": 76.0} | more
    folder.mkdir()
    with book(folder, site(), said("crop", body, on=PLANTED.isoformat())) as ledger:
        return readings.read(ledger, "west", as_of=on, flora=FLORA)


def test_sprays_over_a_crop_end_by_its_stage_or_by_its_days(tmp_path) -> None:
    days = timedelta(days=60)  # soybean is usually in flower by then: the table's own day for R1
    young = _read(tmp_path / "a", PLANTED + timedelta(days=30))
    assert young.facts["spray_stage_open"] is True
    (window,) = [item for item in young.windows if item.name == "crop_stage"]
    assert window.q50 == PLANTED + days
    assert "Most labels end sprays over the soybean about July 9." in "\n".join(readings.in_words(young, Words()))
    assert _read(tmp_path / "b", PLANTED + days - timedelta(days=1)).facts["spray_stage_open"] is True
    assert _read(tmp_path / "c", PLANTED + days).facts["spray_stage_open"] is False
    early = _read(tmp_path / "d", PLANTED + timedelta(days=40), stage="R1")
    assert early.facts["spray_stage_open"] is False
    assert not [item for item in early.windows if item.name == "crop_stage"]
    # A stage from weeks ago keeps nothing open.
    assert _read(tmp_path / "e", PLANTED + days, stage="V3").facts["spray_stage_open"] is False
    assert _read(tmp_path / "f", PLANTED + days, crop="lentils").facts["spray_stage_open"] is None


@pytest.mark.parametrize(
    ("crop", "more", "organic"),
    [
        ("organic soybean", {}, True),
        ("soybean", {"traits": ["organic"]}, True),
        ("soybean", {"words": "Certified organic since 2019"}, True),
        ("soybean", {"words": "beside organic neighbors"}, None),
        ("soybean", {"words": "not organic any more"}, None),
        ("soybean", {"words": "low organic matter"}, None),
        ("soybean", {}, None),
    ],
)
def test_organic_is_what_is_told_to_be(tmp_path, crop: str, more: dict, organic: bool | None) -> None:
    found = _read(tmp_path / "a", PLANTED + timedelta(days=20), crop=crop, **more)
    assert found.facts["organic"] is organic
    assert found.facts["crop_kind"] == "row"
    # Nobody is told until when to spray what is not sprayed.
    assert bool([item for item in found.windows if item.name == "crop_stage"]) is (organic is None)

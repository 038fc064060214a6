"""The table of days on a letter's second page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from tepal.letter import Closing, LetterData
from tepal.letter._sheet import _days
from tepal.words import Words


def test_a_crop_s_usual_day_has_no_early_and_no_late_one(case: LetterData, us: Words) -> None:
    day = date(2026, 9, 21)
    grid = _days(replace(case, closings=(*case.closings, Closing("harvest", day, day, day, None, 0.0))), us)
    (row,) = [row for row in grid.rows if row[0] == "Crop ripe"]
    assert row[1:] == ("", "about September 21", "")

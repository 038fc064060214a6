"""The days in a letter: the table on its second page, and the sentences of the first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from tepal.letter import Closing, LetterData
from tepal.letter._sheet import _days
from tepal.letter._when import by_when
from tepal.words import Words


def test_a_crop_s_usual_day_has_no_early_and_no_late_one(case: LetterData, us: Words) -> None:
    day = date(2026, 9, 21)
    grid = _days(replace(case, closings=(*case.closings, Closing("harvest", day, day, day, None, 0.0))), us)
    (row,) = [row for row in grid.rows if row[0] == "Crop ripe"]
    assert row[1:] == ("", "about September 21", "")


def test_on_organic_ground_the_height_says_nothing_of_a_spray(case: LetterData, us: Words) -> None:
    def told(data: LetterData) -> str:
        return "".join(run if isinstance(run, str) else run.text for run in by_when(data, us))

    said, organic = told(case), told(replace(case, organic=True))
    assert "spray" not in organic
    assert ("4 inches" in organic) == ("4 inches" in said)
    if "spray" not in said:
        assert organic == said

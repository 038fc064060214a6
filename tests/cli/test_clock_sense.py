"""The clock's sense: what can hardly be is said or refused, and no sentence stands where it does not hold."""

from __future__ import annotations

import pytest

from tepal.cli import main

QUESTION = ("clock", "--lat", "40.4", "--as-of", "2016-06-01", "--taxon", "AMAPA")


@pytest.fixture
def ask(capsys):
    def _ask(*more):
        code = main([*QUESTION, *more])
        said = capsys.readouterr()
        return code, said.out, said.err

    return _ask


def test_plants_seen_in_winter_are_refused_before_seedlings_can_be_up(ask):
    code, out, err = ask("--seen", "2016-02-01:height_cm=100")
    assert (code, out) == (2, "")
    assert "2016-02-01" in err and "a seedling up even by 2016-02-15" in err
    assert ask("--seen", "2016-02-01:none_up=1")[0] == 0


def test_a_sighting_that_is_hardly_possible_is_told_first(ask):
    code, out, _ = ask("--seen", "2016-05-01:height_cm=100")
    assert code == 0 and "hardly possible" in out.splitlines()[1]
    assert "hardly possible" not in ask("--seen", "2016-05-31:height_cm=20")[1]


def test_winter_wheat_planted_in_spring_is_given_no_day_to_cross(ask):
    code, out, _ = ask("--planted", "2016-05-10", "--crop", "wheat")
    assert code == 0
    assert "crossed on foot until" not in out and "is ripe about" not in out and "or the wheat" not in out
    assert "counted from planting in autumn" in out
    out = ask("--planted", "2015-10-20", "--crop", "wheat")[1]
    assert "crossed on foot until about June 6 (jointing)" in out  # October 20 and 230 days
    assert "autumn" not in out


def test_a_crop_to_come_is_told_as_one(ask):
    out = ask("--planted", "2016-06-20", "--crop", "soybean")[1]
    assert "a crop to be planted on June 20" in out
    assert "does,:" not in out and "The tallest, or the soybean, outgrow a cultivator" in out
    assert "to be planted" not in ask("--planted", "2016-05-20", "--crop", "soybean")[1]


def test_a_year_that_nobody_means_is_refused(capsys):
    assert main(["clock", "--lat", "40", "--as-of", "9999-12-31", "--taxon", "AMAPA"]) == 2
    assert "from 1900 to 2100" in capsys.readouterr().err

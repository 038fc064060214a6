"""`tepal years SITE --draft`: a programme from the site's own record, read back by the reader."""

from __future__ import annotations

import json

import pytest

from _books import book, palmer, said, site, stop
from tepal.programme import read_programme, read_programme_text

CROPS = (
    said("crop", {"year": 2025, "crop": "corn", "planted": "2025-05-02"}, on="2025-05-02"),
    said("crop", {"year": 2026, "crop": "soybean", "planted": "2026-05-10", "row_cm": 38.0}, on="2026-05-10"),
)
WORK = (
    said("done", {"what": "sprayed", "ingredients": [{"name": "S-metolachlor"}, {"name": "flumioxazin"}]},
         on="2026-05-10"),
    said("done", {"what": "sprayed", "ingredients": [{"name": "glyphosate", "group": "9"}], "tallest_cm": 12.0,
                  "survivors": True}, on="2026-06-07"),
    said("done", {"what": "pulled", "share": 0.8, "hours": 32.0}, on="2026-06-25"),
    said("done", {"what": "cultivated"}, on="2025-06-01"),
    said("sample", {"step": "result", "test": "resistance", "resistant": {"14": "mixed", "2": "resistant"}},
         on="2026-06-29"),
)  # fmt: skip


def drafted(run, tmp_path, *entries):
    with book(tmp_path, site(), *entries) as made:
        where = made.where
    code, out, err = run("years", "west", "--draft", "--ledger", where, "--as-of", "2026-07-01")
    assert (code, err) == (0, "")
    return out, read_programme_text(out, name="west.toml")


def test_what_was_done_stands_in_it(run, tmp_path):
    text, read = drafted(run, tmp_path, palmer(), stop(3), *CROPS, *WORK)
    assert (read.name, read.taxon, read.field.hectares) == ("West Forty", "AMAPA", pytest.approx(16, rel=0.01))
    now, before = read.season
    assert (now.crop, now.planted, now.row_cm) == ("soybean", "05-10", 38)
    assert (now.residual[0].groups, now.residual[0].days_after_planting) == (("15", "14"), 0)
    assert (now.post[0].groups, now.post[0].days_after_planting, now.post[0].height_cm.low) == (("9",), 28, 12)
    assert (now.pull[0].share.low, now.pull[0].when, now.pull[0].hours_ha.low) == (0.8, "06-25", 2)
    assert (before.crop, before.cultivate[0].days_after_planting) == ("corn", 30)
    assert set(read.resistance) == {"2", "9", "14"}
    assert read.resistance["2"].allele_share.low > read.resistance["9"].allele_share.low
    assert text.count("# assumed") >= 4


def test_counts_before_any_work_are_the_plants(run, tmp_path):
    _, read = drafted(run, tmp_path, palmer(), *(stop(n, 20.0 * n) for n in (2, 3, 5)), CROPS[1])
    assert read.start.seedbank_m2 is None
    assert read.start.plants_m2.low < 0.83 < read.start.plants_m2.high  # 10 plants on 12 m2


def test_counts_after_spraying_are_survivors(run, tmp_path):
    text, read = drafted(run, tmp_path, palmer(), stop(3), CROPS[1], WORK[1])
    assert read.start.plants_m2 is None
    assert read.start.seedbank_m2.high > 100
    assert "counted after work had been done" in text


def test_next_to_nothing_on_record(run, tmp_path):
    text, read = drafted(run, tmp_path)
    assert read.season[0].crop == "fallow"
    assert "nothing was counted here" in text and "no crop is on record" in text


def test_the_draft_can_be_projected(run, tmp_path):
    with book(tmp_path, site(), palmer(), stop(3), *CROPS, *WORK) as made:
        where = made.where
    file = tmp_path / "west.toml"
    ask = ("years", "west", "--draft", "--ledger", where, "--as-of", "2026-07-01", "--out", file)
    assert run(*ask)[0] == 0
    assert read_programme(file).name == "West Forty"
    code, out, _ = run("years", file, "--years", 2, "--replicates", 20, "--json")
    assert code == 0
    assert json.loads(out)["programmes"][0]["name"] == "West Forty"
    code, _, err = run(*ask)  # somebody may have corrected it
    assert code == 2
    assert "overwrites nothing" in err


def test_a_draft_needs_a_ledger_and_one_site(run, tmp_path):
    assert run("years", "west", "--draft")[0] == 2
    with book(tmp_path, site()) as made:
        where = made.where
    assert run("years", "west", "east", "--draft", "--ledger", where)[0] == 2
    assert run("years", "nowhere", "--draft", "--ledger", where)[0] == 2
    assert run("years", "p.toml", "--ledger", where)[0] == 2

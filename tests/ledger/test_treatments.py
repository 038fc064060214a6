"""A treatment with all that the applicator wrote down comes in whole, and what does not match is refused."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from tepal.ledger import Ledger, give, take

HEAD = (
    "date,site,what,ingredients,rate,unit,group,volume (l/ha),nozzle,adjuvant,tallest (cm),weather,"
    "re-entry (h),pre harvest until"
)
SITE = (
    '{"kind":"site","site":"west","by":"office","made_at":"2026-04-01T12:00:00Z",'
    '"body":{"name":"West","ground":"field"}}'
)


def taken(tmp_path: Path, *rows: str):
    (tmp_path / "site.jsonl").write_text(SITE + "\n", encoding="utf-8")
    (tmp_path / "treatments.csv").write_text("\n".join((HEAD, *rows)) + "\n", encoding="utf-8")
    done = take([tmp_path / "site.jsonl", tmp_path / "treatments.csv"], tmp_path / "t.ledger")
    with Ledger.open(tmp_path / "t.ledger") as ledger:
        return done, [entry.body for entry in ledger.entries(kinds=("done",))]


def test_two_ingredients_keep_their_own_rate_group_and_the_rest_of_the_pass(tmp_path: Path) -> None:
    row = (
        "2026-06-10,west,sprayed,glufosinate; metolachlor,0.6; 1.4,kg/ha,10; 15,150,coarse flat fan,AMS,7,calm 24 C,12,"
        "2026-08-20"
    )
    _, (body,) = taken(tmp_path, row)
    assert [(one.name, one.rate, one.unit, one.group) for one in body.ingredients] == [
        ("glufosinate", 0.6, "kg/ha", "10"),
        ("metolachlor", 1.4, "kg/ha", "15"),
    ]
    assert (body.nozzle, body.adjuvant, body.tallest_cm, body.volume_l_ha) == ("coarse flat fan", "AMS", 7.0, 150.0)
    assert body.pre_harvest_until == date(2026, 8, 20)
    # From the end of the day of spraying, in the latest zone: nobody is sent in too early.
    assert body.re_entry_until.date() == date(2026, 6, 11)
    with Ledger.open(tmp_path / "t.ledger") as ledger:
        give(ledger, tmp_path / "out")
    told = next((tmp_path / "out").rglob("done.csv")).read_text(encoding="utf-8")
    assert "0.6 kg/ha; 1.4 kg/ha" in told
    assert "coarse flat fan" in told


@pytest.mark.parametrize(
    ("cells", "rule"),
    [
        ("glufosinate; metolachlor,0.6,kg/ha,", "Each ingredient has its rate"),
        ("glufosinate,much,kg/ha,", "a number above 0"),
        ("glufosinate,-1,kg/ha,", "a number above 0"),
        ("glufosinate,1,kg/ha; lb/ac,", "one unit for all rates"),
    ],
)
def test_rates_that_do_not_match_the_ingredients_are_refused(tmp_path: Path, cells: str, rule: str) -> None:
    done, bodies = taken(tmp_path, f"2026-06-10,west,sprayed,{cells},,,,,,,")
    assert bodies == []
    assert any(rule in str(refused) for refused in done.refused)

"""What a place and its readers are known for, before the season's plants are looked at."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from _books import AS_OF, FRAME, book, lonlat, said, site
from tepal import reading as readings
from tepal.cli import main
from tepal.flora import load
from tepal.ledger import Entry, Ledger
from tepal.plant import Finding, Reader, identify, local_prior
from tepal.reading._beforehand import beforehand
from tepal.reading._elsewhere import Elsewhere, elsewhere
from tepal.reading._names import names

FLORA = load()
# A plant of a northern county whose looks leave waterhemp and Palmer amaranth open.
LOOKS = {"petiole_blade_ratio_lower": 0.95, "stem_hair_upper": "none"}
PLAIN = {"stem_hair_upper": "dense", "leaf_outline": "ovate", "petiole_blade_ratio_lower": 0.5}


def plant(looks: dict[str, Any] = LOOKS, **more: Any) -> Entry:
    return said("plant", {"stage": "vegetative", "looks": looks, "at": lonlat(10, 10)}, **more)


def proved(code: str = "AMAPA", *, on: str = "2025-08-01", **more: Any) -> Entry:
    body = {"step": "result", "test": "species", "taxon": code, "sure": 0.99}
    return said("sample", body | more.pop("body", {}), on=on, **more)


def neighbour(metres: float) -> Entry:
    point = FRAME.to_lonlat([metres, 0.0])
    body = {"name": "East Forty", "ground": "field", "county": "Larkmoor", "region": "UM"}
    return said("site", body | {"point": [float(v) for v in point]}, on="2024-04-01", site="east")


def told(folder: Path, *entries: Entry) -> tuple[Ledger, Elsewhere]:
    ledger = book(folder, site(region="UM"), *entries, with_weather=False)
    return ledger, elsewhere(ledger, "west", AS_OF, ledger.standing("west", AS_OF))


def before(ledger: Ledger, about: Elsewhere, season: int | None = 2026) -> Any:
    entries = ledger.standing("west", AS_OF).entries
    return beforehand(entries, about, season=season, region="UM", as_of=AS_OF, flora=FLORA)


def test_what_a_laboratory_proved_nearby_is_the_finding_by_hand(tmp_path):
    result = proved(site="east")
    ledger, about = told(tmp_path, neighbour(400), result, plant())
    with ledger:
        found = before(ledger, about)
    years = (AS_OF - date(2025, 8, 1)).days / 365.25
    by_hand = local_prior([Finding("AMAPA", "laboratory", years=years, metres=400)], flora=FLORA, region="UM")
    # A metre or two between a sphere and the frame of the maps.
    assert found.prior == pytest.approx(by_hand, rel=2e-3)
    assert found.entries == (result.id,)
    assert not found.readers


def test_where_nothing_was_found_the_region_stays_the_prior(tmp_path):
    ledger, about = told(tmp_path, plant())
    with ledger:
        assert before(ledger, about).prior is None


def test_farther_or_of_a_look_alike_or_less_than_sure_says_nothing_nearby(tmp_path):
    ledger, about = told(
        tmp_path,
        neighbour(9_000),
        proved(site="east"),
        said("site", {"name": "Near", "ground": "field", "point": lonlat(300, 0)}, on="2024-04-01", site="near"),
        proved("CHEAL", site="near"),
        proved(site="near", body={"sure": 0.6}),
    )
    with ledger:
        assert before(ledger, about).prior is None


def test_the_site_s_own_names_of_earlier_seasons_count_a_laboratory_s_more_than_an_eye_s(tmp_path):
    eye = said(
        "stop",
        {"at": lonlat(0, 0), "area_m2": 4.0, "counts": [{"taxon": "AMAPA", "count": 3}]},
        on="2025-08-01",
    )
    chances = []
    for folder, older in (("none", []), ("eye", [eye]), ("laboratory", [proved()])):
        ledger, about = told(tmp_path / folder, *older, plant())
        with ledger:
            prior = before(ledger, about).prior
        chances.append(FLORA.weights("UM")["AMAPA"] if prior is None else prior["AMAPA"])
    assert chances == sorted(chances)
    assert chances[1] > 3 * chances[0]
    assert chances[2] > chances[1] * 1.3


def test_what_was_named_in_the_season_itself_is_evidence_and_no_prior(tmp_path):
    ledger, about = told(tmp_path, plant(), proved(on="2026-06-20"))
    with ledger:
        assert before(ledger, about).prior is None
        assert before(ledger, about, season=None).prior is None


def test_palmer_proved_next_door_last_year_changes_the_reading_and_stands_in_its_why(tmp_path):
    chances = {}
    for folder, more in (("alone", []), ("near", [neighbour(400), proved(site="east")])):
        with book(tmp_path / folder, site(region="UM"), plant(), *more, with_weather=False) as ledger:
            found = readings.read(ledger, "west", as_of=AS_OF)
            chances[folder] = found.taxa["AMAPA"].p_any
            stands_on = readings.why("/taxa/0", found.why).entries
    assert chances["near"] > 2 * chances["alone"]
    assert more[1].id in stands_on


def test_people_are_told_of_the_neighbor_s_entries_only_that_there_are_some(tmp_path, capsys):
    # A reading's lines are passed on to owners and tenants; where else a weed was found is private.
    there = proved(site="east")
    with book(tmp_path, site(region="UM"), plant(), neighbour(400), there, with_weather=False):
        pass
    asked = ["reading", "west", "--ledger", str(tmp_path / "t.ledger"), "--as-of", AS_OF.isoformat(), "--why", "/taxa"]
    assert main([*asked]) == 0
    said_of = capsys.readouterr().out
    assert there.id in said_of and "laboratory" not in said_of and "east" not in said_of
    assert "1 entry that is not of this place" in said_of
    assert main([*asked, "--json"]) == 0
    assert there.id in json.loads(capsys.readouterr().out)["entries"]


def drill(right: int, wrong: int, *, reader: str = "scout") -> Entry:
    answers = [{"question": "leaf stalk", "said": "longer", "truth": "longer"}] * right
    answers += [{"question": "leaf stalk", "said": "longer", "right": False}] * wrong
    answers += [{"question": "leaf stalk", "said": "longer"}]  # nobody has told whether that is so
    return said("drill", {"reader": reader, "answers": answers}, on="2026-05-01", site=None)


def test_a_reader_who_is_wrong_in_practice_makes_calls_less_sure(tmp_path):
    sure = {}
    for folder, more in (("start", []), ("wrong", [drill(10, 60)]), ("other", [drill(0, 60, reader="somebody")])):
        ledger, about = told(tmp_path / folder, plant(PLAIN), *more)
        with ledger:
            entries = ledger.standing("west", AS_OF).entries
            named = names(
                entries, region="UM", proved={}, about=about, as_of=AS_OF, flora=FLORA,
                rng=np.random.default_rng(1), n=10,
            )  # fmt: skip
        ((_, call),) = named.calls
        sure[folder] = call.group_probability
        if folder == "wrong":
            reader = Reader().after(right=10, wrong=60)
            by_hand = identify(PLAIN, stage="vegetative", region="UM", reader=reader, flora=FLORA)
            assert call.posterior == pytest.approx(by_hand.posterior, abs=1e-12)
            assert more[0].id in named.why.entries
    assert sure["wrong"] < sure["start"] - 0.02
    assert sure["other"] == sure["start"]


def test_a_laboratory_that_overturns_a_plain_call_counts_against_its_reader(tmp_path):
    looked = plant(PLAIN, on="2025-07-01", site="east", by="Scout")
    readers = {}
    for code in ("AMARE", "AMAPA"):
        result = proved(code, site="east", body={"of": looked.id})
        ledger, about = told(tmp_path / code, neighbour(9_000), looked, result, plant())
        with ledger:
            readers[code] = before(ledger, about).readers["scout"]
    assert readers["AMARE"] == Reader().after(right=1)
    assert readers["AMAPA"] == Reader().after(wrong=1)

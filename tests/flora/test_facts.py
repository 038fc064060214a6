"""The shipped tables against the facts they came from: every number, basis and source, and a sample typed by hand."""

from __future__ import annotations

import csv
import os
import re
from collections import Counter
from pathlib import Path

import pytest

from tepal.flora import REGIONS, Flora, load

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def flora() -> Flora:
    return load()


@pytest.fixture(scope="module")
def facts() -> Path:
    """The folder of the gathered facts; it is not part of the repository."""
    folder = Path(os.environ.get("TEPAL_FACTS") or ROOT.parent / "shared" / "facts")
    if not folder.is_dir():
        pytest.skip("no facts here (TEPAL_FACTS names their folder)")
    return folder


def rows(facts: Path, file: str) -> list[dict[str, str]]:
    with (facts / file).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def number(text: str) -> float | None:
    return float(text) if text else None


def named_keys(text: str) -> tuple[set[str], set[str]]:
    """Source keys of a facts cell, and those of them that were recalled."""
    parts = [part for part in text.split(";") if part != "-" and not part.startswith("derived")]
    return {part.removeprefix("recalled:") for part in parts}, {
        part.removeprefix("recalled:") for part in parts if part.startswith("recalled:")
    }


# Typed by hand from the publications' rows: what, its value.
def test_published_values_are_as_published(flora: Flora) -> None:
    shares = flora.shares["AMAPA", "cotyledon_shape", "cotyledon"]
    assert dict(shares.shares) == {"linear_parallel": 0.55, "lanceolate_pointed": 0.35, "oar_or_egg": 0.1}
    assert (shares.basis, shares.sources) == ("judgement", ("UNL17",))
    assert shares.basis_by_state["linear_parallel"] == "fact_sheet"
    rate = flora.measures["AMAPA", "height_growth_rate", "vegetative"]
    assert (rate.mean, rate.sd, rate.low, rate.high, rate.sources) == (0.195, 0.015, 0.18, 0.21, ("HOR00",))
    kochia = flora.measures["KCHSC", "cotyledon_lw_ratio", "cotyledon"]
    assert (kochia.mean, kochia.basis) == (3.6, "fact_sheet")
    fold = flora.shares["AMAPO", "fold_test_lower_leaf", "vegetative"]
    assert dict(fold.shares) == {"shorter": 0.464, "about_equal": 0.33, "longer": 0.206}
    assert fold.derived and fold.sources == ()
    assert flora.characters["fold_test_lower_leaf"].bins == (0.9, 1.1)
    assert flora.taxa["AMATU"].weights["CB"] == 0.74
    assert flora.taxa["AMAVI"].weights["UM"] == 0
    assert flora.measures["AMATU", "petiole_blade_ratio_upper", "vegetative"].recalled == ("FNA4",)


def test_a_cross_is_given_in_shares_not_percent(flora: Flora) -> None:
    (first,) = [c for c in flora.crosses if (c.female, c.male) == ("AMACH", "AMATU") and "field" in c.setting]
    assert (first.low, first.high) == (0.004, 0.023)  # 0.4 to 2.3 percent
    (none,) = [c for c in flora.crosses if (c.female, c.male) == ("AMARE", "AMAPA")]
    assert not none.found
    assert ("AMAPA", "AMARE") not in flora.crossing_pairs()
    assert ("AMAPA", "AMATU") in flora.crossing_pairs()


def test_dates_and_groups_are_typed(flora: Flora) -> None:
    by_quantity = {(fact.quantity, fact.taxa): fact for fact in flora.published}
    first = by_quantity["emergence_first_date", ("AMAPA",)]
    assert [(day.year, day.month, day.day) for day in first.dates] == [(None, 5, 8)]
    peak = by_quantity["emergence_peak_start_date", ("AMATU",)]
    assert [(day.year, day.month, day.day) for day in peak.dates] == [(1996, 6, 24)]
    assert by_quantity["resistance_sites_known", ("AMATU",)].groups == (2, 4, 5, 9, 14, 15, 27)
    ratio = by_quantity["biomass_ratio", ("AMATU",)]
    assert (ratio.spread, ratio.low, ratio.high) == ("cases", 0.11, 0.26)


def test_diuron_keeps_its_former_group_and_glufosinate_its_height(flora: Flora) -> None:
    diuron = flora.ingredients["diuron"]
    assert (diuron.groups, diuron.former_groups) == ((5,), (7,))
    glufosinate = flora.ingredients["glufosinate-ammonium"]
    assert (glufosinate.groups, glufosinate.max_height_cm, glufosinate.label_governs) == ((10,), 7.5, True)
    assert glufosinate.resistance_known == ("AMAPA",)


def test_no_ingredient_is_held_good_above_ten_centimetres(flora: Flora) -> None:
    heights = [item.max_height_cm for item in flora.ingredients.values() if item.max_height_cm is not None]
    assert max(heights) <= 10
    assert all(item.label_governs for item in flora.ingredients.values())


def test_every_share_of_the_facts_is_shipped_unchanged(flora: Flora, facts: Path) -> None:
    compared = 0
    for row in rows(facts, "characters.csv"):
        if row["kind"] != "categorical":
            continue
        told = flora.shares[row["code"], row["character"], row["stage"]]
        keys, recalled = named_keys(row["source"])
        assert told.shares[row["state"]] == float(row["frequency"])
        assert told.basis_by_state[row["state"]] == row["basis"]
        assert keys <= set(told.sources) and recalled <= set(told.recalled)
        assert told.derived == row["source"].startswith("derived")
        compared += 1
    assert compared == sum(len(told.shares) for told in flora.shares.values()) == 1301


def test_every_measure_of_the_facts_is_shipped_unchanged(flora: Flora, facts: Path) -> None:
    compared = 0
    for row in rows(facts, "characters.csv"):
        if row["kind"] != "numeric":
            continue
        told = flora.measures[row["code"], row["character"], row["stage"]]
        assert [told.mean, told.sd, told.low, told.high] == [float(row[c]) for c in ("mean", "sd", "low", "high")]
        assert told.unit == row["unit"].replace("cm_per_GDD", "cm_per_degree_day")
        assert told.basis == row["basis"]
        assert (set(told.sources), set(told.recalled)) == named_keys(row["source"])
        compared += 1
    assert compared == len(flora.measures) == 235


def test_no_source_was_lost_between_states_of_one_look(flora: Flora, facts: Path) -> None:
    wanted: dict[tuple[str, str, str], set[str]] = {}
    for row in rows(facts, "characters.csv"):
        if row["kind"] == "categorical":
            wanted.setdefault((row["code"], row["character"], row["stage"]), set()).update(named_keys(row["source"])[0])
    assert {key: set(told.sources) for key, told in flora.shares.items()} == wanted


def test_every_published_number_is_shipped_unchanged_and_in_order(flora: Flora, facts: Path) -> None:
    raw = rows(facts, "dynamics.csv")
    assert len(raw) == len(flora.published) == 343
    words = {"READ": {"read", "quoted"}, "RECALL": {"recalled"}, "DERIVED": {"derived"}, "JUDGEMENT": {"judgement"}}
    for row, fact in zip(raw, flora.published, strict=True):
        assert (fact.quantity, fact.condition, fact.basis) == (row["quantity"], row["condition"], row["basis"])
        for column in ("mean", "sd", "low", "high"):
            assert getattr(fact, column) == number(row[column]), (row, column)
        assert fact.sources == tuple(row["source"].split(";"))
        codes = [code for code in re.split(r"[|]", row["taxon"]) if code in flora.taxa]
        assert not codes or fact.taxa == tuple(codes)
        start = re.match(r"[A-Z]+\b", row["note"])
        assert not start or fact.status in words[start[0]]
        for day in re.findall(r"(\d+) (May|June|July)", row["unit"]):
            assert (int(day[0]), ("May", "June", "July").index(day[1]) + 5) in [(d.day, d.month) for d in fact.dates]
        if row["unit"].startswith("groups"):
            bare = re.sub(r"\(.*?\)", "", row["unit"].removeprefix("groups"))
            assert fact.groups == tuple(int(part) for part in bare.split(","))


def test_no_percentage_was_turned_into_a_share_by_the_unit(flora: Flora, facts: Path) -> None:
    for row, fact in zip(rows(facts, "dynamics.csv"), flora.published, strict=True):
        if fact.unit:
            assert row["unit"].startswith("percent") == fact.unit.startswith("percent"), (row["unit"], fact.unit)


def test_every_taxon_and_weight_is_shipped_unchanged(flora: Flora, facts: Path) -> None:
    raw = rows(facts, "taxa.csv")
    assert [row["code"] for row in raw] == list(flora.taxa)
    for row in raw:
        taxon = flora.taxa[row["code"]]
        weights = {region: float(row[f"weight_{region}"]) for region in REGIONS if row[f"weight_{region}"]}
        assert dict(taxon.weights) == weights
        assert taxon.pigweed == bool(weights)
        assert taxon.hunted == (taxon.code in ("AMAPA", "AMATU"))
        assert row["scientific_name"].startswith(taxon.scientific_name)
        assert row["english_name"].startswith(taxon.english_name)
        assert (taxon.authority, taxon.breeding) == (row["authority"], row["breeding"])
        assert taxon.sources == tuple(row["source"].split(";"))


def test_every_rate_of_a_cross_is_shipped_as_its_share(flora: Flora, facts: Path) -> None:
    def key(low: float | None, high: float | None, sources: str) -> tuple[str, str, str]:
        return (*(f"{x:.8f}" if x is not None else "" for x in (low, high)), sources)  # type: ignore[return-value]

    raw = Counter(
        key(
            None if not row["rate_low_pct"] else float(row["rate_low_pct"]) / 100,
            None if not row["rate_high_pct"] else float(row["rate_high_pct"]) / 100,
            row["source"],
        )
        for row in rows(facts, "hybrids.csv")
    )
    shipped = Counter(key(cross.low, cross.high, ";".join(cross.sources)) for cross in flora.crosses)
    # One row of the facts told of crosses with two kinds and became two rows, both without a rate.
    assert shipped - raw == Counter({("", "", "TS58;JEP93"): 1})
    assert not raw - shipped


def test_every_ingredient_and_action_is_shipped(flora: Flora, facts: Path) -> None:
    raw = rows(facts, "sites_of_action.csv")
    assert [row["active_ingredient"] for row in raw] == list(flora.ingredients)
    uses = {"y": "yes", "n": "no", "dir": "directed", "y (treated seed)": "treated_seed"}
    for row in raw:
        item = flora.ingredients[row["active_ingredient"]]
        assert [*item.groups, *item.former_groups] == [int(n) for n in re.findall(r"\d+", row["wssa_group"])]
        height = row["max_pigweed_height_post_cm_approx"]
        assert item.max_height_cm == (float(height.split(" ")[0]) if height else None)
        assert {crop: uses.get(row[crop], row[crop]) for crop in item.crops} == dict(item.crops)
        known = tuple(code for code in ("AMAPA", "AMATU") if row[f"resistance_known_{code}"] == "y")
        assert item.resistance_known == known
    actions = rows(facts, "actions.csv")
    assert [row["action"] for row in actions] == [action.action for action in flora.actions.values()]
    for row, action in zip(actions, flora.actions.values(), strict=True):
        assert action.sources == tuple(row["source"].split(";"))
        assert (action.when, action.limits, action.fails, action.cautions, action.evidence) == tuple(
            row[c] for c in ("applies_when", "stage_or_density", "what_makes_it_fail", "caution_safety", "evidence")
        )


def test_every_citation_key_of_the_facts_has_a_line(flora: Flora, facts: Path) -> None:
    for file in ("id_sources.md", "dynamics_sources.md"):
        for line in (facts / file).read_text(encoding="utf-8").splitlines():
            cell = line.split("|")[1].strip() if line.startswith("| ") else "key"
            if cell != "key" and not cell.startswith("---"):
                assert {key.strip() for key in re.split(r"[,;]", cell)} <= set(flora.sources)

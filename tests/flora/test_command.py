"""`tepal flora`: what people and programs get."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import pytest

from tepal.cli import main
from tepal.flora import load

FOXTAILS = Path(__file__).parent / "foxtails"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["flora", *arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_taxon_is_told_in_words_with_its_sources(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "amapa")
    assert (code, err) == (0, "")
    assert out.startswith("Palmer amaranth (AMAPA), Amaranthus palmeri S. Watson.")
    for part in (
        "hunted",
        "Male and female flowers stand on different plants",
        "72 in the Southeast",
        "With two to four true leaves",
        "leaf stalk over blade, lower leaf",
        "Crosses are on record with",
    ):
        assert part in out
    flora = load()
    named = {key.strip() for found in re.findall(r"\[(.*?)\]", out) for key in re.split("[,;]", found)}
    assert len(named & set(flora.sources)) > 10
    # No name of a table's column or state meets a person's eye.
    assert not re.search(r"\w_\w", out.replace("X_AM", ""))


@pytest.mark.parametrize("code", load().taxa)
def test_every_taxon_can_be_told_both_ways(code: str, capsys: pytest.CaptureFixture[str]) -> None:
    done, out, _ = run(capsys, code)
    assert done == 0
    assert "  " not in out.replace("\n  ", "\n")
    assert ".." not in out
    done, out, _ = run(capsys, code, "--json")
    facts = json.loads(out)
    assert (done, facts["code"], facts["tables"]) == (0, code, load().tables_hash)
    assert out.count("\n") == 1
    for look in facts["looks"]:
        assert look["basis"]
        if look["kind"] == "categorical":
            assert math.fsum(look["shares"].values()) == pytest.approx(1)
    used = {
        key for part in ("looks", "crosses", "parameters", "published") for row in facts[part] for key in row["sources"]
    }
    assert used <= set(facts["citations"])


def test_a_look_alike_is_never_called_harmless(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "CHEAL")
    assert "still control it" in out
    assert "harmless" not in out


def test_a_source_tells_its_citation_and_what_stands_on_it(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--source", "HOR00")
    assert code == 0
    assert "10.1614/0043-1745(2000)048[0347:GAOFAS]2.0.CO;2" in out
    assert "HorakLoughin2000" in out
    assert "height_growth_rate" in out
    _, one, _ = run(capsys, "--source", "HOR00", "--json")
    _, other, _ = run(capsys, "--source", "HorakLoughin2000", "--json")
    assert json.loads(one)["facts"] == json.loads(other)["facts"]
    flora = load()
    keys = {"HOR00", "HorakLoughin2000"}
    assert len(json.loads(one)["facts"]) == sum(bool(keys & set(named)) for _, _, named in flora.rows())


def test_every_source_can_be_told(capsys: pytest.CaptureFixture[str]) -> None:
    for key in load().sources:
        code, out, err = run(capsys, "--source", key)
        assert (code, err) == (0, "")
        assert out.startswith(f"{key}: ")


def test_the_list_names_every_taxon(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys)
    assert code == 0
    assert all(taxon in out for taxon in load().taxa)
    _, out, _ = run(capsys, "--json")
    assert [taxon["code"] for taxon in json.loads(out)["taxa"]] == list(load().taxa)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("AMAPX",), "AMAPA"),
        (("Palmer",), "Did you mean AMAPA (Palmer amaranth)?"),
        (("--source", "Sellers"), "Sellers2003"),
        (("AMAPA", "--source", "HOR00"), "One question at a time."),
        (("--tables", "nowhere"), "no such folder"),
    ],
)
@pytest.mark.parametrize("json_too", [(), ("--json",)])
def test_what_is_unknown_is_refused_with_one_line_and_the_nearest(
    arguments: tuple[str, ...], says: str, json_too: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, *arguments, *json_too)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert says in err


def test_another_group_is_told_from_its_folder(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "SETFA", "--tables", str(FOXTAILS))
    assert code == 0
    assert out.startswith("Giant foxtail (SETFA)")
    assert "short hairs all over the leaf top" in out


def test_the_worked_example_of_the_docs_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    page = (Path(__file__).parents[2] / "docs" / "rooms" / "flora.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```console\n\$ tepal flora (.*)\n((?:[^`$].*\n)+)```", page)
    assert len(blocks) == 2
    for arguments, lines in blocks:
        _, out, _ = run(capsys, *arguments.split())
        for line in lines.splitlines():
            assert line in out.splitlines()

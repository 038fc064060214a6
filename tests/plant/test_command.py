"""`tepal plant` as a person and a program use it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tepal.cli import main
from tepal.plant import identify


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["plant", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_person_gets_a_sentence_first(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(
        capsys, "petiole_blade_ratio_lower=1.3,1.25", "stem_hair_upper=none", "nodal_spines=absent",
        "watermark=present", "--stage", "vegetative", "--region", "SE",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert out.splitlines()[0].startswith("Palmer amaranth, ")


def test_a_program_gets_one_object(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "nodal_spines=present", "--stage", "vegetative", "--json")
    found = json.loads(out)
    assert code == 0
    assert out.count("\n") == 1
    assert sum(found["posterior"].values()) == pytest.approx(1, abs=1e-9)
    assert {"other", "AMAPAxAMATU", "AMAPA"} <= set(found["posterior"])
    assert isinstance(found["enough"], bool)
    assert all(isinstance(name, str) for name in found["next"])


def test_without_looks_it_says_what_is_common_and_what_to_look_at(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--stage", "vegetative", "--region", "CB")
    assert code == 0
    assert out.startswith("Nothing looked at yet")
    assert "Look next" in out


def test_the_same_look_twice_on_the_line_counts_once(capsys: pytest.CaptureFixture[str]) -> None:
    one, two = (
        run(capsys, *looks, "--stage", "vegetative", "--json")[1]
        for looks in (["leaf_gloss=glossy"], ["leaf_gloss=glossy", "leaf_gloss=glossy"])
    )
    assert json.loads(one)["posterior"] == json.loads(two)["posterior"]


def test_a_file_of_plants_goes_on_past_bad_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good: dict[str, Any] = {"stage": "vegetative", "region": "CB", "looks": {"nodal_spines": "absent"}}
    lines = [
        json.dumps({"id": "a", **good}),
        json.dumps({"id": "a", **good}),
        "{torn",
        "",
        json.dumps({"id": "b", "stage": "vegetative", "looks": {"nodal_spines": "perhaps"}}),
        '{"id": "c", "looks": {"blade_length": NaN}}',
        json.dumps({"id": "d", "stage": "grown", "looks": {}}),
        json.dumps({"id": "e", "stge": "vegetative", "looks": {}}),
        json.dumps(["f"]),
        '{"id": "g", "looks": {"nodal_spines": "absent", "nodal_spines": "present"}}',
        "[" * 100_000,
        json.dumps({"id": "h", "looks": {"blade_length": 10**30}}),
        json.dumps({"id": 7, **good, "remark": "keys of its own are let be"}),
    ]
    path = tmp_path / "plants.jsonl"
    path.write_bytes("\n".join(lines).encode() + b'\n{"id": "\xff"}\n')
    code, out, _ = run(capsys, "--from", str(path))
    answers = [json.loads(line) for line in out.splitlines()]
    assert code == 1
    assert len(answers) == len(lines)  # the empty line gives none, the torn bytes one more
    assert [answer["id"] for answer in answers if "error" not in answer] == ["a", 7]
    assert all(set(answer) == {"id", "error"} for answer in answers if "error" in answer)
    assert all("plants.jsonl, line" in answer["error"] for answer in answers if "error" in answer)
    expected = identify({"nodal_spines": "absent"}, stage="vegetative", region="CB")
    assert answers[0]["posterior"] == pytest.approx(dict(zip(expected.taxa, expected.posterior, strict=True)))


def test_a_good_file_ends_with_zero(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "plants.jsonl"
    path.write_text('\ufeff{"id":"a","looks":{}}\n', encoding="utf-8")
    assert run(capsys, "--from", str(path))[0] == 0


def test_a_prior_from_a_file_counts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "prior.csv"
    path.write_text("code,weight\nAMASP,9\nAMAPA,1\n", encoding="utf-8")
    _, out, _ = run(capsys, "--stage", "vegetative", "--prior", str(path), "--json")
    assert json.loads(out)["posterior"]["AMASP"] > 0.85


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nodal_spines"], "CHARACTER=STATE"),
        (["nodal_spines="], "CHARACTER=STATE"),
        (["nodal_spins=absent"], "nodal_spines"),
        (["blade_length=long"], "decimal point"),
        (["blade_length=1_0"], "decimal point"),
        (["--stage", "vegetated"], "vegetative"),
        (["--from", "nowhere.jsonl"], "cannot be read"),
        (["--prior", "nowhere.csv"], "cannot be read"),
        (["nodal_spines=absent", "--from", "x.jsonl"], "Drop one"),
    ],
)
def test_what_is_wrong_on_the_line_is_refused_whole(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1

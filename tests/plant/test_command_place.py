"""What `tepal plant` is told of the place and of the reader, and what it says of a stand."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tepal.flora import Flora
from tepal.plant import Finding, Reader, identify, local_prior

from .test_command import run

LOOK = ("petiole_blade_ratio_lower=0.95", "--stage", "vegetative", "--region", "UM", "--json")


def test_what_was_found_nearby_counts_and_is_shown(
    tmp_path: Path, flora: Flora, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "found.csv"
    path.write_text("code,by,years,metres,plants\nAMAPA,laboratory,1,400,3\nAMARE,eye,,,\n", encoding="utf-8")
    bare, local = (json.loads(run(capsys, *LOOK, *more)[1]) for more in ((), ("--found", str(path))))
    assert local["posterior"]["AMAPA"] > 2 * bare["posterior"]["AMAPA"]
    assert local["prior"]["AMAPA"] > 2 * bare["prior"]["AMAPA"]
    findings = [Finding("AMAPA", "laboratory", 1, 400, 3), Finding("AMARE", "eye")]
    expected = identify(
        {"petiole_blade_ratio_lower": 0.95}, stage="vegetative", region="UM",
        prior=local_prior(findings, flora=flora, region="UM"),
    )  # fmt: skip
    assert local["posterior"]["AMAPA"] == pytest.approx(expected.probability("AMAPA"))


def test_a_reader_who_was_often_wrong_is_believed_less(capsys: pytest.CaptureFixture[str]) -> None:
    sure, doubtful = (
        json.loads(run(capsys, "nodal_spines=present", *LOOK, "--checked", checked)[1])["posterior"]["AMASP"]
        for checked in ("400,0", "100,400")
    )
    assert sure > doubtful
    seen = {"nodal_spines": "present", "petiole_blade_ratio_lower": 0.95}
    expected = identify(seen, stage="vegetative", region="UM", reader=Reader().after(right=100, wrong=400))
    assert doubtful == pytest.approx(expected.probability("AMASP"))


def test_enough_says_what_would_still_change_it(capsys: pytest.CaptureFixture[str]) -> None:
    seen: dict[str, Any] = {"petiole_blade_ratio_lower": 0.95}
    where = ("--stage", "vegetative", "--region", "SP", "--json")
    while True:
        answer = json.loads(run(capsys, *(f"{k}={v}" for k, v in seen.items()), *where)[1])
        if answer["enough"]:
            break
        assert answer["later"] is None
        seen[answer["next"][0]] = "cannot_tell"
    assert answer["later"]["looks"][0]["stage"] == "reproductive"
    assert 0 < answer["later"]["looks"][0]["chance"] <= 1
    assert 0 < answer["later"]["laboratory_chance"] < 1


def test_a_stand_is_told_on_a_last_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    looks = {"petiole_blade_ratio_lower": 0.4, "blade_lw_ratio": 4.5, "nodal_spines": "absent"}
    lines = [{"id": i, "stage": "vegetative", "region": "CB", "looks": looks} for i in range(20)]
    path = tmp_path / "plants.jsonl"
    path.write_text("\n".join(json.dumps(line) for line in lines) + "\n{torn\n", encoding="utf-8")
    code, out, _ = run(capsys, "--from", str(path), "--stand")
    answers = [json.loads(line) for line in out.splitlines()]
    stand = answers[-1]["stand"]
    assert code == 1
    assert len(answers) == len(lines) + 2
    assert stand["plants"] == 20
    assert max(stand["shares"], key=lambda name: stand["shares"][name]["mean"]) == "AMATU"
    assert stand["p_any"]["AMATU"] > 0.99
    assert stand["p_any"]["AMAPA"] < 0.2
    assert stand["more_to_look_at"]["AMAPA"] > 0
    share = stand["shares"]["AMATU"]
    assert 0 <= share["q05"] <= share["mean"] <= share["q95"] <= 1


@pytest.mark.parametrize(
    ("text", "arguments", "says"),
    [
        ("code,by\nAMAPA,rumour\n", (), "laboratory or by eye"),
        ("code,by\nAMAXX,eye\n", (), "line 2"),
        ("code,by,years\nAMAPA,eye,-1\n", (), "between 0"),
        ("code\nAMAPA\n", (), "by"),
        ("code,by\nAMAPA,eye\n", ("--prior", "p.csv"), "Drop one"),
        ("code,by\nAMAPA,eye\n", ("--checked", "many"), "47,3"),
        ("code,by\nAMAPA,eye\n", ("--stand",), "--from"),
    ],
)
def test_what_is_wrong_is_refused(
    text: str, arguments: tuple[str, ...], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "found.csv"
    path.write_text(text, encoding="utf-8")
    code, out, err = run(capsys, *LOOK, "--found", str(path), *arguments)
    assert (code, out) == (2, "")
    assert says in err

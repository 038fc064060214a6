"""The compiled tables: an implementation that reads nothing else gives the same answers."""

from __future__ import annotations

import ast
import copy
import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from _require import SAID
from tepal.cli import main
from tepal.flora import REGIONS, STAGES, load
from tepal.plant import identify
from tepal.plates import states

TWIN = Path(__file__).with_name("compiled_twin.py")
FLORA = load()


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compiled") / "new"
    assert main(["plant", "--compile", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def tables(out: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((out / "tables.json").read_text(encoding="utf-8"))
    return found


@pytest.fixture(scope="module")
def cases(out: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (out / "golden.jsonl").read_text(encoding="utf-8").splitlines()]


@pytest.mark.slow
def test_a_twin_in_javascript_meets_them_too(out: Path) -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip(f"{SAID}node")
    run = subprocess.run(
        [node, str(TWIN.with_suffix(".mjs")), str(out / "tables.json"), str(out / "golden.jsonl")],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    found = json.loads(run.stdout)
    assert (found["cases"], found["next"], found["enough"]) == (500, 0, 0)
    assert max(found["posterior"], found["gain"]) <= 1e-9


def differences(tables: Path, cases: Path) -> dict[str, float]:
    # -I and -S: neither this project nor any library can be reached.
    run = subprocess.run(
        [sys.executable, "-I", "-S", str(TWIN), str(tables), str(cases)], capture_output=True, text=True, check=True
    )
    found: dict[str, float] = json.loads(run.stdout)
    return found


def test_a_plain_twin_that_reads_only_the_files_meets_all_cases(out: Path) -> None:
    found = differences(out / "tables.json", out / "golden.jsonl")
    assert found["cases"] == 500
    assert found["posterior"] <= 1e-9
    assert found["gain"] <= 1e-9
    assert found["next"] == 0
    assert found["enough"] == 0


def test_the_twin_knows_nothing_of_the_project() -> None:
    tree = ast.parse(TWIN.read_text(encoding="utf-8"))
    imported = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    imported |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert imported <= {"__future__", "json", "math", "pathlib", "typing", "sys"}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("where", "by"),
    [
        (("settings", "overlap_correlation"), 1.05),
        (("rows", "nodal_spines", "vegetative", "AMASP", 1), 0.99),
        (("stages", "reproductive", "temper"), 1.01),
        (("stages", "vegetative", "priors", "CB", 0), 1.01),
        (("characters", "stem_hair_upper", "misread"), 1.1),
    ],
)
def test_one_number_changed_in_the_tables_is_noticed(
    out: Path, tables: dict[str, Any], tmp_path: Path, where: tuple[Any, ...], by: float
) -> None:
    changed = copy.deepcopy(tables)
    inner: Any = changed
    for step in where[:-1]:
        inner = inner[step]
        if isinstance(inner, str):  # the rows of another stage
            inner = changed["rows"][where[1]][inner]
    inner[where[-1]] *= by
    some = tmp_path / "some.jsonl"
    lines = (out / "golden.jsonl").read_text(encoding="utf-8").splitlines(keepends=True)
    some.write_text("".join(line for line in lines if json.loads(line)["stage"] in ("vegetative", "reproductive")))
    path = tmp_path / "tables.json"
    path.write_text(json.dumps(changed), encoding="utf-8")
    assert differences(path, some)["posterior"] > 1e-9


def test_the_cases_are_of_every_kind(tables: dict[str, Any], cases: list[dict[str, Any]]) -> None:
    assert {case["stage"] for case in cases} == {*STAGES, "unknown"}
    assert {case["region"] for case in cases} == {*REGIONS, None}
    assert {case["enough"] for case in cases} == {True, False}
    looks = [(case, name, value) for case in cases for name, value in case["looks"].items()]
    assert {name for _, name, _ in looks} == {name for name, told in tables["characters"].items() if told["look"]}
    assert any(value == "cannot_tell" for *_, value in looks)
    assert any(isinstance(value, list) and isinstance(value[0], str) for *_, value in looks)
    assert any(isinstance(value, list) and isinstance(value[0], float) for *_, value in looks)
    known = [(case, name) for case, name, _ in looks if case["stage"] != "unknown"]
    assert any(tables["stages"][case["stage"]]["from"].get(name) not in (None, case["stage"]) for case, name in known)
    assert any(tables["characters"][name].get("binned_from") in case["looks"] for case, name, _ in looks)
    assert any(not case["looks"] for case in cases)


def test_the_cases_are_what_the_room_says(cases: list[dict[str, Any]]) -> None:
    for case in cases[::25]:
        call = identify(case["looks"], stage=case["stage"], region=case["region"])
        assert case["posterior"] == pytest.approx(call.posterior.tolist(), abs=1e-12)
        assert case["enough"] is call.enough
        assert sum(case["posterior"]) == pytest.approx(1, abs=1e-12)


def test_shares_and_means_are_those_of_the_flora(tables: dict[str, Any]) -> None:
    for (code, name, stage), row in FLORA.shares.items():
        for at in STAGES if stage == "any" else (stage,):
            if FLORA.look(code, name, at) is not row:
                continue
            rows = tables["rows"][name][at]
            rows = tables["rows"][name][rows] if isinstance(rows, str) else rows
            assert rows[code][1:] == [row.shares.get(state, 0.0) for state in FLORA.characters[name].states]
    for stage in STAGES:
        for prior in tables["stages"][stage]["priors"].values():
            assert sum(prior) == pytest.approx(1, abs=1e-12)
            assert len(prior) == len(tables["names"])


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_look_has_its_words_and_every_state_its_drawing(out: Path, tables: dict[str, Any], language: str) -> None:
    texts = json.loads((out / f"texts.{language}.json").read_text(encoding="utf-8"))
    plates = json.loads((out / f"plates.{language}.json").read_text(encoding="utf-8"))["plates"]
    assert texts["language"] == language
    assert set(texts["names"]) == set(tables["names"][: tables["taxa"]])
    for name, told in tables["characters"].items():
        if not told["look"]:
            continue
        assert texts["characters"][name]["question"].count("?") == 1
        assert set(texts["characters"][name]["states"]) == set(told.get("states", ()))
        assert set(plates[name]) == set(states(FLORA.characters[name]))
        for plate in plates[name].values():
            assert plate["svg"].startswith("<svg")
            assert plate["alt"]
    said = [least for least, _ in texts["sureness"]]
    assert said == sorted(said, reverse=True)


@pytest.mark.slow
def test_it_is_compact_and_the_same_every_time(out: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (out / "tables.json").stat().st_size < 120_000
    assert main(["plant", "--compile", str(tmp_path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sorted(Path(path).name for path in told["files"]) == sorted(path.name for path in out.iterdir())
    for path in out.iterdir():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "taken").write_text("x")
    assert main(["plant", "--compile", str(tmp_path / "taken" / "in")]) == 2
    assert "cannot be written" in capsys.readouterr().err

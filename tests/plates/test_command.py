from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.cli import main
from tepal.flora import load
from tepal.plates import PARTS, draw, names


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["plates", *arguments])
    done = capsys.readouterr()
    return code, done.out, done.err


def test_all_of_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "--to", str(tmp_path / "new"))
    wanted = {f"{character}-{state}.svg" for character, state in names(load())}
    assert code == 0
    assert {path.name for path in (tmp_path / "new").iterdir()} == wanted
    assert out.startswith(f"{len(wanted)} drawings, in ")


def test_one_character_and_one_state_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "fold_test_lower_leaf", "--to", str(tmp_path), "--json")
    rows = [json.loads(line) for line in out.splitlines()]
    assert code == 0
    assert [row["state"] for row in rows] == ["shorter", "about_equal", "longer"]
    for row in rows:
        assert Path(row["file"]).read_text(encoding="utf-8") == draw(load(), row["character"], row["state"]).svg
        assert row["alt"] and row["title"]
    _, out, _ = run(capsys, "blade_length=high", "--to", str(tmp_path), "--json")
    (row,) = map(json.loads, out.splitlines())
    assert (row["state"], row["unit"]) == ("high", "cm")
    assert row["value"] > 5


def test_a_taxon(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, _ = run(capsys, "--taxon", "AMAPA", "--to", str(tmp_path))
    assert code == 0
    assert {path.stem for path in tmp_path.iterdir()} == {f"AMAPA-{part}" for part in PARTS}


@pytest.mark.parametrize(
    "arguments",
    [["no_such"], ["leaf_outline=no_such"], ["leaf_outline", "--taxon", "AMAPA"], ["--taxon", "AMAPX"]],
)
def test_a_refusal_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    code, out, err = run(capsys, *arguments, "--to", str(tmp_path / "new"))
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert not (tmp_path / "new").exists()


def test_a_folder_that_cannot_be_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("x")
    code, _, err = run(capsys, "watermark", "--to", str(tmp_path / "file"))
    assert code == 2
    assert "--to" in err

"""`tepal leaf` as a program sees it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from leaf.drawn import draw
from tepal.cli import main


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("photos")
    for k, (ratio, fault) in enumerate(((0.6, None), (1.2, None), (1.0, "none"))):
        rng = np.random.default_rng([31, k])
        image, _ = draw(
            rng, style="shaded", background="white_paper", shape="ovate", ratio=ratio, size=(640, 480), fault=fault
        )
        Image.fromarray(image).save(folder / f"{k}.jpg", quality=92)
    (folder / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\n" + b"\0" * 40)
    return folder


def _lines(capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_one_line_a_photo_with_the_keys_of_the_contract(photos: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leaf", str(photos / "0.jpg"), str(photos / "2.jpg"), "--json"]) == 0
    measured, refused = _lines(capsys)
    assert {"photo", "petiole_blade_ratio", "ratio_sd", "petiole_px", "blade_px", "width_px", "points"} <= set(measured)
    assert measured["points"].keys() == {"petiole_base", "junction", "tip"}  # type: ignore[attr-defined]
    assert abs(float(measured["petiole_blade_ratio"]) - 0.6) < 0.06  # type: ignore[arg-type]
    assert refused["photo"] == str(photos / "2.jpg")
    assert "refused" in refused
    assert "petiole_blade_ratio" not in refused


def test_a_bad_file_stops_nothing_and_shows_in_the_exit_code(photos: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leaf", str(photos), "--json"]) == 1
    lines = _lines(capsys)
    assert len(lines) == 4
    assert sum("refused" in line for line in lines) == 2


@pytest.mark.slow
def test_several_processes_say_what_one_says_in_the_same_order(
    photos: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["leaf", str(photos), "--json"])
    one = _lines(capsys)
    main(["leaf", str(photos), "--json", "--jobs", "2"])
    assert _lines(capsys) == one


def test_millimetres_sentences_and_drawings(photos: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["leaf", str(photos / "1.jpg"), "--mm-per-px", "0.25", "--draw", str(tmp_path / "out.png")]) == 0
    assert "mm" in capsys.readouterr().out
    assert Image.open(tmp_path / "out.png").width > 400


def test_the_sheet_is_written(tmp_path: Path) -> None:
    assert main(["leaf", "--card", str(tmp_path / "sheet.pdf")]) == 0
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("line", [["leaf"], ["leaf", "x.jpg", "--mm-per-px", "-1"], ["leaf", "x.jpg", "--jobs", "0"]])
def test_a_wrong_line_is_refused(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(line) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_nothing_of_the_leaf_is_loaded_for_the_version() -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "tepal", "--version"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    loaded = set(re.findall(r"\|\s*([a-z_0-9]+)(?:\.\S+)?$", done.stderr, re.MULTILINE | re.IGNORECASE))
    assert loaded & {"skimage", "scipy", "PIL", "zxingcpp", "numpy", "pi_heif"} == set()


def test_plant_takes_a_leaf_only_when_it_is_said_which(photos: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plant", "--leaf", str(photos / "1.jpg"), "--json"]) == 2
    assert "lower" in capsys.readouterr().err
    line = ["plant", "--leaf", str(photos / "1.jpg"), "--region", "SP", "--json"]
    assert main([*line, "--which-leaf", "lower", "--stage", "vegetative"]) == 0
    lower = json.loads(capsys.readouterr().out)
    assert any(item["character"] == "petiole_blade_ratio_lower" for item in lower["evidence"])
    assert main([*line, "--which-leaf", "upper", "--stage", "vegetative"]) == 0
    upper = json.loads(capsys.readouterr().out)
    assert not any("ratio_lower" in item["character"] for item in upper["evidence"])
    assert main([*line, "--which-leaf", "seedling", "--stage", "vegetative"]) == 2
    assert main([*line, "--which-leaf", "lower", "--stage", "seedling_2-4_leaf"]) == 2
    assert main(["plant", "--leaf", str(photos / "2.jpg"), "--which-leaf", "lower", "--json"]) == 2
    assert "Only a measured leaf" in capsys.readouterr().err

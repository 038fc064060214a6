"""Bytes and JSON objects of files: taken whole, or refused with the file's name."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tepal.tables import Refused, geojson_object, read_bytes, write_whole


def test_a_file_is_read_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(b"12345")
    assert read_bytes(path, most=5) == b"12345"
    with pytest.raises(Refused, match=r"5 bytes \(a\.bin\)\. At most 4 are read"):
        read_bytes(path, most=4)


@pytest.mark.parametrize("name", ["gone", "", "a\0b"])
def test_what_cannot_be_read_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(Refused, match="cannot be read"):
        read_bytes(tmp_path / name)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_an_object_is_read_in_the_encodings_of_json(encoding: str) -> None:
    wanted = {"type": "Point", "coordinates": [-93.0, 42.0], "name": "Acequia Año"}
    assert geojson_object(json.dumps(wanted, ensure_ascii=False).encode(encoding), file="a.geojson") == wanted


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", "torn JSON"),
        (b'{"a": 1,\n "b": }', r"torn JSON: Expecting value \(a\.geojson, line 2\)"),
        (b"[1, 2]", "no JSON object"),
        (b'{"a": NaN}', "no JSON text"),
        (b"\xff\xfe\x00", "no JSON text"),
        (b"[" * 200_000, "no JSON text"),
        (b'{"a": ' + b"1" * 5000 + b"}", "no JSON text"),
    ],
    ids=["empty", "torn", "list", "nan", "bytes", "deep", "digits"],
)
def test_anything_else_is_refused_with_its_file(raw: bytes, told: str) -> None:
    with pytest.raises(Refused, match=told) as problem:
        geojson_object(raw, file="a.geojson")
    assert "a.geojson" in str(problem.value)


def test_a_file_is_written_whole_or_stays_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "letter.pdf"
    write_whole(path, b"the first")

    def full(self: Path, raw: bytes) -> int:
        with self.open("wb") as file:
            file.write(raw[:3])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"the second")
    assert [one.name for one in tmp_path.iterdir()] == ["letter.pdf"]
    assert path.read_bytes() == b"the first"

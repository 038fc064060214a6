"""Tables: what is read is what stood there, and what is refused names its line."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.tables import Refused, read_csv, read_csv_text


def _raw(tmp_path: Path, raw: bytes) -> Path:
    path = tmp_path / "counts.csv"
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "nothing in it (counts.csv)"),
        (b" \n\n", "nothing in it (counts.csv)"),
        (b"PK\x03\x04\x00\x00", "a NUL byte (counts.csv)"),
        (b"a,b,a\n1,2,3\n", "column 'a' twice (counts.csv, line 1)"),
        (b"a,b\n1,2\n1,2,3\n", "3 cells (counts.csv, line 3)"),
        (b"a,b\n1,2\n\n\n1\n", "1 cells (counts.csv, line 5)"),
        (b'a,b\n1,"2\n3,4\n', "torn text: unexpected end of data (counts.csv, line 2)"),
        (b'a,b\n1,"2"x\n', "torn text: ',' expected after '\"' (counts.csv, line 2)"),
        (b"a,b\n1," + b"x" * 140_000 + b"\n", "torn text: field larger than field limit (131072) (counts.csv, line 2)"),
    ],
)
def test_a_bad_file_is_refused_with_its_line(raw: bytes, said: str, tmp_path: Path) -> None:
    with pytest.raises(Refused) as caught:
        read_csv(_raw(tmp_path, raw))
    assert str(caught.value).startswith(said)
    assert "\n" not in str(caught.value)


def test_a_missing_file_and_a_folder_are_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"cannot be read: No such file or directory \(gone\.csv\)"):
        read_csv(tmp_path / "gone.csv")
    with pytest.raises(Refused, match=r"cannot be read: Is a directory"):
        read_csv(tmp_path)


def test_a_table_that_is_too_large_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "big.csv"
    with path.open("wb") as file:
        file.truncate(200_000_001)
    with pytest.raises(Refused, match=r"200000001 bytes \(big\.csv\)"):
        read_csv(path)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("", "an empty cell (t, line 2, column 'n'). n must be given."),
        ("1,5", "'1,5' is no number (t, line 2, column 'n')."),
        ("nan", "'nan' is no number"),
        ("inf", "'inf' is no number"),
        ("-0.1", "n is -0.1 (t, line 2, column 'n'). It must lie between 0 and 9."),
        ("9.001", "n is 9.001"),
    ],
)
def test_a_bad_number_is_refused_with_its_cell(cell: str, said: str) -> None:
    (row,) = read_csv_text(f"n;m\n{cell};x", name="t")
    with pytest.raises(Refused) as caught:
        row.number("n", low=0, high=9)
    assert str(caught.value).startswith(said)


def test_empty_cells_have_defaults_where_they_are_given() -> None:
    (row,) = read_csv_text("a,b,c\n , 2.5 ,x; ;y\n", name="t")
    assert row.number("a", default=7.0) == 7.0
    assert row.optional_number("a") is None
    assert row.optional_number("absent") is None
    assert row.optional_number("b") == 2.5
    assert row.text("a", "none") == "none"
    assert row.text("c") == "x; ;y"
    assert row.items("c") == ("x", "y")
    assert row.items("a") == ()


def test_needed_columns_are_asked_for_by_name() -> None:
    table = read_csv_text("x,y\n1,2\n", name="t")
    table.need(["x", "y"])
    with pytest.raises(Refused, match=r"no column count \(t, line 1\)\. The table needs x, count; it has x, y\."):
        table.need(["x", "count"])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_bytes_show_their_encoding(encoding: str, tmp_path: Path) -> None:
    text = "name,note\nPrairie café,« naïve façade »\nMühle,Straße über der Brücke\n"
    table = read_csv(_raw(tmp_path, text.encode(encoding)))
    assert table.columns == ("name", "note")
    assert [row.text("name") for row in table] == ["Prairie café", "Mühle"]


def test_a_quoted_line_end_does_not_shift_the_line_numbers() -> None:
    rows = read_csv_text('a,b\r\n"two\r\nlines",1\r\n\r\nx,2\r\n', name="t").rows
    assert [(row.line, row.cells["a"]) for row in rows] == [(2, "two\r\nlines"), (5, "x")]


_CELLS = st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from(',;\t"\n'), max_size=8)


@given(rows=st.lists(st.lists(_CELLS, min_size=3, max_size=3), max_size=6), delimiter=st.sampled_from(",;\t"))
def test_what_the_standard_writer_writes_comes_back(rows: list[list[str]], delimiter: str) -> None:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows([["one", "two", "three"], *rows])
    table = read_csv_text(out.getvalue(), name="t")
    kept = [row for row in rows if any(cell.strip() for cell in row)]
    assert [list(row.cells.values()) for row in table] == kept


def test_empty_columns_at_the_edge_are_left_out_and_full_ones_need_names() -> None:
    table = read_csv_text("a,b,,\n1,2,,\n3,4,,\n", name="t")
    assert (table.columns, dict(table.rows[1].cells)) == (("a", "b"), {"a": "3", "b": "4"})
    # One column without a name is the number of the row, as many programs write it.
    assert read_csv_text(",a\n0,1\n", name="t").columns == ("", "a")
    with pytest.raises(Refused, match=r"2 columns without a name \(t, line 3\)"):
        read_csv_text("a,,,b\n1,,,2\n3,x,y,4\n", name="t")


@pytest.mark.parametrize("text", ["County list 2026,,\na,b,c\n", "County list 2026\na,b\n1,2\n"])
def test_a_title_above_the_header_is_named(text: str) -> None:
    with pytest.raises(Refused, match=r"'County list 2026' .* \(t, line 1\)"):
        read_csv_text(text, name="t")

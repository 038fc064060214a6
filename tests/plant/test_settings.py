"""The table of settings, and a reader's reliability."""

from __future__ import annotations

from pathlib import Path

import pytest

from tepal.plant import Reader, load_settings
from tepal.tables import Refused

HEAD = "name,key,value,low,high,basis,source,note\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name,value\na,1\n", "no column"),
        (HEAD + "a,,2,0,1,judgement,-,\n", "between 0 and 1"),
        (HEAD + "a,,nan,0,1,judgement,-,\n", "no number"),
        (HEAD + "a,,1,0,1,guess,-,\n", "basis"),
        (HEAD + "a,,1,0,1,judgement,-,\na,,1,0,1,judgement,-,\n", "again"),
    ],
)
def test_a_bad_table_of_settings_is_refused(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "settings.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refused, match=says):
        load_settings(path)


def test_every_setting_says_how_it_was_got() -> None:
    settings = load_settings()
    assert set(settings.basis) == set(settings.values)
    with pytest.raises(KeyError):
        settings.changed({("nothing", ""): 1.0})


def test_a_reader_learns_from_checked_answers() -> None:
    assert Reader(9, 1).after(right=10).reliability == pytest.approx(19 / 20)
    assert Reader(9, 1).after(wrong=10).reliability == pytest.approx(9 / 20)
    with pytest.raises(ValueError, match="positive"):
        Reader(0, 1)

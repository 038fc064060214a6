"""What a person may have meant: the names that are near, all of them where several are."""

from __future__ import annotations

import pytest

from tepal.cli import main


@pytest.mark.parametrize(
    ("look", "names"),
    [
        (
            "petiole_blade_ratio=1.3",
            ["petiole_blade_ratio_lower", "petiole_blade_ratio_mid", "petiole_blade_ratio_upper"],
        ),
        ("stem_hair=none", ["stem_hair_upper", "stem_hair_main"]),
        ("nodal_spins=absent", ["nodal_spines"]),
        ("zzz=1", ["--characters"]),
    ],
)
def test_a_character_that_is_not_known(capsys, look, names):
    assert main(["plant", look]) == 2
    err = capsys.readouterr().err
    assert all(name in err for name in names)


def test_a_drawing_that_is_not_there_speaks_of_no_table(capsys, tmp_path):
    assert main(["plates", "nosuch", "--to", str(tmp_path / "out")]) == 2
    err = capsys.readouterr().err
    assert "csv" not in err and "tepal plant --characters" in err
    assert main(["plates", "stem_hair", "--to", str(tmp_path / "out")]) == 2
    assert "stem_hair_upper or stem_hair_main" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()

"""What is asked of a programme on the line: states, traits and groups that are there."""

from __future__ import annotations

from pathlib import Path

import pytest

from tepal.cli import main

PLAN = Path(__file__).parents[2] / "docs" / "rooms" / "years" / "one-site.toml"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--traits", "xyz"), "glyphosate"),
        (("--traits", "glyphosat,dicambo"), "Did you mean dicamba?"),
        (("--traits", "2"), "2,4-D"),
        (("--state", "XX"), "two letters"),
    ],
)
def test_what_is_not_known_is_refused_with_what_is(capsys, more, said):
    assert main(["programme", str(PLAN), *more]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("more", [("--state", "Illinois"), ("--traits", "2,4-D, glufosinate"), ("--traits", "none")])
def test_names_as_people_write_them(capsys, more):
    assert main(["programme", str(PLAN), *more]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(("group", "rule"), [(99, "1 to 39"), (38, "2, 3, 4, 5")])
def test_a_group_that_is_none_is_refused(capsys, tmp_path, group, rule):
    """99 is no WSSA number at all; 38 may become one, and the tables know nothing of it."""
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.read_text().replace("groups = [15]", f"groups = [{group}]"))
    assert main(["programme", str(plan)]) == 2
    err = capsys.readouterr().err
    assert str(group) in err and rule in err

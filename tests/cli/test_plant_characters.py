"""What can be looked at, listed by stage, with states and tools; and hints that lead there."""

from __future__ import annotations

import json

import pytest

from tepal.cli import main
from tepal.flora import STAGES, load
from tepal.plant import identify

FLORA = load()


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = main(["plant", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("stage", STAGES)
def test_a_stage_lists_what_can_be_seen_then_with_every_state_and_tool(
    stage: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(capsys, "--characters", "--stage", stage)
    assert code == 0
    listed = {line.split(",")[0].strip() for line in out.splitlines() if line.startswith("  ") and line[2] != " "}
    assert listed == set(FLORA.characters_at(stage))
    # Everything that the room would ask for at this stage stands in the list.
    assert {look.character for look in identify({}, stage=stage).next} <= listed
    for name in listed:
        for state, words in FLORA.characters[name].state_words.items():
            assert f"={state}" in out
            assert words in out
    if stage == "cotyledon":
        assert "with a hand lens" in out


def test_each_listed_look_is_taken_as_it_is_written(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--characters", "--stage", "vegetative", "--json")
    for look in json.loads(out)["stages"]["vegetative"]:
        value = next(iter(look["states"]), None) or "1"
        code, _, err = run(capsys, f"{look['character']}={value}", "--stage", "vegetative", "--json")
        assert (code, err) == (0, "")


def test_without_a_stage_every_stage_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--characters")
    assert [f"(--stage {stage})" in out for stage in STAGES] == [True] * len(STAGES)
    assert set(json.loads(run(capsys, "--characters", "--json")[1])["stages"]) == set(STAGES)


def test_a_wrong_stage_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "--characters", "--stage", "vegetated")
    assert (code, out) == (2, "")
    assert "Did you mean vegetative?" in err


@pytest.mark.parametrize(
    ("look", "says"),
    [
        ("nodal_spins=absent", "Did you mean nodal_spines?"),
        ("flower_colour=red", "`tepal plant --characters` lists them."),
        ("leaf_outline=lanceolat", "Did you mean lanceolate?"),
        ("leaf_outline=heart", "Choose one."),
    ],
)
def test_a_hint_is_near_or_leads_to_the_list(look: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, look, "--stage", "vegetative")
    assert code == 2
    assert says in err


def test_the_help_leads_to_the_list_and_to_the_questions(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--help")
    told = " ".join(out.replace("│", " ").split())
    assert "--characters --stage vegetative" in told
    assert "one drawing and one question at a time" in told


def test_in_spanish(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "--characters", "--stage", "vegetative", "--language", "es")
    assert "con una lupa" in out
    _, out, _ = run(capsys, "nodal_spines=present", "--stage", "vegetative", "--region", "SE", "--language", "es")
    assert out.startswith("Quelite espinoso")

"""A wrong table is refused with its file, its line, the rule and the next step."""

# ruff: noqa: E501 - a table of cases, one a line

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tepal.flora import load
from tepal.tables import Refused

FOXTAILS = Path(__file__).parent / "foxtails"


def copy(to: Path) -> Path:
    """A fresh copy of the foxtails' tables, so that no cached load is met."""
    return Path(shutil.copytree(FOXTAILS, to / "foxtails"))


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Replace the first `old` in a table; an edit that finds nothing is a fault of the test."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text, f"{old!r} is not in {file}"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


HEADER = "name,code,condition,mean,sd,low,high,unit,basis,sources,note\n"
DECLARED = "name,unit,kind,least,most,meaning\nstem,cm,log_normal,,,Length\nlives,ratio,logit_normal,,,Share\n"

# file, text to replace, replacement, line of the fault, words of the refusal
BAD = {
    "shares that do not sum to 1": (
        "shares.csv", "SETFA,ligule,any,present,0.97", "SETFA,ligule,any,present,0.96", 2, "sum to 0.99",
    ),
    "a share above 1": (
        "shares.csv", "SETVI,ligule,any,present,0.97", "SETVI,ligule,any,present,1.97", 4, "between 0 and 1",
    ),
    "a state that is not declared": (
        "shares.csv", "ligule,any,absent,0.03", "ligule,any,absentt,0.03", 3, "states.csv declares the states of ligule",
    ),
    "a row that comes twice": (
        "shares.csv", "SETFA,ligule,any,absent,0.03", "SETFA,ligule,any,present,0.03", 3, "line 2 is about the same",
    ),
    "a taxon that is not declared": (
        "shares.csv", "SETPU,ligule,any,present", "SETPX,ligule,any,present", 6, "taxa.csv declares the codes",
    ),
    "a character that is not declared": (
        "shares.csv", "SETFA,head_posture,", "SETFA,head_pose,", 16, "characters.csv declares the characters",
    ),
    "a stage that does not exist": (
        "shares.csv", "SETFA,leaf_top_hair,vegetative,hairy", "SETFA,leaf_top_hair,grown,hairy", 10, "cotyledon, seedling",
    ),
    "a basis that does not exist": (
        "shares.csv", "SETVI,ligule,any,present,0.97,judgement", "SETVI,ligule,any,present,0.97,guess", 4, "measured, flora_range",
    ),
    "a source that is not in the citation table": (
        "shares.csv", "judgement,yes,,Tests,,", "judgement,yes,,Texts,,", 2, "sources.csv",
    ),
    "something recalled that is no source of the row": (
        "shares.csv", "judgement,yes,,Tests,,", "judgement,yes,,Tests,Memory,", 2, "one of the row's own sources",
    ),
    "a measured number without a source": (
        "measures.csv", "SETFA,head_length,reproductive,15,4,5,25,cm,judgement,,Tests", "SETFA,head_length,reproductive,15,4,5,25,cm,measured,,", 2, "Only judgement may stand without a source",
    ),
    "a mean above the highest": (
        "measures.csv", ",15,4,5,25,", ",35,4,5,25,", 2, "low <= mean <= high",
    ),
    "a lowest above the mean": (
        "measures.csv", ",8,2.5,2,15,", ",8,2.5,9,15,", 3, "low <= mean <= high",
    ),
    "a negative length": ("measures.csv", ",15,4,5,25,", ",15,4,-5,25,", 2, "between 0 and"),
    "no number": ("measures.csv", ",15,4,5,25,", ",15,about 4,5,25,", 2, "sd is a number"),
    "plants that do not differ": ("measures.csv", ",15,4,5,25,", ",15,0,5,25,", 2, "the sd is above 0"),
    "a unit that is not the character's": ("measures.csv", "5,25,cm", "5,25,mm", 2, "head_length is measured in cm"),
    "a unit that is not declared": ("measures.csv", "5,25,cm", "5,25,inch", 2, "units.csv declares the units"),
    "a numeric character among the shares": (
        "shares.csv", "SETFA,head_posture,", "SETFA,head_length,", 16, "numeric ones in measures.csv",
    ),
    "an overlap group with one member": (
        "characters.csv", "head_length,numeric,cm,head,", "head_length,numeric,cm,,", 2, "at least two characters",
    ),
    "an overlap group that is not declared": (
        "characters.csv", "ligule,categorical,,,", "ligule,categorical,,leaf,", 2, "overlaps.csv declares the overlap groups",
    ),
    "a character with one state": (
        "states.csv", "head_posture,upright,heads that stand upright\n", "", 4, "at least two states",
    ),
    "states of an unknown character": (
        "states.csv", "heads that stand upright\n", "heads that stand upright\nliguel,present,x\n", 8, "characters.csv declares the characters",
    ),
    "a misreading worse than a coin": ("characters.csv", ",0.05,,10,none", ",0.6,,10,none", 3, "between 0 and 0.5"),
    "a tool nobody carries": ("characters.csv", "15,hand_lens", "15,microscope", 2, "none, ruler, hand_lens"),
    "weights that do not sum to 1": ("weights.csv", "SETVI,CB,0.2", "SETVI,CB,0.3", None, "sum to 1"),
    "a region without a weight": ("weights.csv", "SETPU,NE,0.3,judgement,", "", None, "weights of NE: none for SETPU"),
    "a weight for a look-alike": ("weights.csv", "SETPU,NE", "ECHCG,NE", 16, "Look-alikes have no regional weight"),
    "a role that does not exist": ("taxa.csv", "perfect,hunted", "perfect,chased", 2, "hunted, member, look_alike"),
    "a taxon twice": ("taxa.csv", "SETVI,Setaria viridis", "SETFA,Setaria viridis", 3, "line 2 is about the same"),
    "same_as that leads nowhere": ("sources.csv", "judgement,,,,", "judgement,,,,Nobody", 2, "leading key of the same paper"),
    "a DOI with an address": ("sources.csv", "judgement,,,,", "judgement,,,https://doi.org/10.1/x,", 2, "A DOI begins with 10."),
    "one paper under two keys that do not know each other": (
        "sources.csv", "judgement,,,,", "judgement,,,10.1000/a,\nTwin,The same,read,,,10.1000/A,", 3, "one leading key",
    ),
    "one paper with two DOIs": (
        "sources.csv", "judgement,,,,", "judgement,,,10.1000/a,\nTwin,The same,read,,,10.1000/b,Tests", 3, "One paper has one DOI",
    ),
    "a column that is missing": ("overlaps.csv", "name,meaning", "name,why", 1, "no column meaning"),
    "a torn line": ("overlaps.csv", "head,A long head nods.,", "head,", 2, "4 columns"),
}  # fmt: skip


# Where a fault between two tables is told in the other one than was changed.
TOLD_IN = {
    "an overlap group with one member": "overlaps.csv",
    "a character with one state": "characters.csv",
}


@pytest.mark.parametrize("case", BAD)
def test_a_wrong_table_is_refused_with_file_line_and_rule(case: str, tmp_path: Path) -> None:
    file, old, new, line, rule = BAD[case]
    folder = copy(tmp_path)
    change(folder, file, old, new)
    with pytest.raises(Refused) as caught:
        load("foxtails", folder=folder)
    refusal = caught.value
    assert refusal.where.file == TOLD_IN.get(case, file)
    assert refusal.where.line == line
    assert rule in str(refusal)
    assert refusal.step
    assert "\n" not in str(refusal)


# file, text, line of the fault, words of the refusal
PARAMETERS = {
    "a parameter that is not declared": ("growth.csv", "height,SETFA,,5,,,,cm,judgement,,", 2, "parameters_declared.csv"),
    "a parameter in another unit": ("seed.csv", "stem,SETFA,,5,,,,mm,judgement,,", 2, "stem is given in cm"),
    "a parameter without a number": ("seed.csv", "stem,SETFA,,,1,3,,cm,judgement,,", 2, "both low and high"),
    "a log-normal of nothing": ("labour.csv", "stem,*,,0,,,,cm,judgement,,", 2, "above 0"),
    "a share of all": ("control.csv", "lives,*,,1,,,,ratio,judgement,,", 2, "between 0 and 1"),
    "a parameter of an unknown taxon": ("seed.csv", "stem,SETFX,,5,,,,cm,judgement,,", 2, "taxa.csv declares the codes"),
    "the same parameter twice": (
        "seed.csv", "stem,*,,5,,,,cm,judgement,,\nstem,*,,6,,,,cm,judgement,,", 3, "line 2 is about the same",
    ),
    "a reviewed number without a source": ("seed.csv", "stem,*,,5,,,,cm,review,,", 2, "Only judgement"),
}  # fmt: skip


@pytest.mark.parametrize("case", PARAMETERS)
def test_a_wrong_parameter_is_refused_with_file_line_and_rule(case: str, tmp_path: Path) -> None:
    file, rows, line, rule = PARAMETERS[case]
    folder = copy(tmp_path)
    (folder / "parameters_declared.csv").write_text(DECLARED)
    (folder / file).write_text(HEADER + rows + "\n")
    with pytest.raises(Refused) as caught:
        load("foxtails", folder=folder)
    assert (caught.value.where.file, caught.value.where.line) == (file, line)
    assert rule in str(caught.value)


PUBLISHED = "quantity,taxa,taxa_words,condition,mean,sd,low,high,spread,unit,of,detail,dates,groups,words,basis,status,sources,note\n"
FACTS = {
    "a fact about nothing": ("x,,,,1,,,,,cm,,,,,,judgement,read,Tests,", "about some plant"),
    "a fact that says nothing": ("x,*,,,,,,,,cm,,,,,,judgement,read,Tests,", "a number, a date, groups or words"),
    "a range that is not called one": (
        "x,*,,,,,1,2,,cm,,,,,,judgement,read,Tests,",
        "spread says what low and high are",
    ),
    "a day that does not exist": ("x,*,,,,,,,,,,,--02-30,,,judgement,read,Tests,", "YYYY-MM-DD"),
    "a date that can be read two ways": ("x,*,,,,,,,,,,,04/05,,,judgement,read,Tests,", "YYYY-MM-DD"),
    "a group that is no number": ("x,*,,,,,,,,,,,,2;K3,,judgement,read,Tests,", "whole numbers"),
    "a status that does not exist": ("x,*,,,1,,,,,cm,,,,,,judgement,seen,Tests,", "read, quoted, recalled"),
}


@pytest.mark.parametrize("case", FACTS)
def test_a_wrong_published_fact_is_refused_with_file_line_and_rule(case: str, tmp_path: Path) -> None:
    row, rule = FACTS[case]
    folder = copy(tmp_path)
    (folder / "published.csv").write_text(PUBLISHED + row + "\n")
    with pytest.raises(Refused) as caught:
        load("foxtails", folder=folder)
    assert (caught.value.where.file, caught.value.where.line) == ("published.csv", 2)
    assert rule in str(caught.value)


def test_a_good_copy_is_taken_so_that_the_refusals_are_due_to_the_faults(tmp_path: Path) -> None:
    folder = copy(tmp_path)
    (folder / "parameters_declared.csv").write_text(DECLARED)
    (folder / "seed.csv").write_text(
        HEADER + "stem,*,,5,,,,cm,judgement,,\nlives,SETFA,,,,0.2,0.6,ratio,judgement,-,\n"
    )
    (folder / "published.csv").write_text(
        PUBLISHED + "x,*,,,,,1,2,range,cm,,,--02-29;2020-01-31,2;5,,review,read,Tests,\n"
    )
    flora = load("foxtails", folder=folder)
    assert len(flora.parameters) == 2
    assert [(day.year, day.month, day.day) for day in flora.published[0].dates] == [(None, 2, 29), (2020, 1, 31)]
    assert flora.published[0].groups == (2, 5)


def test_an_unknown_group_or_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="pigweeds"):
        load("thistles")
    with pytest.raises(Refused, match="no such folder"):
        load("thistles", folder=tmp_path / "thistles")


def test_a_missing_table_is_refused_by_name(tmp_path: Path) -> None:
    folder = copy(tmp_path)
    (folder / "states.csv").unlink()
    with pytest.raises(Refused, match=r"states\.csv"):
        load("foxtails", folder=folder)


def absent_where(folder: Path, name: str, cell: str) -> None:
    """The optional column, with one cell filled."""
    path = folder / "characters.csv"
    head, *lines = path.read_text(encoding="utf-8").splitlines()
    filled = [f"{line},{cell if line.startswith(name + ',') else ''}" for line in lines]
    path.write_text("\n".join([f"{head},absent_where", *filled, ""]), encoding="utf-8")


@pytest.mark.parametrize(
    ("cell", "rule"),
    [("ligule", "list of answers"), ("ligule=torn", "has a state"), ("ligul=absent", "has a state")],
)
def test_an_answer_that_nobody_can_give_is_refused(cell: str, rule: str, tmp_path: Path) -> None:
    folder = copy(tmp_path)
    absent_where(folder, "head_posture", cell)
    with pytest.raises(Refused) as caught:
        load("foxtails", folder=folder)
    assert (caught.value.where.file, caught.value.where.line) == ("characters.csv", 4)
    assert rule in str(caught.value)


def test_where_a_character_is_absent_is_read(tmp_path: Path) -> None:
    folder = copy(tmp_path)
    absent_where(folder, "head_posture", "ligule=absent")
    flora = load("foxtails", folder=folder)
    assert flora.characters["head_posture"].absent_where == (("ligule", "absent"),)
    assert flora.characters["ligule"].absent_where == ()

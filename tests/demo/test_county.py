"""The demo county: same seed, same bytes; it can be wrong; it leaves other people's folders alone."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest

import tepal.demo
from tepal import demo
from tepal.flora import load
from tepal.ledger import Ledger, entry_from_plain
from tepal.tables import Refused

HIDDEN = {"plant", "leaf", "walk", "stand", "clock", "years", "reading", "advice", "letter", "ledger"}


@pytest.fixture(scope="module")
def county(tmp_path_factory):
    return demo.make(tmp_path_factory.mktemp("demo") / "larkmoor")


def test_five_stories_each_with_a_letter_that_a_person_can_open(county):
    assert [visit.site for visit in county.visits] == [
        "north-eighty",
        "schoolhouse-quarter",
        "creek-bottom",
        "gravel-pit-forty",
        "cottonwood-sixty",
    ]
    for visit in county.visits:
        assert visit.pdf.read_bytes().startswith(b"%PDF-")
        assert visit.name in visit.html.read_text()
        assert visit.who.endswith(".")


def test_the_same_seed_makes_the_same_files_and_letters(county, tmp_path):
    again = demo.make(tmp_path / "again")
    for one, other in zip(county.visits, again.visits, strict=True):
        assert one.pdf.read_bytes() == other.pdf.read_bytes()
        assert one.html.read_bytes() == other.html.read_bytes()
    assert county.truth.read_bytes() == again.truth.read_bytes()


def test_another_seed_makes_another_truth(tmp_path):
    _, here = demo.write_files(tmp_path / "a", load(), seed=1)
    _, there = demo.write_files(tmp_path / "b", load(), seed=2)
    assert [story.truth for story in here] != [story.truth for story in there]


def test_the_stories_are_what_they_are_told_to_be(county):
    truth = json.loads(county.truth.read_text())
    facts = {}
    with Ledger.open(county.ledger) as book:
        from tepal.reading import read

        for visit in county.visits:
            facts[visit.site] = read(book, visit.site, as_of=visit.as_of).facts
    assert set(truth["north-eighty"]["by_taxon"]) == {"AMAPA"} and truth["north-eighty"]["plants"] < 20
    assert facts["north-eighty"]["flowering_seen"] is True
    assert facts["schoolhouse-quarter"]["reported_only"] is True
    assert facts["creek-bottom"]["waterway"] is True and truth["creek-bottom"]["up"] > 50_000
    assert set(truth["gravel-pit-forty"]["by_taxon"]) == {"AMARE"}
    assert facts["cottonwood-sixty"]["none_seen"] is True


def test_every_entry_that_was_made_is_a_good_entry(county):
    for path in sorted((county.ledger.parent / "files").glob("*.jsonl")):
        for number, line in enumerate(path.read_text().splitlines(), 1):
            entry_from_plain(json.loads(line), where=f"{path.name}, line {number}")


def test_the_made_world_uses_no_room_that_has_to_find_it_again():
    folder = Path(tepal.demo.__file__).parent
    worlds = sorted(folder.glob("_world_*.py"))
    assert len(worlds) > 5
    for path in worlds:
        for node in ast.walk(ast.parse(path.read_text())):
            names = [node.module] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for name in names:
                assert not (name or "").startswith(tuple(f"tepal.{room}" for room in HIDDEN)), (path.name, name)


def test_a_folder_with_other_things_in_it_is_left_alone(tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(Refused, match="in use"):
        demo.make(tmp_path)
    assert (tmp_path / "thesis.txt").read_text() == "years of work"

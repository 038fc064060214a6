"""The demo county: same seed, same bytes; it can be wrong; it leaves other people's folders alone."""

from __future__ import annotations

import ast
import io
import json
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

import tepal.demo
from tepal import demo
from tepal.demo._world_plants import cut_back, grow, height_cm, in_flower
from tepal.demo._world_weather import make_weather
from tepal.flora import load
from tepal.ledger import Ledger, entry_from_plain, file_report, trace
from tepal.tables import Refused

HIDDEN = {"plant", "leaf", "walk", "stand", "clock", "years", "reading", "advice", "letter", "ledger"}


@pytest.fixture(scope="module")
def county(tmp_path_factory):
    return demo.make(tmp_path_factory.mktemp("demo") / "larkmoor")


@pytest.fixture(scope="module")
def truth(county):
    return json.loads(county.truth.read_text())


@pytest.fixture(scope="module")
def readings(county):
    return {visit.site: visit.reading for visit in county.visits}


def test_eleven_sites_each_with_a_letter_that_a_person_can_open(county):
    assert [visit.site for visit in county.visits] == [
        "north-eighty",
        "schoolhouse-quarter",
        "creek-bottom",
        "gravel-pit-forty",
        "cottonwood-sixty",
        "roads-12-and-k",
        "windmill-quarter",
        "station-ditch",
        "elevator-wheat",
        "depot-yards",
        "sandhill-alfalfa",
    ]
    for visit in county.visits:
        assert visit.pdf.read_bytes().startswith(b"%PDF-")
        assert visit.name in visit.html.read_text()
        assert visit.who.endswith(".")
    for path in county.letters.glob("*.pdf"):
        assert len(PdfReader(path).pages) <= 2, path.name
    for path in county.letters.glob("*.txt"):
        text = path.read_text().strip()
        assert len(text) <= 480 and text.endswith("."), path.name


@pytest.mark.slow
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


def test_the_stories_are_what_they_are_told_to_be(truth, readings):
    facts = {site: reading.facts for site, reading in readings.items()}
    assert set(truth["north-eighty"]["by_taxon"]) == {"AMAPA"} and truth["north-eighty"]["plants"] < 20
    assert facts["north-eighty"]["flowering_seen"] is True
    assert facts["schoolhouse-quarter"]["reported_only"] is True
    assert facts["creek-bottom"]["waterway"] is True and truth["creek-bottom"]["up"] > 50_000
    assert set(truth["gravel-pit-forty"]["by_taxon"]) == {"AMARE"}
    assert facts["cottonwood-sixty"]["none_seen"] is True
    assert facts["station-ditch"]["ground"] == "ditch" and facts["station-ditch"]["mowed_days"] == 22
    assert facts["elevator-wheat"]["crop_kind"] == "small_grain" and facts["elevator-wheat"]["harvested_days"] == 21
    assert facts["depot-yards"]["ground"] == "feedlot"
    assert facts["sandhill-alfalfa"]["crop_kind"] == "forage"
    # The herbarium's answer came between: the county's first proof is told once.
    assert facts["north-eighty"]["first_find.AMAPA"] is True
    assert facts["sandhill-alfalfa"]["first_find.AMAPA"] is False


def test_a_texted_photo_is_a_place_without_a_boundary_and_ends_in_a_text(county, readings):
    reading, visit = readings["roads-12-and-k"], _visit(county, "roads-12-and-k")
    assert reading.place.boundary is None and reading.place.point is not None
    assert reading.facts["reported_only"] is True and reading.facts["named_plants"] == 2
    for asked in ("the whole plant", "the upper stem", "petiole) folded"):
        assert asked in visit.sent_back
    assert "Waterhemp at Roads 12 and K" in visit.text and "by the photos" in visit.text
    assert "three photo" not in visit.text  # they have come
    assert (county.letters / "roads-12-and-k-2026-06-15-sent-back.txt").read_text().strip() == visit.sent_back


def test_the_photos_know_where_they_were_taken_and_the_link_says_the_same(county, tmp_path):
    """Filed anew by the road that an office takes, the same text and photos give the same point."""
    files = county.ledger.parent / "files"
    entries = [json.loads(line) for line in (files / "roads-12-and-k.jsonl").read_text().splitlines()]
    report = next(entry["body"] for entry in entries if entry["kind"] == "report")
    photo = files / f"{report['photos'][0]}.jpg"
    with Ledger.open(tmp_path / "new.ledger", create=True) as book:
        by_photo = file_report(book, how="text", words=report["words"], photos=[photo], on=date(2026, 6, 15))
        by_link = file_report(book, how="text", words=report["words"], place=report["place"]["words"])
    assert by_photo.photos == tuple(report["photos"]) and by_photo.point_from == "photo"
    taken = next(entry["body"]["at"] for entry in entries if entry["kind"] == "photo")
    assert by_photo.report.body.place.point == pytest.approx(taken, abs=1e-5)
    assert by_link.report.body.place.point == pytest.approx(report["place"]["point"], abs=1e-5)


def test_owner_and_tenant_each_read_their_own_and_nothing_about_the_other(county):
    visit = _visit(county, "windmill-quarter")
    owner = next(path for path in visit.others if path.name.endswith("owner.pdf"))
    told = {"owner": _words(owner), "tenant": _words(visit.pdf)}
    assert "What it costs to wait" in told["owner"] and "What it costs to wait" not in told["tenant"]
    assert "S-metolachlor" in visit.html.read_text()
    assert "S-metolachlor" not in told["owner"] and "S-metolachlor" not in owner.with_suffix(".html").read_text()
    for text in told.values():
        assert "out of state" not in text and "cooperative" not in text


def test_leave_to_enter_came_from_the_owner_alone(county, readings):
    with Ledger.open(county.ledger) as book:
        parties = book.standing("windmill-quarter", date(2026, 7, 14)).of("party")
    asked = {entry.body.name: entry.body.consent_to_enter for entry in parties}
    assert [name for name, yes in asked.items() if yes] == ["The owner of Windmill Quarter, out of state"]
    assert readings["windmill-quarter"].facts["consent"] is True and not readings["windmill-quarter"].warnings


def test_what_the_blade_took_flowers_again_later_and_was_seen_so(county):
    weather_rng, rng = np.random.default_rng(7).spawn(2)
    weather = make_weather(weather_rng, first_year=2025, last_year=2026)
    plants = grow(rng, weather, "AMATU", np.zeros((400, 2)), year=2026)
    day = date(2026, 7, 7)
    after = cut_back(rng, weather, plants, day, blade_cm=20, shade=0.45)
    assert len(after) == len(plants)
    for before, plant in zip(plants, after, strict=True):
        assert height_cm(plant, weather, day) <= 20 or plant.cut_on is None
        if plant.again is not None:
            assert not in_flower(plant, day) and plant.again > day
            # What had come before the blade has come.
            assert plant.flowers == before.flowers if before.flowers < day else plant.flowers == plant.again
        assert plant.viable_seed >= before.viable_seed or before.viable_seed >= day


def test_the_hay_is_followed_from_the_alfalfa_and_back_to_it(county, truth):
    """The paths that seed truly took are among those told, and the load from before the hay came is not."""
    with Ledger.open(county.ledger) as book:
        gone = trace(book, "sandhill-alfalfa", first=date.fromisoformat(truth["sandhill-alfalfa"]["from"]))
        came = trace(book, "north-eighty", back=True, last=date(2026, 8, 12))
        fed = trace(book, "depot-yards", back=True, last=date(2026, 8, 28))
    reached = {one.place: one for one in gone.reached}
    assert set(truth["sandhill-alfalfa"]["seed_went_to"]) <= set(reached)
    assert [hop.on for hop in reached["north-eighty"].path] == [date(2025, 9, 12), date(2026, 4, 8)]
    assert not reached["a horse pasture over the county line"].is_site
    assert [one.place for one in came.reached] == ["depot-yards", "sandhill-alfalfa"]
    assert {one.place for one in fed.reached} == set(truth["depot-yards"]["seed_came_from"])
    assert "cottonwood-sixty" not in reached


def test_no_letter_says_where_the_hay_went_or_came_from(county):
    names = {visit.site: visit.name for visit in county.visits}
    for path in county.letters.iterdir():
        text = _words(path) if path.suffix == ".pdf" else path.read_text()
        site = next(site for site in names if path.name.startswith(site))
        for other, name in names.items():
            assert other == site or name not in text, (path.name, name)


def _visit(county, site):
    return next(visit for visit in county.visits if visit.site == site)


def _words(path):
    pages = PdfReader(io.BytesIO(path.read_bytes())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


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

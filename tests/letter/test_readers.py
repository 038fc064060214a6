"""A letter by reader: each gets what is his, and nothing about others."""

from __future__ import annotations

import io
from datetime import date

import pytest
from pypdf import PdfReader

from _books import book, palmer, said, site
from tepal import advice as advising
from tepal import letter as letters
from tepal import reading as readings
from tepal.flora import load
from tepal.words import Words

DAY = date(2026, 8, 1)
FLORA = load()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """All four letters about one field, and the reading behind them."""
    folder = tmp_path_factory.mktemp("readers")
    entries = (
        site(),
        said(
            "crop",
            {"year": 2026, "crop": "soybean", "planted": "2026-05-12", "traits": ["glyphosate"], "row_cm": 76},
            on="2026-05-12",
        ),
        said("party", {"name": "Absent Owner Trust", "roles": ["owner"], "contact": "555 0100"}, on="2026-05-01"),
        said("party", {"name": "Hired Sprayer Inc", "roles": ["sprays"]}, on="2026-05-01"),
        palmer(),
        said(
            "done",
            {
                "what": "sprayed", "ingredients": [{"name": "glyphosate", "rate": 0.9, "unit": "kg/ha"}],
                "tallest_cm": 18.0, "nozzle": "coarse flat fan", "survivors": True,
                "re_entry_until": "2026-08-02T09:00:00-05:00", "pre_harvest_until": "2026-08-20",
            },
            on="2026-07-31",
        ),
    )  # fmt: skip
    with book(folder, *entries) as ledger:
        reading = readings.read(ledger, "west", as_of=DAY, flora=FLORA)
        advice = advising.advise(reading, flora=FLORA)
        standing = ledger.standing("west", DAY).entries
        made = {
            reader: letters.write(
                reading, advice, entries=standing, flora=FLORA, words=Words(), reader=reader, to="The reader",
                signer=letters.Signer("A Signer", "agent"),
            )
            for reader in letters.READERS
        }  # fmt: skip
    return reading, made


def text(letter) -> str:
    pages = PdfReader(io.BytesIO(letter.pdf)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("reader", letters.READERS)
def test_every_letter_has_two_pages_at_most_and_names_only_its_signer_and_its_reader(written, reader):
    _, made = written
    pages = PdfReader(io.BytesIO(made[reader].pdf)).pages
    assert len(pages) <= 2
    for whole in (text(made[reader]), made[reader].html, made[reader].text):
        assert "Absent Owner" not in whole
        assert "555 0100" not in whole
        assert "Hired Sprayer" not in whole
    assert "A Signer" in text(made[reader])
    assert "The label is the law" in text(made[reader])
    assert len(made[reader].text) <= 480


def test_the_applicator_reads_height_what_failed_the_trait_and_why_not_to_spray(written):
    _, made = written
    told = text(made["applicator"])
    for words in ("Tallest plant when last seen: 3.9 ft", "coarse flat fan", "glyphosate 0.9 kg/ha (group 9)",
                  "tallest then 7 in", "Do not count on group 9: plants lived through it here",
                  "Herbicide traits of the seed: glyphosate", "Plants over 4 in live through sprays",
                  "Do not send anyone in before"):  # fmt: skip
        assert words in told, words
    assert "What it costs to wait" not in told
    assert "Pull every" not in told


def test_the_owner_reads_what_waiting_costs_and_who_does_what(written):
    _, made = written
    told = text(made["owner"])
    assert "What it costs to wait" in told
    assert "Who does what" in told
    assert "Step 1:" in told
    # What went into the tank is the applicator's and the tenant's.
    assert "coarse flat fan" not in told


def test_the_harvester_reads_the_order_and_the_waiting_time_and_nothing_of_what_was_sprayed(written):
    _, made = written
    told = text(made["harvester"])
    assert "no harvest before Thursday, August 20" in told
    assert "this place last" in told or "Harvest this field last" in told
    for words in ("glyphosate", "group 9", "traits", "Sources"):
        assert words not in told, words


def test_a_step_that_sends_people_in_says_until_when_the_label_keeps_them_out(written):
    reading, made = written
    assert reading.facts["re_entry_open"] is True
    assert "Nobody goes in before 9:00 a.m. on Sunday, August 2 (UTC-05:00)." in text(made["tenant"])


def test_the_advice_of_a_reader_is_a_part_of_the_whole_in_the_same_order(written):
    reading, _ = written
    whole = advising.advise(reading, flora=FLORA)
    order = [item.id for item in (*whole.actions, *whole.later)]
    for reader in advising.READERS:
        mine = advising.for_reader(whole, reader, flora=FLORA)
        ids = [item.id for item in (*mine.actions, *mine.later)]
        assert ids == [name for name in order if name in ids]
        assert all(reader in item.readers for item in mine.items())
        keys = {key for item in mine.actions + mine.do_nots for key in item.cautions}
        shown = advising.rules_for(FLORA).shown(keys, whole.facts)
        assert [caution.key for caution in mine.cautions] == [row.key for row in shown]


def test_a_letter_of_another_reader_has_its_own_name_and_says_in_the_record_whose_it_was(written, tmp_path):
    reading, made = written
    pdf, page = letters.save(made["owner"], tmp_path, "west", DAY, reader="owner")
    assert (pdf.name, page.name) == ("west-2026-08-01-owner.pdf", "west-2026-08-01-owner.html")
    kept = letters.entry_of(made["owner"], reading, signed_by="A Signer", reader="owner")
    assert kept.body.reader == "owner"


def test_the_command_writes_the_readers_letter_with_the_offices_own_law(tmp_path, capsys):
    from tepal.cli.letter import letter

    law = tmp_path / "office.csv"
    law.write_text("state,code,listed,class,tell,checked\nZZ,AMAPA,yes,bad weed,the weed board,2026-03-02\n", "utf-8")
    with book(tmp_path, site(state="ZZ"), palmer()):
        pass
    given = {"ledger": str(tmp_path / "t.ledger"), "as_of": DAY.isoformat(), "out": tmp_path, "json_output": True}
    assert letter("west", reader="owner", law=law, **given) == 0
    assert '"pdf":' in capsys.readouterr().out
    told = " ".join(page.extract_text() for page in PdfReader(tmp_path / f"west-{DAY}-owner.pdf").pages)
    told = " ".join(told.split())
    assert "Call the weed board" in told
    assert "The state lists Palmer amaranth (bad weed)" in told

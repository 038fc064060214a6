"""A re-entry time is read by the clock on the wall: the zone is said, and nobody is sent in too early."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from _books import book, said, site
from tepal import advice as advising
from tepal import reading as readings
from tepal.flora import load
from tepal.ledger import LATEST_ZONE
from tepal.reading._zone import local
from tepal.words import Words

UNTIL = datetime(2026, 6, 11, 20, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("state", "clock", "name"),
    [("IA", 15, "CDT"), ("OH", 16, "EDT"), ("ND", 15, "CDT"), ("AZ", 13, "MST"), ("IN", 16, "EDT"), ("OR", 14, "MDT")],
)
def test_the_state_gives_the_clock_and_its_name(state, clock, name):
    # Offsets of June from the published rules of daylight saving, not from the table.
    found = local(UNTIL, state=state, longitude=None)
    assert (found.hour, found.tzname()) == (clock, name) and found == UNTIL


@pytest.mark.parametrize(
    ("longitude", "legal"),
    # Towns and their legal summer time: Eastport, Cleveland, Ontonagon, Des Moines, Dickinson, Denver, Portland.
    [(-67.0, -4), (-81.7, -4), (-89.3, -4), (-93.6, -5), (-102.8, -6), (-105.0, -6), (-122.7, -7)],
)
def test_the_longitude_never_sends_anybody_in_too_early(longitude, legal):
    found = local(UNTIL, state=None, longitude=longitude)
    assert found == UNTIL
    on_the_wall = UNTIL.astimezone(timezone(timedelta(hours=legal)))
    assert timedelta(0) <= found.replace(tzinfo=None) - on_the_wall.replace(tzinfo=None) <= timedelta(hours=3)


def test_an_hour_told_without_a_zone_stays_as_it_was_told():
    told = datetime(2026, 6, 11, 12, 0, tzinfo=LATEST_ZONE)
    assert local(told, state="IA", longitude=-93.0) is told
    assert local(UNTIL, state=None, longitude=None).tzname() == "UTC"


def test_the_sentence_says_whose_clock(tmp_path):
    spray = said("done", {"what": "sprayed", "re_entry_until": "2026-06-11T20:00:00Z"}, on="2026-06-10")
    flora = load()
    for folder, state, words in (("a", "IA", "3:00 p.m. on Thursday, June 11 (CDT)"), ("b", None, "(by longitude)")):
        with book(tmp_path / folder, site(state=state), spray) as ledger:
            found = readings.read(ledger, "west", as_of=date(2026, 6, 11), flora=flora)
        assert found.facts["re_entry_open"] is True
        (item,) = [i for i in advising.advise(found, flora=flora).do_nots if i.id == "no_entry_yet"]
        assert words in item.text(Words())

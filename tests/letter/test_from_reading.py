"""A letter made from a ledger: it says what the reading says, and nothing about other people."""

from __future__ import annotations

import pytest

from _books import AS_OF, book, lonlat, palmer, said, site, stop
from tepal import advice as advising
from tepal import letter as letters
from tepal import reading as readings
from tepal.flora import load
from tepal.letter._from_reading import letter_data
from tepal.words import Words

WALK = {
    "track": {"type": "LineString", "coordinates": [lonlat(-190, 0), lonlat(190, 0)]},
    "sigma_m": 5.0,
    "found": 0,
    "looked_for": ["AMAPA", "AMATU"],
}


def _written(ledger, **more):
    flora = load()
    found = readings.read(ledger, "west", as_of=AS_OF, flora=flora)
    advice = advising.advise(found, flora=flora)
    entries = ledger.standing("west", AS_OF, found.known_to).entries
    data = letter_data(found, advice, entries=entries, flora=flora)
    return found, data, letters.write(found, advice, entries=entries, flora=flora, words=Words(), **more)


def test_the_letter_names_the_plants_as_surely_as_the_reading(tmp_path):
    with book(tmp_path, site(), palmer(), palmer(at=lonlat(30, 0)), stop(3)) as ledger:
        found, data, letter = _written(ledger)
    named = {plant.code: plant for plant in data.plants}
    assert named["AMAPA"].p_any == found.taxa["AMAPA"].p_seen
    assert data.count is not None and data.count.q50 == found.stand.total["q50"]
    assert "Palmer amaranth" in letter.text and len(letter.text) <= 480
    assert data.first_find


def test_no_chance_from_a_default_prior_stands_in_a_letter(tmp_path):
    with book(tmp_path, site(), said("walk", WALK)) as ledger:
        _, data, letter = _written(ledger)
    assert data.looks.seen == "none" and data.looks.p_missed is None
    assert data.count is None
    assert "That leaves" not in letter.html and "That leaves" not in letter.text
    # The walk's own share may be told: it rests on the track and the width of sight alone.
    assert data.looks.seen_share is not None
    assert data.looks.walked_m == pytest.approx(380, rel=0.01)


def test_other_sites_people_and_telephone_numbers_stay_in_the_ledger(tmp_path):
    other = said("site", {"name": "Secret Bottom", "ground": "field", "region": "CB"}, site="east", on="2026-04-01")
    owner = said(
        "party",
        {"name": "Imogen Absent", "roles": ["owner"], "contact": "555-0173", "consent_to_enter": True},
        on="2026-04-02",
    )
    caller = said("report", {"who": "Ned Neighbor", "how": "call", "words": "Saw it from my combine"})
    with book(tmp_path, site(), other, owner, caller, palmer()) as ledger:
        _, _, letter = _written(ledger)
    for secret in ("Secret Bottom", "Imogen", "555-0173", "Neighbor", "from my combine"):
        assert secret not in letter.html and secret not in letter.text


def test_finds_and_stops_lie_where_they_were_seen(tmp_path):
    with book(tmp_path, site(), palmer(at=lonlat(30, -20)), stop(3, 100, 50)) as ledger:
        _, data, _ = _written(ledger)
    assert (data.map.finds[0].x, data.map.finds[0].y) == pytest.approx((30, -20), abs=0.1)
    assert (data.map.stops[0].x, data.map.stops[0].y, data.map.stops[0].count) == pytest.approx((100, 50, 3), abs=0.1)
    assert data.map.boundary.area == pytest.approx(160_000, rel=1e-3)


def test_a_site_known_by_words_only_still_gets_a_letter(tmp_path):
    with book(tmp_path, site(boundary=None), said("report", {"how": "text", "words": "tall pigweeds"})) as ledger:
        _, data, letter = _written(ledger)
    assert data.map.empty and data.looks.seen == "report"
    assert letter.pdf.startswith(b"%PDF")


def test_saved_under_a_name_that_cannot_leave_the_folder(tmp_path):
    with book(tmp_path, site(), palmer()) as ledger:
        _, _, letter = _written(ledger)
    pdf, page = letters.save(letter, tmp_path / "out", "../../etc/passwd", AS_OF)
    assert pdf.parent == page.parent == tmp_path / "out"
    assert pdf.name == "etc-passwd-2026-07-01.pdf"
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [page.name, pdf.name]


@pytest.mark.parametrize(("crop", "organic"), [("organic soybean", True), ("soybean", False)])
def test_what_an_organic_crop_closes_is_told_to_the_letter(tmp_path, crop, organic):
    planted = said("crop", {"year": 2026, "crop": crop, "planted": "2026-05-12"}, on="2026-05-13")
    with book(tmp_path, site(), planted, palmer()) as ledger:
        _, data, _ = _written(ledger)
    assert data.organic is organic

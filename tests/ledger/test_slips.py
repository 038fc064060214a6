"""A misspelled site, a place of another site, coordinates swapped; thousands of lines told once."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tepal.cli import main
from tepal.cli.take import _vocabulary
from tepal.ledger import Defaults, Ledger, Taken, entry, take
from tepal.ledger._spelling import nearly_same
from tepal.ledger.formats import grouped
from tepal.tables import Refused, Where

TODAY = date(2026, 9, 1)
HEAD = "date,site,lon,lat,area_m2,count\n"


def _square(lon: float, lat: float, side: float = 0.01) -> dict[str, Any]:
    ring = [[lon, lat], [lon + side, lat], [lon + side, lat + side], [lon, lat + side], [lon, lat]]
    return {"type": "Polygon", "coordinates": [ring]}


@pytest.fixture
def where(tmp_path: Path) -> Path:
    """A county with a field, a bottom 20 km north of it, and a pit of which a point is known."""
    sites = (
        ("north-eighty", {"name": "North Eighty", "boundary": _square(-98.0, 40.0)}),
        ("creek-bottom", {"name": "Creek Bottom", "boundary": _square(-98.0, 40.2)}),
        ("gravel", {"name": "Gravel Pit Forty", "point": [-98.2, 40.0]}),
    )
    with Ledger.open(tmp_path / "county.ledger", create=True) as ledger:
        ledger.add([entry("site", {"ground": "field", **body}, by="office", site=id) for id, body in sites])
    return tmp_path / "county.ledger"


def _take(where: Path, name: str, text: str, *, insist: bool = False, **more: Any) -> Taken:
    path = where.parent / name
    path.write_text(text, encoding="utf-8")
    defaults = Defaults(today=TODAY, by="scout", **more)
    return take([path], where, defaults=defaults, words=_vocabulary(), insist=insist)


# By hand, from what people type and from what neighbors call their fields.
@pytest.mark.parametrize(
    ("one", "two", "same"),
    [
        ("North Eighty", "Nroth Eighty", True),
        ("North Eighty", "north eigthy", True),
        ("Creek Bottom", "Creekbottom", True),
        ("Creek Bottom", "Creek Botom", True),
        ("Gravel Pit Forty", "Gravel Pitt Fourty", True),
        ("Schoolhouse Quarter", "School House Quater", True),
        ("North Eighty", "South Eighty", False),
        ("East Eighty", "West Eighty", False),
        ("North Sixty", "North Fifty", False),
        ("Field 12", "Field 13", False),
        ("Home A", "Home B", False),
        ("Upper Bottom", "Lower Bottom", False),
        ("a", "b", False),
        ("Creek Bottom", "Gravel Pit Forty", False),
    ],
)
def test_slips_are_told_from_names(one: str, two: str, same: bool) -> None:
    assert nearly_same(one, two) is same
    assert nearly_same(two, one) is same


@given(st.text("abcdefgh ", min_size=8, max_size=20).filter(lambda t: len(t.replace(" ", "")) >= 8), st.data())
def test_two_neighboring_letters_swapped_are_always_a_slip(name: str, data: st.DataObject) -> None:
    words = name.split()
    long = [n for n, word in enumerate(words) if len(word) > 1]
    if any(len(word) == 1 for word in words) or not long:
        return
    n = data.draw(st.sampled_from(long))
    at = data.draw(st.integers(0, len(words[n]) - 2))
    word = words[n]
    words[n] = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    assert nearly_same(name, " ".join(words))


def test_a_misspelled_site_is_refused_and_can_be_insisted_on(where: Path) -> None:
    rows = "2026-06-14,Nroth Eighty,,,1,3\n2026-06-14,north_eighty,,,1,4\n2026-06-14,Nroth Eighty,,,1,5\n"
    found = _take(where, "a.csv", HEAD + rows)
    assert (found.added, [one.where.line for one in found.refused]) == (1, [2, 4])
    assert "Did you mean 'North Eighty'?" in found.refused[0].step and "--insist" in found.refused[0].step
    with Ledger.open(where) as ledger:
        assert ledger.site_ids() == ["creek-bottom", "gravel", "north-eighty"]
    assert _take(where, "a.csv", HEAD + rows, insist=True).added == 2
    with Ledger.open(where) as ledger:
        assert "Nroth Eighty" in ledger.site_ids()
    # Insisted on once, it is a site like any other.
    assert _take(where, "b.csv", HEAD + "2026-06-15,Nroth Eighty,,,1,6\n").refused == ()


def test_two_spellings_in_one_file_are_noticed(tmp_path: Path) -> None:
    rows = "2026-06-14,Schoolhouse Quarter,,,1,3\n2026-06-14,Schoolhouse Quater,,,1,4\n"
    found = _take(tmp_path / "new.ledger", "a.csv", HEAD + rows)
    assert (found.added, [one.where.line for one in found.refused]) == (1, [3])


def test_a_misspelled_site_of_a_photo_or_a_boundary_is_refused(where: Path, tmp_path: Path) -> None:
    drawn = json.dumps(_square(-98.0, 40.0))
    (refused,) = _take(where, "x.geojson", drawn, site="Creek Botom").refused
    assert "nearly 'Creek Bottom'" in refused.what
    from ledger.pictures import picture

    photo = tmp_path / "a.jpg"
    photo.write_bytes(picture(1))
    found = take([photo], where, defaults=Defaults(site="Creek Botom", by="scout"))
    assert found.added == 0 and "nearly 'Creek Bottom'" in found.refused[0].what


@pytest.mark.parametrize(
    ("site", "lon", "lat", "said"),
    [
        # 20 km north is Creek Bottom.
        ("North Eighty", -97.995, 40.205, "It lies in 'Creek Bottom'"),
        ("North Eighty", 97.995, 40.005, "lost its minus sign"),
        ("North Eighty", 40.005, -97.995, None),  # no latitude at all: refused before that
        ("North Eighty", -97.995, -40.005, "sign too many"),
        ("North Eighty", -95.0, 41.0, "right site"),
        ("Gravel Pit Forty", -98.3, 40.0, "right site"),
    ],
)
def test_a_stop_far_from_its_site_is_refused_with_what_may_have_happened(
    where: Path, site: str, lon: float, lat: float, said: str | None
) -> None:
    row = HEAD + f"2026-06-14,{site},{lon},{lat},1,3\n"
    found = _take(where, "a.csv", row)
    (refused,) = found.refused
    assert found.added == 0 and refused.where.line == 2
    if said is None:
        assert "40.005" in str(refused) or "-97.995" in str(refused)
        return
    assert said in refused.step and "km from" in refused.what and "--insist" in refused.step
    taken = _take(where, "a.csv", row, insist=True)
    assert taken.added == 1 and "km from" in taken.noticed[0]


def test_longitude_and_latitude_swapped_in_the_south_are_seen(tmp_path: Path) -> None:
    # Where both numbers could be a latitude, only the boundary tells.
    where = tmp_path / "l"
    with Ledger.open(where, create=True) as ledger:
        body = {"name": "A", "ground": "field", "boundary": _square(20.0, 40.0)}
        ledger.add([entry("site", body, by="o", site="a")])
    (refused,) = _take(where, "a.csv", HEAD + "2026-06-14,a,40.005,20.005,1,3\n").refused
    assert "swapped" in refused.step


@pytest.mark.parametrize(
    ("km", "taken"), [(0.0, True), (1.9, True), (3.2, True), (3.6, False)]
)  # a field of 1.11 km by 0.85 km: three times its extent is 3.33 km
def test_near_the_boundary_is_near_enough(where: Path, km: float, taken: bool) -> None:
    lat = 40.0 - km / 111.03  # a degree of latitude at 40° N
    found = _take(where, "a.csv", HEAD + f"2026-06-14,North Eighty,-97.995,{lat:.6f},1,3\n")
    assert (found.added == 1) is taken
    if not taken:
        assert f"{km:.1f} km" in found.refused[0].what


def test_a_walk_counts_as_near_where_any_of_it_is(where: Path) -> None:
    from ledger import broken

    def track(*places: tuple[float, float]) -> str:
        points = "".join(
            f'<trkpt lon="{lon}" lat="{lat}"><time>2026-06-14T13:00:00Z</time></trkpt>' for lon, lat in places
        )
        return broken.gpx(f"<trk><name>North Eighty</name><trkseg>{points}</trkseg></trk>").decode()

    # The receiver was switched on in town.
    assert _take(where, "a.gpx", track((-97.5, 40.0), (-97.995, 40.005))).added == 1
    (refused,) = _take(where, "b.gpx", track((-97.5, 40.0), (-97.6, 40.005))).refused
    assert refused.what.startswith("the walk lies")


def test_a_boundary_does_not_move_to_another_place(where: Path) -> None:
    (refused,) = _take(where, "x.geojson", json.dumps(_square(-98.0, 40.2)), site="North Eighty").refused
    assert "does not move" in refused.rule
    assert _take(where, "y.geojson", json.dumps(_square(-98.001, 40.0, 0.012)), site="North Eighty").added == 1
    assert _take(where, "x.geojson", json.dumps(_square(-98.0, 40.2)), site="North Eighty", insist=True).added == 1


def test_entries_of_a_device_are_taken_and_told(where: Path) -> None:
    body = {"at": [-95.0, 41.0], "counts": [], "on": "2026-06-14"}
    made = entry("stop", body, by="scout", site="north-eighty", made_at="2026-06-14T12:00:00Z")
    found = _take(where, "a.jsonl", made.text())
    assert (found.added, found.refused) == (1, ()) and "km from" in found.noticed[0]
    assert _take(where, "a.jsonl", made.text()).noticed == ()


def test_thousands_of_lines_with_one_fault_are_told_once(
    where: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = [f"2026-06-14,North Eighty,-97.995,40.005,1,{-1 - n % 900}\n" for n in range(4000)]
    rows += ["2026-06-14,North Eighty,-97.995,40.005,1,2\n", "soon,North Eighty,-97.995,40.005,1,2\n"]
    path = tmp_path / "a.csv"
    path.write_text(HEAD + "".join(rows))
    assert main(["take", str(path), "--ledger", str(where), "--json"]) == 1
    shown = capsys.readouterr()
    told = json.loads(shown.out)
    assert (told["added"], told["already"], len(told["refused"])) == (1, 0, 2)
    first, second = told["refused"]
    assert (first["count"], first["lines"], first["line"], first["field"]) == (4000, "2-4001", 2, "count")
    assert first["rule"] and first["step"] and "-1" in first["what"]
    assert (second["line"], "count" in second) == (4003, False)
    assert len(shown.out) < 3_000 and shown.err.count("\n") == 2
    assert "4,000 times, on lines 2-4001, as on line 2" in shown.err


@given(
    st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(["x", "y"]), st.integers(-9, 9)), max_size=60),
    st.integers(0, 5),
)
def test_no_refusal_is_lost_in_grouping(said: list[tuple[str, str, int]], few: int) -> None:
    refusals = [
        Refused(f"{column} is {value}", where=Where(f"{file}.csv", n, column), rule="R.", step="S.")
        for n, (file, column, value) in enumerate(said, start=1)
    ]
    found = grouped(refusals, few=few)
    assert sum(one.count for one in found) == len(refusals)
    lines = [set(_lines(one.lines)) if one.count > 1 or one.lines else {one.first.where.line} for one in found]
    assert set().union(*lines) == {one.where.line for one in refusals} and sum(map(len, lines)) == len(refusals)
    assert [one.first for one in found] == sorted((one.first for one in found), key=lambda r: r.where.line or 0)


def _lines(text: str) -> list[int]:
    ends = [part.split("-") for part in text.split(", ")]
    return [line for end in ends for line in range(int(end[0]), int(end[-1]) + 1)]

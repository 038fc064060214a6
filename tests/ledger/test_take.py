"""Taking files in: good lines go in, bad ones are named, twice adds nothing, and a broken run leaves nothing."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from ledger.pictures import picture
from tepal.ledger import Defaults, Ledger, LookForm, Taken, Vocabulary, entry, take
from tepal.tables import Refused

WORDS = Vocabulary(
    taxa={"amapa": "AMAPA", "palmer amaranth": "AMAPA", "palmer": "AMAPA", "amatu": "AMATU", "waterhemp": "AMATU"},
    looks={
        "leaf_tip_notch": LookForm("leaf_tip_notch", ("none", "shallow", "deep")),
        "watermark": LookForm("watermark", ("present", "absent")),
        "petiole_blade_ratio_lower": LookForm("petiole_blade_ratio_lower", (), "ratio"),
        "petiole_length": LookForm("petiole_length", (), "cm"),
    },
)
TODAY = date(2026, 9, 1)


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def take_in(where: Path, *paths: Path, **more: object) -> Taken:
    given = {"today": TODAY, "by": "scout", **more}
    return take(paths, where, defaults=Defaults(**given), words=WORDS)  # type: ignore[arg-type]


def bodies(where: Path) -> list[dict]:
    with Ledger.open(where) as ledger:
        return [e.plain() | {"seq": e.seq} for e in ledger.entries()]


@pytest.fixture
def where(tmp_path: Path) -> Path:
    return tmp_path / "county.ledger"


STOPS = """Date,Site,Lon,Lat,row ft,row width (in),Weed,Count,Tallest (in),Notes
2026-06-14,North Eighty,-98.1,40.2,30,30,Palmer amaranth,4,3,by the gate
2026-06-14,North Eighty,-98.11,40.21,30,30,pigweed,0,,
"""


def test_stops_are_read_in_our_units_and_taking_them_twice_adds_nothing(where: Path, tmp_path: Path) -> None:
    file = write(tmp_path, "stops.csv", STOPS)
    first = take_in(where, file)
    assert (first.added, first.already, first.refused) == (2, 0, ())
    assert "column 'row ft' read as row length in feet" in first.understood[0].notes
    one, two = bodies(where)
    assert one["site"] == "North Eighty"
    assert one["by"] == "scout"
    assert one["body"] == {
        "on": "2026-06-14",
        "at": [-98.1, 40.2],
        "row_m": 9.144,
        "row_cm": 76.2,
        "counts": [{"taxon": "AMAPA", "size": "unknown", "count": 4, "tallest_cm": 7.62}],
        "by_sight": False,
        "words": "by the gate",
    }
    assert two["body"]["counts"] == [{"taxon": "pigweed", "size": "unknown", "count": 0}]
    assert one["id"][14] == "8"
    again = take_in(where, file, by="someone else")
    assert (again.added, again.already, again.refused) == (0, 2, ())
    assert bodies(where) == [one, two]


def test_the_same_rows_under_other_headers_and_units_are_the_same_entries(where: Path, tmp_path: Path) -> None:
    take_in(where, write(tmp_path, "a.csv", STOPS))
    metric = (
        "site;date;latitude;longitude;row_m;row_cm;taxon;count;tallest_cm;words\n"
        "North Eighty;2026-06-14;40.2;-98.1;9.144;76.2;AMAPA;4;7.62;by the gate\n"
    )
    assert take_in(where, write(tmp_path, "b.csv", metric)).already == 1


def test_equal_rows_of_one_file_are_entries_of_their_own(where: Path, tmp_path: Path) -> None:
    row = "2026-06-14,a,-98.1,40.2,1,pigweed,3\n"
    file = write(tmp_path, "s.csv", "date,site,lon,lat,area_m2,taxon,count\n" + row * 3)
    assert take_in(where, file).added == 3
    assert take_in(where, file).already == 3
    assert len({e["id"] for e in bodies(where)}) == 3


def test_one_column_a_taxon_is_one_stop_with_several_counts(where: Path, tmp_path: Path) -> None:
    file = write(
        tmp_path, "s.csv", "date,site,lon,lat,area_m2,AMAPA,waterhemp count,pigweeds\n2026-06-14,a,-98,40,1,2,0,\n"
    )
    assert take_in(where, file).added == 1
    assert bodies(where)[0]["body"]["counts"] == [
        {"taxon": "AMAPA", "size": "unknown", "count": 2},
        {"taxon": "AMATU", "size": "unknown", "count": 0},
    ]


def test_rows_with_one_stop_label_are_one_stop_and_one_bad_row_refuses_it(where: Path, tmp_path: Path) -> None:
    text = (
        "date,site,stop,lon,lat,area_m2,taxon,size,count\n"
        "2026-06-14,a,1,-98,40,1,AMAPA,under 10 cm,2\n"
        "2026-06-14,a,1,-98,40,1,AMATU,10-30 cm,5\n"
        "2026-06-14,a,2,-98,40,1,AMAPA,seedling,2\n"
        "2026-06-14,a,2,-98,40,1,AMATU,seedling,-5\n"
        "2026-06-14,a,3,-98,40,1,AMAPA,seedling,2\n"
        "2026-06-14,a,3,-97,40,1,AMATU,seedling,5\n"
    )
    found = take_in(where, write(tmp_path, "s.csv", text))
    assert found.added == 1
    assert [one.where.line for one in found.refused] == [5, 7]
    assert [c["size"] for c in bodies(where)[0]["body"]["counts"]] == ["under_10_cm", "10_30_cm"]


def test_plants_with_looks_are_read(where: Path, tmp_path: Path) -> None:
    text = (
        "date,site,stage,height (in),leaf tip notch,watermark,petiole_blade_ratio_lower,petiole length (in),in flower\n"
        "2026-06-15,a,Vegetative,8,Shallow,no,1.2;1.4,2,no\n"
        "2026-06-15,a,seedling,,cannot tell,,,,\n"
    )
    found = take_in(where, write(tmp_path, "p.csv", text))
    assert (found.added, found.refused) == (2, ())
    one, two = (e["body"] for e in bodies(where))
    assert one["looks"] == {
        "leaf_tip_notch": "shallow",
        "watermark": "absent",
        "petiole_blade_ratio_lower": [1.2, 1.4],
        "petiole_length": 5.08,
    }
    assert (one["stage"], one["height_cm"], one["flowering"]) == ("vegetative", 20.32, False)
    assert (two["stage"], two["looks"]) == ("seedling_2-4_leaf", {"leaf_tip_notch": "cannot_tell"})
    assert "flowering" not in two


def test_treatments_are_read(where: Path, tmp_path: Path) -> None:
    text = (
        "date,field,what,active ingredient,group,volume (gal/ac),weed height (in),REI (hours),share,crew\n"
        "2026-06-20,a,Spraying,glufosinate + S-metolachlor,10;15,20,3,12,90%,2\n"
        "2026-08-20,a,hand pulled,,,,60,,,4\n"
    )
    found = take_in(where, write(tmp_path, "t.csv", text))
    assert (found.added, found.refused) == (2, ())
    sprayed, pulled = (e["body"] for e in bodies(where))
    assert sprayed["what"] == "sprayed"
    assert sprayed["ingredients"] == [{"name": "glufosinate", "group": "10"}, {"name": "S-metolachlor", "group": "15"}]
    assert sprayed["volume_l_ha"] == pytest.approx(187.079, abs=1e-3)
    assert (sprayed["tallest_cm"], sprayed["share"]) == (7.62, 0.9)
    # Twelve hours from the end of the day of spraying, read in the zone where that day ends last.
    assert sprayed["re_entry_until"] == "2026-06-21T12:00:00-10:00"
    assert (pulled["what"], pulled["people"], pulled["tallest_cm"]) == ("pulled", 4, 152.4)


SQUARE = {"type": "Polygon", "coordinates": [[[-98.1, 40], [-98, 40], [-98, 40.1], [-98.1, 40.1], [-98.1, 40]]]}
LARGER = {"type": "Polygon", "coordinates": [[[-98.1, 40], [-98, 40], [-98, 40.2], [-98.1, 40.2], [-98.1, 40]]]}


def feature(geometry: dict, **properties: object) -> dict:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def test_a_boundary_makes_a_site_and_a_new_one_amends_it(where: Path, tmp_path: Path) -> None:
    first = write(tmp_path, "creek_bottom.geojson", json.dumps(SQUARE))
    second = write(
        tmp_path, "redrawn.geojson", json.dumps(feature(LARGER, name="Creek Bottom", ground="ditch", state="NE"))
    )
    assert take_in(where, first).added == 1
    assert take_in(where, first).already == 1
    assert take_in(where, second).added == 1
    assert take_in(where, second).already == 1
    # The first file again does not undo the second.
    assert take_in(where, first).already == 1
    with Ledger.open(where) as ledger:
        (site,) = ledger.standing("creek_bottom").entries
        assert site.amends == ledger.entries()[0].id
        assert site.body.boundary["coordinates"][0][2] == [-98.0, 40.2]  # type: ignore[attr-defined]
        assert (site.body.name, site.body.ground, site.body.state) == ("Creek Bottom", "ditch", "NE")  # type: ignore[attr-defined]
        assert ledger.site_ids() == ["creek_bottom"]


def test_a_boundary_keeps_what_a_person_said_of_the_site(where: Path, tmp_path: Path) -> None:
    with Ledger.open(where, create=True) as ledger:
        body = {"name": "Creek Bottom", "ground": "drainage", "county": "Larkmoor", "region": "CB"}
        ledger.add([entry("site", body, by="office", site="cb")])
    assert take_in(where, write(tmp_path, "x.geojson", json.dumps(SQUARE)), site="Creek Bottom").added == 1
    with Ledger.open(where) as ledger:
        (site,) = ledger.standing("cb").entries
        assert (site.body.ground, site.body.region) == ("drainage", "CB")  # type: ignore[attr-defined]
        assert site.body.boundary is not None  # type: ignore[attr-defined]


def test_features_of_a_collection_are_sites_by_name_and_bad_ones_are_named(where: Path, tmp_path: Path) -> None:
    shapes = [feature(SQUARE, site="a"), feature({"type": "Point", "coordinates": [1, 200]}), feature(LARGER, name="b")]
    found = take_in(
        where, write(tmp_path, "all.geojson", json.dumps({"type": "FeatureCollection", "features": shapes}))
    )
    assert found.added == 2
    assert [one.where.column for one in found.refused] == ["feature 2"]
    with Ledger.open(where) as ledger:
        assert ledger.site_ids() == ["a", "b"]


def test_rows_find_their_site_whatever_its_signs(where: Path, tmp_path: Path) -> None:
    boundary = write(tmp_path, "north_eighty.geojson", json.dumps(SQUARE))
    take_in(where, write(tmp_path, "stops.csv", STOPS), boundary)
    with Ledger.open(where) as ledger:
        assert len(ledger.site_ids()) == 1


def test_weather_is_counted_in_days(where: Path, tmp_path: Path) -> None:
    file = write(
        tmp_path, "champion.csv", "date,tmin_c,tmax_c,prcp_mm,et0_mm\n2026-05-01,3,10,0,1\n2026-05-02,4,12,1,1\n"
    )
    first = take_in(where, file)
    assert (first.added, first.already) == (2, 0)
    assert "not used: 'et0_mm'" in first.understood[0].notes
    assert take_in(where, file).already == 2
    changed = write(tmp_path, "champion.csv", "date,tmin_c,tmax_c,prcp_mm\n2026-05-02,4,13,1\n2026-05-03,4,12,1\n")
    found = take_in(where, changed)
    assert (found.added, [one.where.line for one in found.refused]) == (1, [2])
    with Ledger.open(where) as ledger:
        assert ledger.stations() == ["champion"]
        assert ledger.weather().tmax_c.tolist() == [10, 12, 12]
    assert take([changed], where, defaults=Defaults(today=TODAY), corrects=True).added == 1
    with Ledger.open(where) as ledger:
        assert ledger.weather().tmax_c.tolist() == [10, 13, 12]


def test_a_photo_is_kept_once_by_its_content(where: Path, tmp_path: Path) -> None:
    one, two = tmp_path / "a.jpg", tmp_path / "b.jpeg"
    for path in (one, two):
        path.write_bytes(picture())
    found = take_in(where, one, two, site="a")
    assert (found.added, found.already) == (1, 1)
    (kept,) = Path(f"{where}.photos").iterdir()
    assert kept.read_bytes() == one.read_bytes()
    assert bodies(where)[0]["body"]["sha256"] == kept.stem
    liar = tmp_path / "c.png"
    liar.write_bytes(b"GIF89a")
    assert take_in(where, liar).refused[0].where.file == "c.png"


def test_lines_of_json_may_leave_id_and_moment_to_us(where: Path, tmp_path: Path) -> None:
    line = json.dumps({"kind": "crop", "site": "a", "body": {"year": 2026, "crop": "soybean", "on": "2026-05-10"}})
    file = write(tmp_path, "entries.jsonl", f"{line}\n{line}\n\n")
    assert take_in(where, file).added == 2
    assert take_in(where, file).already == 2
    first = bodies(where)[0]
    assert (first["made_at"], first["by"]) == ("2026-05-10T12:00:00+00:00", "scout")


def test_an_amendment_in_a_file_comes_after_what_it_amends(where: Path, tmp_path: Path) -> None:
    one = entry("note", {"words": "ten"}, by="s", made_at="2026-06-14T10:00:00Z")
    two = entry("note", {"words": "twelve"}, by="s", made_at="2026-06-14T11:00:00Z", amends=one.id)
    right = write(tmp_path, "right.jsonl", f"{one.text()}\n{two.text()}\n")
    wrong = write(tmp_path, "wrong.jsonl", f"{two.text()}\n{one.text()}\n")
    found = take_in(tmp_path / "w.ledger", wrong)
    assert (found.added, [r.where.line for r in found.refused]) == (1, [1])
    assert take_in(where, right).added == 2


WEATHER_HEAD = "date,tmin_c,tmax_c,prcp_mm\n"


def test_no_ledger_is_made_where_nothing_is_taken(where: Path, tmp_path: Path) -> None:
    assert take_in(where, tmp_path / "none.csv").refused[0].what == "no such file"
    assert not where.exists()


def test_rows_and_photos_go_into_postgresql_too(postgresql_url: str, tmp_path: Path) -> None:
    file = write(tmp_path, "stops.csv", STOPS)
    photo = tmp_path / "a.png"
    photo.write_bytes(picture(kind="PNG"))
    boundary = write(tmp_path, "north_eighty.geojson", json.dumps(SQUARE))
    for added, already in ((4, 0), (0, 4)):
        found = take(
            [file, photo, boundary],
            postgresql_url,
            defaults=Defaults(today=TODAY, by="s"),
            words=WORDS,
            photos=tmp_path / "kept",
        )
        assert (found.added, found.already, found.refused) == (added, already, ())
    with pytest.raises(Refused, match="photos"):
        take([photo], postgresql_url, defaults=Defaults(today=TODAY))


_TAKER = """
import sys, time
from pathlib import Path
from tepal.ledger import Writer, take
where, held, *files = sys.argv[1:]
if held == "held":
    def held_open(writer, batches, **more):
        # Every entry has been written and nothing committed.
        print("inside", flush=True)
        time.sleep(60)
    Writer.add_weather = held_open
print("ready", flush=True)
take([Path(file) for file in files], where)
"""


def _count(where: str) -> int:
    with Ledger.open(where) as ledger:
        return len(ledger.entries()) + sum(len(b.days) for b in ledger.weather_batches())


class Taker:
    """A process that takes two files of entries and one of weather."""

    def __init__(self, store: str, folder: Path) -> None:
        self.store = store
        lines = [
            entry("note", {"words": f"{i} " + "x" * 200}, by="s", site="a", made_at="2026-06-14T10:00:00Z").text()
            for i in range(4_000)
        ]
        self.files = [
            str(write(folder, "a.jsonl", "\n".join(lines[:2_000]))),
            str(write(folder, "b.jsonl", "\n".join(lines[2_000:]))),
            str(write(folder, "w.csv", WEATHER_HEAD + "2020-05-01,2,10,0\n2020-05-02,2,10,0\n")),
        ]
        Ledger.open(store, create=True).close()

    def start(self, *, held: bool) -> subprocess.Popen[bytes]:
        arguments = [self.store, "held" if held else "free", *self.files]
        process = subprocess.Popen([sys.executable, "-c", _TAKER, *arguments], stdout=subprocess.PIPE)
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        if held:
            assert process.stdout.readline() == b"inside\n"
        return process

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        process.send_signal(signal.SIGKILL)
        process.communicate()


def test_a_take_killed_before_its_commit_leaves_nothing_and_can_be_done_again(store: str, tmp_path: Path) -> None:
    taker = Taker(store, tmp_path)
    taker.kill(taker.start(held=True))
    assert _count(store) == 0
    taker.start(held=False).communicate(timeout=60)
    assert _count(store) == 4_002
    with Ledger.open(store) as ledger:
        assert [e.seq for e in ledger.entries()] == list(range(1, 4_001))


@pytest.mark.slow
def test_a_take_killed_at_any_moment_leaves_all_or_nothing(store: str, tmp_path: Path) -> None:
    taker = Taker(store, tmp_path)
    luck = random.Random(1)
    for _ in range(10):
        process = taker.start(held=False)
        time.sleep(luck.uniform(0.0, 1.0))
        taker.kill(process)
        assert _count(store) in (0, 4_002)

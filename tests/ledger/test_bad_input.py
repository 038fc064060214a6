"""Bad input, one table: whatever is wrong is refused in one line that names it, and the ledger stays byte for byte."""

from __future__ import annotations

import json
import os
import random
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ledger import broken
from ledger.pictures import picture
from tepal.cli import main
from tepal.cli.take import _vocabulary
from tepal.ledger import Defaults, Taken, take

TODAY = date(2026, 9, 1)
SQUARE = {"type": "Polygon", "coordinates": [[[-98.1, 40], [-98, 40], [-98, 40.1], [-98.1, 40.1], [-98.1, 40]]]}

GOOD_LINE = '{"kind":"note","by":"s","made_at":"2026-06-14T10:00:00Z","body":{"words":"x"}}'
STOP_HEAD = "date,site,lon,lat,area_m2,taxon,count\n"
PLANT_HEAD = "date,site,stage,leaf_tip_notch,petiole_blade_ratio_lower\n"
DONE_HEAD = "date,site,what,ingredient,rate,group\n"
WEATHER_HEAD = "date,tmin_c,tmax_c,prcp_mm\n"
# Name of the file → its content, the line that must be named.
TEXTS: dict[str, tuple[str, int | None]] = {
    "torn.jsonl": ("{", 1),
    "list.jsonl": ("[1]", 1),
    "nan.jsonl": (GOOD_LINE.replace('"x"', "NaN"), 1),
    "double.jsonl": (GOOD_LINE.replace('"by":"s"', '"by":"s","by":"t"'), 1),
    "kind.jsonl": (GOOD_LINE.replace("note", "fable"), 1),
    "field.jsonl": (GOOD_LINE.replace('"words"', '"wrods"'), 1),
    "moment.jsonl": (GOOD_LINE.replace("2026-06-14T10:00:00Z", "noon"), 1),
    "deep.jsonl": ("[" * 100_000, 1),
    "huge.jsonl": (
        '{"kind":"stop","site":"a","by":"s","made_at":"2026-06-14T10:00:00Z","body":{"counts":[],"area_m2":1e999}}',
        1,
    ),
    "amends.jsonl": (GOOD_LINE[:-1] + ',"amends":"01890000-0000-7000-8000-000000000000"}', 1),
    "negative.csv": (STOP_HEAD + "2026-06-14,a,-98,40,1,pigweed,-1\n", 2),
    "swapped.csv": (STOP_HEAD + "2026-06-14,a,40,-98,1,pigweed,1\n", 2),
    "half.csv": (STOP_HEAD + "2026-06-14,a,-98,,1,pigweed,1\n", 2),
    "taxon.csv": (STOP_HEAD + "2026-06-14,a,-98,40,1,triffid,1\n", 2),
    "future.csv": (STOP_HEAD + "2027-06-14,a,-98,40,1,pigweed,1\n", 2),
    "usdate.csv": (STOP_HEAD + "06/07/2026,a,10,50,1,pigweed,1\n", 2),
    "nodate.csv": (STOP_HEAD + ",a,-98,40,1,pigweed,1\n", 2),
    "nosite.csv": (STOP_HEAD + "2026-06-14,,-98,40,1,pigweed,1\n", 2),
    "nocount.csv": (STOP_HEAD + "2026-06-14,a,-98,40,1,pigweed,\n", 2),
    "noarea.csv": (STOP_HEAD + "2026-06-14,a,-98,40,0,pigweed,1\n", 2),
    "tornrow.csv": (STOP_HEAD + "2026-06-14,a,-98\n", 2),
    "quote.csv": (STOP_HEAD + '2026-06-14,"a,-98,40,1,pigweed,1\n', 2),
    "unit.csv": ("date,site,row,count\n2026-06-14,a,30,1\n", 2),
    "twice.csv": ("date,site,count,plants\n2026-06-14,a,1,1\n", 1),
    "unknown.csv": ("colour,smell\nred,sweet\n", 1),
    "empty.csv": ("", None),
    "headonly.csv": (STOP_HEAD, None),
    "stage.csv": (PLANT_HEAD + "2026-06-14,a,adult,deep,1.2\n", 2),
    "look.csv": (PLANT_HEAD + "2026-06-14,a,vegetative,blue,1.2\n", 2),
    "number.csv": (PLANT_HEAD + "2026-06-14,a,vegetative,deep,long\n", 2),
    "action.csv": (DONE_HEAD + "2026-06-14,a,burned,,,\n", 2),
    "group.csv": (DONE_HEAD + "2026-06-14,a,sprayed,glufosinate,,purple\n", 2),
    "groups.csv": (DONE_HEAD + "2026-06-14,a,sprayed,glufosinate,,10;15\n", 2),
    "rate.csv": (DONE_HEAD + "2026-06-14,a,sprayed,glufosinate,-1,10\n", 2),
    "hotcold.csv": (WEATHER_HEAD + "2026-05-01,20,10,0\n", 2),
    "toohot.csv": (WEATHER_HEAD + "2026-05-01,20,70,0\n", 2),
    "forecast.csv": (WEATHER_HEAD + "2027-05-01,2,10,0\n", 2),
    "rain.csv": (WEATHER_HEAD + "2026-05-01,2,10,-1\n", 2),
    "bowtie.geojson": ('{"type":"Polygon","coordinates":[[[0,0],[1,1],[1,0],[0,1],[0,0]]]}', None),
    "metres.geojson": ('{"type":"Polygon","coordinates":[[[0,0],[900,0],[900,900],[0,0]]]}', None),
    "crs.geojson": (json.dumps({**SQUARE, "crs": {"type": "name", "properties": {"name": "EPSG:32614"}}}), None),
    "latlon.geojson": ('{"type":"Polygon","coordinates":[[[40,-98],[41,-98],[41,-97],[40,-98]]]}', None),
    "torn.geojson": ('{"type":"Polygon"', 1),
    "words.docx": ("hello", None),
    "fake.jpg": ("hello", None),
}


def _point(lon: object, lat: object, time: str = "") -> str:
    when = f"<time>{time}</time>" if time else ""
    return f'<trkpt lat="{lat}" lon="{lon}">{when}</trkpt>'


JUNE = "2026-06-14T13:00:00Z"
DLY = "USC00250001202605TMAX" + "  212  7" * 31 + "\n" + "USC00250001202605TMIN" + "   89  7" * 31 + "\n"
WIDE = "STATION,DATE,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
RTL = "\u202e"
SHP = broken.shp_parts(broken.RING)
METRES = [[6e5, 4e6], [6e5, 5e6], [7e5, 5e6], [6e5, 4e6]]
VIEW = "CREATE VIEW field AS SELECT 1 AS id, 2 AS geom"
GP_POINT = "4750000100000000" + "0101000000" + "00" * 16
LINE = "<LineString><coordinates>-98,40 -98,41</coordinates></LineString>"
VRT = b"<OGRVRTDataSource><OGRVRTLayer name='x'><SrcDataSource>/etc/hostname</SrcDataSource></OGRVRTLayer>"
UTM = "INSERT INTO gpkg_spatial_ref_sys VALUES (7, 'NONE', 0, 'undefined')"

# Name → content (made late where it is large), the line that must be named, words that must be in what is said.
FILES: dict[str, tuple[bytes | Callable[[], bytes], int | None, str]] = {
    # Tables.
    "nul.csv": (STOP_HEAD.encode() + b"2026-06-14,a\x00,-98,40,1,pigweed,1\n", None, "NUL"),
    "workbook.csv": (lambda: broken.packed({"xl/workbook.xml": b"<x/>"}), None, "NUL"),
    "utf16.csv": (STOP_HEAD.encode("utf-16-le"), None, "NUL"),
    "noise.csv": (random.Random(1).randbytes(400).replace(b"\x00", b"\x01"), None, ""),
    "formula.csv": ((STOP_HEAD + '2026-06-14,a,-98,40,1,pigweed,"=1+1"\n').encode(), 2, "'=1+1'"),
    "formula_place.csv": ((STOP_HEAD + "2026-06-14,a,=A1,40,1,pigweed,1\n").encode(), 2, "'=A1'"),
    "rtl.csv": ((STOP_HEAD + f"2026-06-14,north{RTL}ytghie,-98,40,1,pigweed,1\n").encode(), 2, "site"),
    "bell.csv": ((STOP_HEAD + "2026-06-14,a\x07,-98,40,1,pigweed,1\n").encode(), 2, "site"),
    "comma_decimal.csv": (b"date;site;lon;lat;area_m2;taxon;count\n2026-06-14;a;-98,5;40;1;pigweed;1\n", 2, "'-98,5'"),
    "thousands.csv": ((STOP_HEAD + '2026-06-14,a,-98,40,1,pigweed,"1,000"\n').encode(), 2, "'1,000'"),
    "half_a_plant.csv": ((STOP_HEAD + "2026-06-14,a,-98,40,1,pigweed,1.5\n").encode(), 2, "1.5"),
    "infinite.csv": ((STOP_HEAD + "2026-06-14,a,-98,40,inf,pigweed,1\n").encode(), 2, "inf"),
    "two_days.csv": (
        (STOP_HEAD + "06/14/2026,a,-98,40,1,pigweed,1\n14/06/2026,a,-98,40,1,pigweed,1\n").encode(),
        3,
        "line 2",
    ),
    "serial.csv": ((STOP_HEAD + "46187,a,-98,40,1,pigweed,1\n").encode(), 2, "46187"),
    "month13.csv": ((STOP_HEAD + "13/13/2026,a,-98,40,1,pigweed,1\n").encode(), 2, "13/13/2026"),
    "nowhere.csv": (
        (STOP_HEAD.replace("lon,lat", "lat/long,x") + "2026-06-14,a,by the gate,,1,pigweed,1\n").encode(),
        2,
        "'by the gate'",
    ),
    "title.csv": (b"Larkmoor County Extension scouting 2026\nDate,Field,Count\n2026-06-14,a,1\n", 1, "title"),
    "no_such_day.csv": ((STOP_HEAD + "2026-02-30,a,-98,40,1,pigweed,1\n").encode(), 2, "2026-02-30"),
    # Lines of JSON.
    "nul.jsonl": (GOOD_LINE.replace('"x"', '"a\\u0000b"').encode(), 1, "words"),
    "rtl.jsonl": (GOOD_LINE.replace('"s"', f'"of{RTL}fice"').encode(), 1, "by"),
    "surrogate.jsonl": (GOOD_LINE.replace('"x"', '"\\ud800"').encode(), 1, "words"),
    "latin1.jsonl": (GOOD_LINE.replace('"x"', '"ñ"').encode("latin-1"), 1, "UTF-8"),
    "nowhere.jsonl": (GOOD_LINE.replace("note", "walk").replace('"words":"x"', "").encode(), 1, "site"),
    # Weather of the climate network.
    "torn.dly": (DLY[:140].encode() + b"\nUSC0025\n", 2, "USC0025"),
    "letters.dly": (DLY.replace("  212  7", "  2x2  7", 1).encode(), 1, "2x2"),
    "february.dly": (DLY.replace("202605", "202602").splitlines()[0].encode(), 1, "2026-02-29"),
    "hot.dly": (DLY.replace("  212  7", " 9120  7").encode(), 2, "912"),
    "twice.dly": ((2 * (DLY.splitlines()[0] + "\n")).encode(), 2, "again"),
    "future.dly": (DLY.replace("202605", "203005").encode(), 2, "2030-05-01"),
    "day.csv": (b"USC00250001,20260532,TMAX,212,,,7\n", 1, "2026-05-32"),
    "fahrenheit.csv": ((WIDE + 'USC00250001,2026-05-01,0.12,",,7",59,",,7",41,",,7"\n').encode(), 2, "0.12"),
    # Photos.
    "nothing.jpg": (b"", None, "nothing in it"),
    "cut.jpg": (lambda: picture()[:-40], None, "breaks off"),
    "thumbnail.jpg": (broken.jpeg_cut_after_its_thumbnail, None, "breaks off"),
    "cut.png": (lambda: picture(kind="PNG")[:-20], None, "breaks off"),
    "bomb.png": (lambda: broken.png_claiming(60_000, 60_000), None, "60000 × 60000"),
    "flat.png": (lambda: broken.png_claiming(0, 6), None, ""),
    "cut.heic": (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\xff\xffmeta", None, "breaks off"),
    "empty.heic": (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", None, "head"),
    "head_only.jpg": (b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01", None, "breaks off"),
    # Tracks.
    "nothing.gpx": (b"", None, "nothing in it"),
    "torn.gpx": (broken.track(_point(-98, 40, JUNE)).replace(b"</trkseg>", b"\n"), 2, "XML"),
    "page.gpx": (b"<html><body/></html>", None, "'html'"),
    "bomb.gpx": (broken.entity_bomb("gpx"), None, "trap"),
    "north.gpx": (broken.track(_point(-98, 91, JUNE), _point(-98, 40, JUNE)), None, "lat 91"),
    "nan.gpx": (broken.track(_point("nan", 40, JUNE), _point(-98, 40, JUNE)), None, "lon nan"),
    "noplace.gpx": (broken.gpx("<trk><trkseg><trkpt lat='40'/></trkseg></trk>"), None, "lon None"),
    "empty.gpx": (broken.gpx(""), None, "no feature"),
    "standing.gpx": (broken.track(_point(-98, 40, JUNE)), None, "no shape"),
    "undated.gpx": (broken.track(_point(-98, 40), _point(-98, 40.1)), None, "--on"),
    "tomorrow.gpx": (broken.track(_point(-98, 40, "2030-01-01T00:00:00Z"), _point(-98, 40.1)), None, "2029-12-31"),
    # Drawings.
    "bomb.kml": (broken.entity_bomb("kml"), None, "trap"),
    "outside.kml": (broken.outside_entity(), None, "trap"),
    "words.kml": (broken.kml("<Point><coordinates>here,there</coordinates></Point>"), None, "'here,there'"),
    "bowtie.kml": (broken.kml_polygon(broken.BOWTIE), None, "not simple"),
    "swapped.kml": (broken.kml_polygon([[lat, lon] for lon, lat in broken.RING]), None, "swap"),
    "corner.kml": (broken.kml_polygon(broken.RING[:2]), None, "cannot be read"),
    "undated.kml": (broken.kml(f"<name>walked</name>{LINE}"), None, "--on"),
    "placeless.kml": (broken.kml("<name>somewhere</name>"), None, "no shape"),
    "utf8.kml": (b"<kml>\n\xff</kml>", 2, "XML"),
    "rtl.kml": (broken.kml_polygon(broken.RING).replace(b">N<", f">N{RTL}x<".encode()), None, "name"),
    # ZIPs.
    "text.kmz": (b"not a zip", None, "ZIP"),
    "cut.zip": (lambda: broken.packed(SHP)[:-30], None, "ZIP"),
    "none.kmz": (broken.packed({"a.png": b"x"}), None, "no KML"),
    "none.zip": (broken.packed({"a.csv": b"x"}), None, "no Shapefile"),
    "up.zip": (broken.packed({"../../field.shp": b"x"}), None, "'../../field.shp'"),
    "root.zip": (broken.packed({"/etc/field.shp": b"x"}), None, "'/etc/field.shp'"),
    "windows.zip": (broken.packed({"C:\\field.shp": b"x"}), None, "field.shp"),
    "locked.zip": (broken.locked(broken.packed({"field.shp": b"x" * 200})), None, "locked"),
    "method.zip": (broken.packed(SHP, zipfile.ZIP_LZMA), None, "method 14"),
    "claim.zip": (broken.packed({"field.shp": b"x"}, claim=10_000_000_000), None, "10000000000"),
    "bomb.zip": (lambda: broken.zeros("field.shp", 250), None, "250000000"),
    "bomb.kmz": (lambda: broken.zeros("doc.kml", 250), None, "250000000"),
    "liar.kmz": (lambda: broken.understated(broken.zeros("doc.kml", 250)), None, ""),
    "many.zip": (lambda: broken.packed({f"{n}.shp": b"" for n in range(2_001)}), None, "2001"),
    # Shapefiles.
    "text.shp": (b"hello", None, "first bytes"),
    "cut.zip.zip": (broken.packed({**SHP, "field.shp": SHP["field.shp"][:150]}), None, "Shapefile"),
    "metres.zip": (
        broken.packed(broken.shp_parts(METRES, None)),
        None,
        "600000",
    ),
    "frame.zip": (broken.packed({**SHP, "field.prj": b"PROJCS[oops"}), None, "PROJCS[oops"),
    "bowtie.zip": (broken.packed(broken.shp_parts(broken.BOWTIE)), None, "not simple"),
    # GeoPackages.
    "nothing.gpkg": (b"", None, "nothing in it"),
    "vrt.gpkg": (VRT, None, "first bytes"),
    "tables.gpkg": (broken.gpkg("CREATE TABLE a (b)"), None, "gpkg_contents"),
    "layers.gpkg": (broken.gpkg(*broken.GPKG_TABLES), None, "no feature table"),
    "cut.gpkg": (lambda: broken.gpkg_layer(GP_POINT)[:6_000], None, "GeoPackage"),
    "noise.gpkg": (b"SQLite format 3\x00" + bytes(range(256)) * 20, None, "GeoPackage"),
    "wkb.gpkg": (broken.gpkg_layer("4750000100000000" + "ff" * 20), None, "cannot be read"),
    "header.gpkg": (broken.gpkg_layer("00" * 30), None, "no GeoPackage geometry"),
    "nowhere.gpkg": (broken.gpkg_layer(GP_POINT, srs=-1), None, "reference system -1"),
    "frame.gpkg": (broken.gpkg_layer(GP_POINT, srs=7, define=UTM), None, "undefined"),
    "view.gpkg": (
        broken.gpkg_layer("", table=VIEW),
        None,
        "no feature table",
    ),
}
# Ten thousand million bytes that are not there: a file with a hole in it.
CLAIMS = ("claim.csv", "claim.jsonl", "claim.geojson", "claim.gpx", "claim.kml", "claim.gpkg", "claim.jpg", "claim.zip")
CASES = [*TEXTS, *FILES, *(f"10GB {name}" for name in CLAIMS)]


# Where a line as a whole is wrong, no column is named.
WHOLE_LINES = {"tornrow.csv", "quote.csv", "hotcold.csv", "toohot.csv", "rain.csv"}


def _made(folder: Path, case: str) -> tuple[Path, int | None, str]:
    if case.startswith("10GB "):
        path = folder / case.removeprefix("10GB ")
        path.touch()
        os.truncate(path, 10_000_000_000)
        return path, None, "" if case.endswith(".gpkg") else "10000000000 bytes"
    path = folder / case
    content, line, *said = TEXTS[case] if case in TEXTS else FILES[case]
    content = content() if callable(content) else content
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path, line, said[0] if said else ""


def _take(where: Path, path: Path) -> Taken:
    return take([path], where, defaults=Defaults(today=TODAY, by="scout"), words=_vocabulary())


def _bytes(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a ledger that has something in it, and a photo."""
    folder = tmp_path_factory.mktemp("office")
    stops, photo = folder / "stops.csv", folder / "leaf.jpg"
    stops.write_text(STOP_HEAD + "2026-06-14,North Eighty,-98.1,40.2,1,Palmer,4\n")
    photo.write_bytes(picture())
    for path in (stops, photo):
        assert _take(folder / "county.ledger", path).added == 1
        path.unlink()
    return folder


@pytest.mark.parametrize("case", CASES)
def test_bad_input_is_refused_in_one_line_and_the_ledger_stays_byte_for_byte(
    begun: Path, tmp_path: Path, case: str
) -> None:
    path, line, said = _made(tmp_path, case)
    before = _bytes(begun)
    found = _take(begun / "county.ledger", path)
    assert _bytes(begun) == before
    assert (found.added, found.already) == (0, 0)
    # Every day of an impossible month is named; all else is one refusal.
    refused = found.refused[0]
    assert len(found.refused) == 1 or case.endswith(".dly")
    assert (refused.where.file, refused.where.line) == (path.name, line)
    message = str(refused)
    assert said in message
    if line is not None and line > 1 and case.endswith((".csv", ".jsonl")) and case not in WHOLE_LINES:
        assert refused.where.column is not None
    assert refused.what and refused.rule.endswith(".") and refused.step.endswith((".", "DATE", "NAME"))
    assert "\n" not in message and message.isprintable() and len(message) < 700
    assert sorted(one.name for one in tmp_path.iterdir()) == [path.name]
    # And with nothing there before, no ledger is made for it.
    if case != "amends.jsonl":
        _take(tmp_path / "new.ledger", path)
        assert not (tmp_path / "new.ledger").exists()


def test_there_are_sixty_cases_and_more() -> None:
    assert len(set(CASES)) >= 60


@pytest.mark.parametrize("case", ["negative.csv", "vrt.gpkg", "bomb.kmz", "bomb.kml", "cut.jpg", "up.zip", "hot.dly"])
def test_the_command_exits_2_and_prints_lines_of_words(
    begun: Path, tmp_path: Path, case: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path, *_ = _made(tmp_path, case)
    before = _bytes(begun)
    assert main(["take", str(path), "--ledger", str(begun / "county.ledger")]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert all(path.name in one or "more were refused" in one for one in shown.err.splitlines())
    assert _bytes(begun) == before


def test_what_unpacks_to_too_much_costs_no_memory(tmp_path: Path) -> None:
    import tracemalloc

    path, *_ = _made(tmp_path, "bomb.kmz")
    tracemalloc.start()
    assert _take(tmp_path / "new.ledger", path).refused
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 30_000_000


def test_a_geopackage_that_is_open_elsewhere_is_not_half_read(tmp_path: Path) -> None:
    path = tmp_path / "field.gpkg"
    path.write_bytes(broken.gpkg_layer(GP_POINT))
    path.with_name("field.gpkg-wal").write_bytes(b"waiting")
    assert "field.gpkg-wal" in str(_take(tmp_path / "new.ledger", path).refused[0])


@pytest.mark.parametrize(
    "name", [name for name, (_, line) in TEXTS.items() if line == 2 and name not in {"quote.csv", "tornrow.csv"}]
)
def test_the_good_lines_beside_a_bad_one_go_in(tmp_path: Path, name: str) -> None:
    text = TEXTS[name][0]
    header, bad = text.splitlines()
    good = {
        STOP_HEAD: "2026-06-14,a,-98,40,1,pigweed,1",
        PLANT_HEAD: "2026-06-14,a,vegetative,deep,1.2",
        DONE_HEAD: "2026-06-14,a,pulled,,,",
        WEATHER_HEAD: "2026-05-01,2,10,0",
    }.get(header + "\n", "2026-06-14,a,30 ft,1")
    path = tmp_path / name
    path.write_text(f"{header}\n{bad}\n{good}\n")
    found = _take(tmp_path / "county.ledger", path)
    assert found.added == 1
    assert [one.where.line for one in found.refused] == [2]


def test_of_two_weather_rows_for_a_day_the_second_is_refused_and_names_the_first(begun: Path, tmp_path: Path) -> None:
    path = tmp_path / "town.csv"
    path.write_text(WEATHER_HEAD + "2026-05-01,2,10,0\n2026-05-02,2,10,0\n2026-05-01,3,11,0\n")
    found = _take(tmp_path / "county.ledger", path)
    (refused,) = found.refused
    assert (found.added, refused.where.line, refused.where.column) == (2, 4, "date")
    assert "2026-05-01" in refused.what and "line 2" in refused.what
    # The same day of another file, said otherwise, changes nothing either.
    before = _bytes(tmp_path)
    other = tmp_path / "town2.csv"
    other.write_text(WEATHER_HEAD + "2026-05-01,4,12,0\n")
    found = take([other], tmp_path / "county.ledger", defaults=Defaults(today=TODAY, station="town"))
    assert found.added == 0 and "2026-05-01" in str(found.refused[0])
    other.unlink()
    assert _bytes(tmp_path) == before


@pytest.mark.parametrize("name", ["../../outside", "/outside", "..\\outside", "C:\\outside", "a/../../outside"])
def test_a_path_in_a_name_leads_nowhere(tmp_path: Path, name: str) -> None:
    office = tmp_path / "deep" / "office"
    office.mkdir(parents=True)
    stops, weather = office / "stops.csv", office / "weather.csv"
    stops.write_text(STOP_HEAD + f"2026-06-14,{name},-98.1,40.2,1,Palmer,4\n")
    weather.write_text(f"date,tmin_c,tmax_c,station\n2026-05-01,2,10,{name}\n")
    assert take([stops, weather], office / "l", defaults=Defaults(today=TODAY), words=_vocabulary()).added == 2
    there = set(_bytes(tmp_path))
    assert main(["give", str(office / "out"), "--ledger", str(office / "l")]) == 0
    new = set(_bytes(tmp_path)) - there
    assert new and all(Path(one).is_relative_to("deep/office/out") for one in new)

"""Map files that are given out: other libraries read in them what the record says, and `take` brings it back whole."""

from __future__ import annotations

import json
import sqlite3
import tempfile
from datetime import date
from pathlib import Path
from typing import Any

import gpxpy
import pytest
import shapely
from hypothesis import HealthCheck, given, settings

from _require import require
from ledger.strategies import logs
from tepal.cli.take import _vocabulary
from tepal.ledger import Defaults, Entry, Ledger, entry, give, standing, take

SQUARE = {
    "type": "Polygon",
    "coordinates": [
        [[-98.1, 40.0], [-98.0, 40.0], [-98.0, 40.1], [-98.1, 40.1], [-98.1, 40.0]],
        [[-98.06, 40.04], [-98.05, 40.05], [-98.04, 40.04], [-98.06, 40.04]],
    ],
}
LINES = [[[-98.09, 40.01], [-98.08, 40.0125], [-98.07, 40.02]], [[-98.03, 40.03], [-98.02, 40.04]]]
MADE = "2026-06-14T15:00:00-05:00"


def _one(kind: str, site: str = "north-eighty", **body: Any) -> Entry:
    return entry(kind, body, by="scout", site=site, made_at=MADE)


def _season() -> list[Entry]:
    tallies = [{"taxon": "AMAPA", "size": "10_30_cm", "count": 3, "tallest_cm": 22}, {"taxon": "AMATU", "count": 0}]
    return [
        _one("site", name="North Eighty", ground="field", county="Larkmoor", boundary=SQUARE, legal="NW¼ 12-34N-15W"),
        _one("site", "gravel", name="Gravel Pit Forty", ground="other", point=[-98.3, 40.2]),
        _one(
            "walk",
            who="A scout & helper",
            started="2026-06-14T18:00:00Z",
            ended="2026-06-14T18:40:00Z",
            minutes=31.5,
            found=3,
            track={"type": "MultiLineString", "coordinates": LINES},
        ),
        _one("walk", "gravel", rows_marked="rows 1 to 8", minutes=12),
        _one("stop", at=[-98.08, 40.0125], row_m=9.144, row_cm=76.2, counts=tallies, words="<b>=1+1</b>\nby the gate"),
        _one("stop", at=[-98.07, 40.02], area_m2=1, counts=[]),
        _one("stop", counts=[{"taxon": "pigweed", "count": 1}], by_sight=True),
        _one(
            "plant",
            at=[-98.08, 40.0125],
            stage="vegetative",
            looks={"leaf_tip_notch": "deep", "petiole_blade_ratio_lower": [1.2, 1.4]},
        ),
    ]


def _given(folder: Path, made: list[Entry]) -> Path:
    with Ledger.open(folder / "one", create=True) as ledger:
        ledger.add(made)
        give(ledger, folder / "out")
    return folder / "out" / "views"


def _plain(entries: Any) -> dict[str, dict[str, Any]]:
    """What entries say, by id; a map shows what stands and leaves out what it amends."""
    return {one.id: {key: value for key, value in one.plain().items() if key != "amends"} for one in entries}


def test_gpxpy_reads_the_walks_and_the_stops(tmp_path: Path) -> None:
    found = gpxpy.parse((_given(tmp_path, _season()) / "walks.gpx").read_text(encoding="utf-8"))
    (track,) = found.tracks
    assert track.name == "North Eighty 2026-06-14"
    assert [[[p.longitude, p.latitude] for p in segment.points] for segment in track.segments] == LINES
    bounds = track.get_time_bounds()
    assert [f"{moment:%H:%M}" for moment in (bounds.start_time, bounds.end_time)] == ["18:00", "18:40"]
    first, second = found.waypoints
    assert (first.longitude, first.latitude, first.name) == (-98.08, 40.0125, "3 AMAPA")
    assert first.description == "<b>=1+1</b>\nby the gate"
    assert second.name == "none found"


def test_pyogrio_reads_every_layer(tmp_path: Path) -> None:
    raw = require("pyogrio", pytest.importorskip("pyogrio.raw"))
    import pyogrio

    path = _given(tmp_path, _season()) / "record.gpkg"
    assert dict(pyogrio.list_layers(path)) == {
        "sites": "Unknown",
        "walks": "Unknown",
        "stops": "Point",
        "finds": "Point",
        "plants": "Point",
    }
    read = {}
    for layer in ("sites", "walks", "stops", "finds", "plants"):
        meta, _, shapes, cells = raw.read(path, layer=layer)
        assert meta["crs"] == "EPSG:4326"
        columns = dict(zip(meta["fields"], cells, strict=True))
        read[layer] = [None if one is None else shapely.from_wkb(one) for one in shapes], columns
    shapes, columns = read["sites"]
    assert list(columns["name"]) == ["North Eighty", "Gravel Pit Forty"]
    assert shapes[0].equals_exact(shapely.geometry.shape(SQUARE)) and shapes[1] == shapely.Point(-98.3, 40.2)
    shapes, columns = read["walks"]
    assert shapes[0].equals_exact(shapely.MultiLineString(LINES)) and shapes[1] is None
    assert list(columns["minutes"]) == [31.5, 12] and columns["found"][0] == 3
    shapes, columns = read["stops"]
    assert list(columns["count"]) == [3, 0, 1] and shapes[2] is None
    assert list(columns["area_m2"])[:2] == pytest.approx([9.144 * 0.762, 1])
    shapes, columns = read["finds"]
    assert list(zip(columns["taxon"], columns["count"], columns["size"], strict=True)) == [
        ("AMAPA", 3, "10_30_cm"),
        ("pigweed", 1, "unknown"),
    ]
    assert [pyogrio.read_info(path, layer=name)["features"] for name in ("finds", "plants")] == [2, 1]
    assert pyogrio.read_info(path, layer="stops", force_total_bounds=True)["total_bounds"] == pytest.approx(
        (-98.08, 40.0125, -98.07, 40.02)
    )


def test_sqlite_finds_no_fault_in_the_geopackage_and_knows_it_for_one(tmp_path: Path) -> None:
    path = _given(tmp_path, _season()) / "record.gpkg"
    with sqlite3.connect(path) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        assert database.execute("PRAGMA application_id").fetchone() == (int.from_bytes(b"GPKG"),)
    database.close()


def test_the_maps_bring_the_record_back_and_change_nothing_where_it_is(tmp_path: Path) -> None:
    made = _season()
    tank = {"name": "glufosinate", "rate": 32, "unit": "oz/ac", "group": "10"}
    views = _given(tmp_path, [*made, _one("done", what="sprayed", ingredients=[tank, {"name": "2,4-D"}])])
    assert (found := take([views / "record.gpkg"], tmp_path / "two")).refused == ()
    assert found.added == len(made)
    assert {"2 sites", "2 walks", "3 stops", "1 plant"} <= set(found.understood[0].notes)
    with Ledger.open(tmp_path / "two") as ledger:
        assert _plain(ledger.entries()) == _plain(made)
    # What GPX can draw: walks with a track, stops with a place.
    assert take([views / "walks.gpx"], tmp_path / "three").refused == ()
    with Ledger.open(tmp_path / "three") as ledger:
        assert _plain(ledger.entries()) == _plain([made[2], made[4], made[5]])
    # Nobody counts a plant twice because a view came back.
    for name in ("walks.gpx", "record.gpkg", "stops.csv", "plants.csv", "done.csv", "sites.geojson", "stops.geojson"):
        again = take([views / name], tmp_path / "one", words=_vocabulary())
        assert (name, again.added, again.refused) == (name, 0, ())
        assert again.already


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(logs())
def test_any_record_comes_back_from_its_maps(made: list[Entry]) -> None:
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        views = _given(folder, made)
        stands = [one for one in standing(made).entries if one.kind in {"site", "walk", "stop", "plant"}]
        for name, shown in (
            ("record.gpkg", stands),
            ("walks.gpx", [one for one in stands if getattr(one.body, "track", None) or _is_place(one)]),
        ):
            found = take([views / name], folder / f"{name}.ledger")
            if not shown:
                assert not found.added
                continue
            assert found.refused == ()
            with Ledger.open(folder / f"{name}.ledger") as ledger:
                assert _plain(ledger.entries()) == _plain(shown)
            again = take([views / name], folder / "one")
            assert (again.added, again.refused) == (0, ())


def _is_place(one: Entry) -> bool:
    return one.kind == "stop" and getattr(one.body, "at", None) is not None


def test_a_shape_that_was_changed_into_another_kind_is_refused(tmp_path: Path) -> None:
    path = _given(tmp_path, _season()) / "record.gpkg"
    with sqlite3.connect(path) as database:
        (blob,) = database.execute("SELECT geom FROM sites WHERE name = 'North Eighty'").fetchone()
        database.execute("UPDATE stops SET geom = ? WHERE fid = 1", (blob,))
        database.execute("UPDATE stops SET tepal_entry = '{' WHERE fid = 2")
    database.close()
    found = take([path], tmp_path / "two")
    assert [str(one.where) for one in found.refused] == [
        "record.gpkg, column 'stops 1'",
        "record.gpkg, column 'stops 2'",
    ]
    assert found.added == len(_season()) - 2


def test_a_boundary_redrawn_on_a_map_amends_its_site_and_a_count_that_moved_is_refused(tmp_path: Path) -> None:
    path = _given(tmp_path, _season()) / "record.gpkg"
    wider = {"type": "Polygon", "coordinates": [[[-98.2, 40], [-98, 40], [-98, 40.2], [-98.2, 40.2], [-98.2, 40]]]}
    header = b"GP\x00\x01\xe6\x10\x00\x00"
    with sqlite3.connect(path) as database:
        for table, shape in (("sites", shapely.geometry.shape(wider)), ("stops", shapely.Point(-98.01, 40.01))):
            blob = header + shapely.to_wkb(shape, byte_order=1)
            database.execute(f"UPDATE {table} SET geom = ? WHERE fid = 1", (blob,))
    database.close()
    found = take([path], tmp_path / "one")
    (refused,) = found.refused
    assert "with other content" in refused.what and "amends" in refused.step
    assert (refused.where.file, found.added) == ("record.gpkg", 1)
    with Ledger.open(tmp_path / "one") as ledger:
        site = ledger.standing("north-eighty").of("site")[-1].plain()
        assert ledger.standing("north-eighty").of("stop")[0].body.at == (-98.08, 40.0125)  # type: ignore[attr-defined]
    assert site["body"]["boundary"] == wider and site["body"]["legal"] == "NW¼ 12-34N-15W"
    assert take([path], tmp_path / "one").added == 0


def test_points_and_lines_of_geojson_are_taken_like_those_of_any_map(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": LINES[0]}
    point = {"type": "Point", "coordinates": [-98.08, 40.0125]}
    features = [
        {"type": "Feature", "geometry": SQUARE, "properties": {"name": "North Eighty"}},
        {"type": "Feature", "geometry": line, "properties": {"date": "2026-06-14"}},
        {"type": "Feature", "geometry": point, "properties": {"name": "seep", "depth": 2, "who": "tenant"}},
        {"type": "Feature", "geometry": point, "properties": {"name": "Gravel Pit Forty", "ground": "other"}},
    ]
    path = tmp_path / "farm.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    found = take([path], tmp_path / "l", defaults=Defaults(by="scout", today=date(2026, 9, 1)))
    assert (found.added, found.refused) == (4, ())
    with Ledger.open(tmp_path / "l") as ledger:
        told = {(one.kind, one.site): one.plain()["body"] for one in ledger.entries()}
    assert told["walk", "North Eighty"]["on"] == "2026-06-14"
    # What nothing is made of is kept in words.
    assert told["note", "North Eighty"]["words"] == "seep; depth: 2; who: tenant (at -98.080000, 40.012500)"
    assert told["site", "Gravel Pit Forty"]["point"] == [-98.08, 40.0125]

"""Fuzz the readers of files from strangers: XML, tables, photos, maps in binary. Only `Refused` may come out of them.

    python bench/fuzz.py                      each target for ten minutes, one after another
    python bench/fuzz.py xml --seconds 60     one target

Needs atheris (`pip install atheris`), which is no dependency of the project; heic also needs `heif-enc` of libheif.
SQLite is a C library that atheris does not see into: for GeoPackage its coverage is that of our own code around it.
Prints one line a target: executions, seconds, inputs kept for new coverage, findings; each kind of finding once, with
its traceback. Exit 1 if there is any.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import resource
import struct
import subprocess
import sys
import tempfile
import traceback
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

TODAY = date(2026, 9, 1)
GPX = (
    b'<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><metadata><time>2026-06-14'
    b'T13:00:00Z</time></metadata><wpt lat="40" lon="-98"><name>4 Palmer amaranth</name></wpt><trk><name>a</name>'
    b'<trkseg><trkpt lat="40.1" lon="-98.1"><time>2026-06-14T13:00:00Z</time></trkpt><trkpt lat="40.2" lon="-98"/>'
    b"</trkseg></trk></gpx>"
)
KML = (
    b'<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="x"><Document><Placemark><name>N</name><ExtendedData><Data '
    b'name="site"><value>a</value></Data></ExtendedData><MultiGeometry><Polygon><outerBoundaryIs><LinearRing>'
    b"<coordinates>-98,40,0 -97,40 -97,41 -98,40</coordinates></LinearRing></outerBoundaryIs></Polygon><Point>"
    b"<coordinates>-98,40</coordinates></Point></MultiGeometry></Placemark><Placemark><TimeSpan><begin>2026-06-14"
    b"T13:00:00Z</begin></TimeSpan><gx:Track><when>2026-06-14T13:00:00Z</when><gx:coord>-98 40 1</gx:coord><gx:coord>"
    b"-98 41 1</gx:coord></gx:Track></Placemark></Document></kml>"
)
TABLES = (
    b"date,site,lon,lat,area_m2,taxon,size,count,tallest (in)\n2026-06-14,a,-98,40,1,AMAPA,seedling,3,2\n",
    b"Date;Field;row ft;row width (in);Palmer;waterhemp count\n2026-06-14;a;30;30;1;2\n",
    b"date,site,stage,leaf_tip_notch,height (in)\n2026-06-14,a,vegetative,deep,3\n",
    b"date,site,what,ingredient,rate,group,REI (hours)\n2026-06-14,a,sprayed,glufosinate,29 oz,10,12\n",
    b"date,tmin_c,tmax_c,prcp_mm,station\n2026-05-01,2,10,T,x\n",
    b'STATION,DATE,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\nUSC00250001,2026-05-01,0,"T,,7",212,",,7",89,",G,7"\n',
    b"USC00250001,20260501,TMAX,212,,,7,0700\nUSC00250001,20260501,TMIN,89,,,7,\n",
    b"USC00250001202605TMAX" + b"  212  7" * 31 + b"\nUSC00250001202605TMIN" + b"   89 G7" * 31 + b"\n",
)


def _xml(_: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    from tepal.ledger import Defaults, Vocabulary
    from tepal.ledger.formats._geo import drafts_of
    from tepal.ledger.formats._gpx import read_gpx
    from tepal.ledger.formats._kml import read_kml
    from tepal.ledger.formats._maps import _gpx_features

    defaults, words = Defaults(today=TODAY), Vocabulary({"palmer amaranth": "AMAPA"})

    def one(data: bytes) -> None:
        if data[:1] < b"\x80":
            features = _gpx_features(read_gpx(data[1:], where="f"), "f")
        else:
            features = read_kml(data[1:], file="f")
        drafts_of(features, file="f", stem="f", defaults=defaults, words=words, made=None)

    return one, [b"\x00" + GPX, b"\xff" + KML]


def _csv(folder: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    from tepal.ledger import Defaults, LookForm, Vocabulary
    from tepal.ledger.formats._gather import gather

    looks = {"leaf_tip_notch": LookForm("leaf_tip_notch", ("none", "deep")), "ratio": LookForm("ratio", (), "ratio")}
    words = Vocabulary({"amapa": "AMAPA", "palmer": "AMAPA", "waterhemp": "AMATU"}, looks)
    table = folder / "table.csv"

    def one(data: bytes) -> None:
        table.write_bytes(data)
        gather([table], words, Defaults(today=TODAY))

    return one, list(TABLES)


def _exif(_: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    from PIL import Image

    from tepal.ledger.formats._pictures import read_picture

    tags = Image.Exif()
    tags[0x0132] = "2026:06:14 10:00:00"
    tags.get_ifd(0x8769).update({0x9003: "2026:06:14 10:00:00", 0x9011: "-05:00"})
    tags.get_ifd(0x8825).update({1: "N", 2: (40.0, 30.0, 0.0), 3: "W", 4: (98.0, 1.0, 0.0), 7: (15.0, 0.0, 0.0)})
    shells = {}
    for kind in ("JPEG", "PNG"):
        out = io.BytesIO()
        Image.new("RGB", (8, 8)).save(out, kind)
        shells[kind] = out.getvalue()
    jpeg, png = shells["JPEG"], shells["PNG"]

    def one(data: bytes) -> None:
        how, rest = data[:1], data[1:]
        if how < b"\x60":  # as the EXIF of a sound JPEG
            exif = b"Exif\x00\x00" + rest[:65_000]
            rest = jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + jpeg[2:]
        elif how < b"\xa0":  # as that of a sound PNG
            import zlib

            chunk = struct.pack(">I", len(rest)) + b"eXIf" + rest + struct.pack(">I", zlib.crc32(b"eXIf" + rest))
            rest = png[:33] + chunk + png[33:]
        read_picture(rest, file="f")

    raw = tags.tobytes().removeprefix(b"Exif\x00\x00")
    return one, [b"\x00" + raw, b"\x80" + raw, b"\xff" + jpeg, b"\xff" + png]


def _maps(folder: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    import shapefile

    from tepal.ledger import Defaults, Vocabulary
    from tepal.ledger.formats._maps import read_map

    parts = {name: io.BytesIO() for name in ("shp", "shx", "dbf")}
    with shapefile.Writer(**parts) as writer:
        writer.field("NAME", "C")
        writer.poly([[[-98, 40], [-98, 41], [-97, 41], [-98, 40]]])
        writer.record("a")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, part in parts.items():
            archive.writestr(f"a.{name}", part.getvalue())
    kmz = io.BytesIO()
    with zipfile.ZipFile(kmz, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", KML)
    shp, zipped = folder / "f.shp", folder / "f.zip"

    def one(data: bytes) -> None:
        path = shp if data[:1] < b"\x80" else zipped
        path.write_bytes(data[1:])
        read_map(path, Vocabulary(), Defaults(today=TODAY))

    seeds = [b"\x00" + parts["shp"].getvalue(), b"\xff" + packed.getvalue(), b"\xff" + kmz.getvalue()]
    return one, seeds


def _gpkg(folder: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    """Whole files; and, into a sound file, a geometry, a schema or a row of its catalogue."""
    import sqlite3

    import shapely

    from tepal.ledger import Defaults, Vocabulary
    from tepal.ledger.formats._maps import read_map

    sound, path = folder / "sound.gpkg", folder / "f.gpkg"
    with sqlite3.connect(sound) as database:
        database.executescript(
            "PRAGMA page_size = 512; VACUUM;"
            "CREATE TABLE gpkg_contents (table_name TEXT, data_type TEXT);"
            "CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER);"
            "CREATE TABLE gpkg_spatial_ref_sys (srs_id INTEGER, organization TEXT, organization_coordsys_id INTEGER,"
            " definition TEXT);"
            "INSERT INTO gpkg_contents VALUES ('field', 'features');"
            "INSERT INTO gpkg_geometry_columns VALUES ('field', 'geom', 4326);"
            "CREATE TABLE field (id INTEGER PRIMARY KEY, geom BLOB, name TEXT);"
        )
    database.close()
    plain = sound.read_bytes()
    square = shapely.Polygon([(-98, 40), (-98, 41), (-97, 41)])
    blobs = [b"GP\x00\x01\xe6\x10\x00\x00" + shapely.to_wkb(shape) for shape in (square, square.exterior)]

    def one(data: bytes) -> None:
        how, rest = data[:1], data[1:]
        if how < b"\x80":
            path.write_bytes(rest)
        else:
            path.write_bytes(plain)
            database = sqlite3.connect(path)
            database.execute("PRAGMA synchronous = OFF")
            database.execute("PRAGMA journal_mode = MEMORY")
            try:
                if how < b"\xc0":
                    database.execute("INSERT INTO field VALUES (1, ?, 'a')", (rest,))
                else:
                    database.executescript(rest.decode("utf-8", "replace"))
                database.commit()
            except (sqlite3.Error, sqlite3.Warning, ValueError):
                pass  # what SQLite itself will not write is no file either
            finally:
                database.close()
        read_map(path, Vocabulary(), Defaults(today=TODAY))

    with sqlite3.connect(path := folder / "f.gpkg") as database:
        database.executescript("".join(sqlite3.connect(sound).iterdump()))
        database.execute("INSERT INTO field VALUES (1, ?, 'a')", (blobs[0],))
    database.close()
    ours = json.dumps(
        {"kind": "stop", "by": "s", "site": "a", "made_at": "2026-06-14T10:00:00Z", "body": {"at": "Point"}}
    )
    scripts = (
        f"ALTER TABLE field ADD COLUMN tepal_entry TEXT; INSERT INTO field VALUES (2, NULL, 'a', '{ours}')".encode(),
        b"UPDATE gpkg_geometry_columns SET srs_id = 7; INSERT INTO gpkg_spatial_ref_sys VALUES (7, 'EPSG', 32614, 'x')",
        b"INSERT INTO field VALUES (1, x'4750', 2); UPDATE gpkg_contents SET table_name = 'a\"b'",
        b"DROP TABLE field; CREATE TABLE field (id INTEGER, geom AS (zeroblob(id)) STORED, n REAL)",
    )
    return one, [b"\x00" + path.read_bytes(), *(b"\x90" + blob for blob in blobs), *(b"\xff" + s for s in scripts)]


def _heic(folder: Path) -> tuple[Callable[[bytes], None], list[bytes]]:
    """Whole files; and, into a sound file, the box that describes it with its length put right, or its EXIF."""
    from PIL import Image

    from tepal.ledger.formats._pictures import read_picture

    tags = Image.Exif()
    tags[0x0112] = 6
    tags.get_ifd(0x8769).update({0x9003: "2026:06:14 10:00:00", 0x9011: "-05:00"})
    tags.get_ifd(0x8825).update({1: "N", 2: (40.0, 30.0, 0.0), 3: "W", 4: (98.0, 1.0, 0.0)})
    seeds = []
    for number, more in enumerate(({"exif": tags.tobytes()}, {})):
        jpeg, heic = folder / f"{number}.jpg", folder / f"{number}.heic"
        Image.new("RGB", (64, 48), (40, 120, 40)).save(jpeg, "JPEG", **more)
        subprocess.run(["heif-enc", str(jpeg), "-o", str(heic)], check=True, capture_output=True)
        seeds.append(heic.read_bytes())
    boxes = _boxes(seeds[0])
    exif = tags.tobytes()
    at = seeds[0].find(exif[:14])

    def one(data: bytes) -> None:
        how, rest = data[:1], data[1:]
        if how >= b"\xc0" and at > 0:  # the EXIF, as long as it was
            rest = seeds[0][:at] + rest[: len(exif)].ljust(len(exif), b"\0") + seeds[0][at + len(exif) :]
        elif how >= b"\x60":  # what lies between the length and the name of the box that describes, and its end
            meta = struct.pack(">I", len(rest) + 8) + b"meta" + rest
            rest = b"".join(meta if box[4:8] == b"meta" else box for box in boxes)
        read_picture(rest, file="f")

    described = next(box[8:] for box in boxes if box[4:8] == b"meta")
    return one, [*(b"\x00" + seed for seed in seeds), b"\x60" + described, b"\xff" + exif]


def _boxes(raw: bytes) -> list[bytes]:
    out, at = [], 0
    while at + 8 <= len(raw):
        size = int.from_bytes(raw[at : at + 4]) or len(raw) - at
        out.append(raw[at : at + size])
        at += size
    return out


TARGETS = {"xml": _xml, "csv": _csv, "exif": _exif, "maps": _maps, "gpkg": _gpkg, "heic": _heic}


def _inside(target: str, folder: Path, seconds: int) -> None:
    """The fuzzed process: every kind of finding is written down once and the run goes on."""
    import atheris

    with atheris.instrument_imports(include=["tepal", "PIL", "shapefile", "zipfile", "csv"]):
        from tepal.tables import Refused

        one, seeds = TARGETS[target](folder)
    found: set[str] = set()

    def test(data: bytes) -> None:
        try:
            one(data)
        except Refused:
            pass
        except BaseException as problem:
            last = traceback.extract_tb(problem.__traceback__)[-1]
            key = f"{type(problem).__name__} at {Path(last.filename).name}:{last.lineno}"
            if key not in found:
                found.add(key)
                said = {"kind": key, "input": data.hex(), "traceback": traceback.format_exc()}
                with (folder / "findings.jsonl").open("a") as file:
                    file.write(json.dumps(said) + "\n")

    corpus = folder / "corpus"
    corpus.mkdir()
    for number, seed in enumerate(seeds):
        (corpus / str(number)).write_bytes(seed)
    options = [f"-max_total_time={seconds}", "-timeout=20", "-rss_limit_mb=1500", "-max_len=20000", "-verbosity=1"]
    atheris.Setup([sys.argv[0], *options, f"-artifact_prefix={folder}/", str(corpus)], test)
    atheris.Fuzz()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("targets", nargs="*", help=f"of {', '.join(TARGETS)}; all if none is named")
    parser.add_argument("--seconds", type=int, default=600)
    parser.add_argument("--inside", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.inside:
        _inside(given.targets[0], given.inside, given.seconds)
        return 0
    bad = 0
    for target in given.targets or TARGETS:
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as temporary:
            folder = Path(temporary)
            command = [sys.executable, __file__, target, "--seconds", str(given.seconds), "--inside", temporary]
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            worked = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            runs = re.search(r"Done (\d+) runs in (\d+) second", done.stderr)
            kept = len(list((folder / "corpus").glob("*")))
            findings = folder / "findings.jsonl"
            found = [json.loads(line) for line in findings.read_text().splitlines()] if findings.exists() else []
            stopped = [
                path.name for path in folder.glob("*-*") if path.name.split("-")[0] in {"crash", "timeout", "oom"}
            ]
            counted = (
                f"{int(runs[1]):,} executions in {runs[2]} s, {worked:.0f} s of processor time" if runs else "broke off"
            )
            print(f"{target}: {counted}, {kept} inputs kept, {len(found) + len(stopped)} findings", flush=True)
            for one in found:
                print(f"  {one['kind']}\n  input {one['input'][:400]}\n{one['traceback']}", flush=True)
            for name in stopped:
                print(f"  {name}: {(folder / name).read_bytes()[:4000].hex()}", flush=True)
            if not runs:
                print(done.stderr[-2000:], flush=True)
            bad += len(found) + len(stopped) + (not runs)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())

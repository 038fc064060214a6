"""What the named files hold, each read by its kind; nothing is written here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tepal.ledger._entry import Entry, entry_from_plain
from tepal.ledger._weather import WeatherBatch
from tepal.ledger.formats._boundaries import SiteDraft
from tepal.ledger.formats._columns import understand
from tepal.ledger.formats._drafts import NO_ID, Checked, Defaults, TableDrafts, Vocabulary, checked
from tepal.ledger.formats._jsonl import read_entries
from tepal.ledger.formats._maps import MAP_SUFFIXES, read_map
from tepal.ledger.formats._photos import PHOTO_SUFFIXES, PhotoFile, read_photo
from tepal.ledger.formats._places import COUNT
from tepal.ledger.formats._plants import PLANT_COLUMNS, look_columns, near_looks, plants_from_table
from tepal.ledger.formats._sounds import SOUND_SUFFIXES, SoundFile, read_sound_file
from tepal.ledger.formats._stops import STOP_COLUMNS, stops_from_table, taxon_columns
from tepal.ledger.formats._treatments import TREATMENT_COLUMNS, is_treatments, treatments_from_table
from tepal.ledger.formats._weather import (
    WEATHER_COLUMNS,
    WeatherFile,
    ghcn_from_file,
    is_weather,
    weather_from_table,
)
from tepal.tables import Refused, Table, Where, read_csv

ENTRIES_FILE, PHOTOS_FOLDER, SOUNDS_FOLDER, WEATHER_FOLDER = "entries.jsonl", "photos", "sounds", "weather"
NOBODY = "file"  # who made an entry, where neither the file nor the person taking it says
CAN_BE_TAKEN = (
    "entries (.jsonl), tables (.csv, .tsv, .txt), maps (.geojson, .json, .gpx, .kml, .kmz, .gpkg, .shp, .zip with a "
    "Shapefile), weather (.csv, .dly), photos (.jpg, .png, .heic), voice notes (.webm, .m4a, .ogg), "
    "and folders that `give` made"
)


@dataclass(frozen=True, slots=True)
class Understanding:
    """What one file was taken to hold, and what was made of its columns."""

    file: str
    holds: str
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class Gathered:
    """All that the files say, in their order."""

    entries: list[tuple[Entry, Where]] = field(default_factory=list)
    rows: list[list[Checked]] = field(default_factory=list)
    marks: list[tuple[str, list[Checked]]] = field(default_factory=list)
    """Lines and points of map files, by the file's name, which may be that of their site."""
    drawn: list[tuple[Entry, Where]] = field(default_factory=list)
    """Entries that map files of ours bring back whole."""
    sites: list[SiteDraft] = field(default_factory=list)
    batches: list[tuple[str, WeatherBatch]] = field(default_factory=list)
    photos: list[PhotoFile] = field(default_factory=list)
    sounds: list[SoundFile] = field(default_factory=list)
    originals: list[PhotoFile | SoundFile] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    understood: list[Understanding] = field(default_factory=list)

    @property
    def anything(self) -> bool:
        """Is there anything to write?"""
        return bool(
            self.entries
            or self.drawn
            or any(self.rows)
            or any(rows for _, rows in self.marks)
            or self.sites
            or self.batches
            or self.photos
            or self.sounds
        )


def gather(paths: Sequence[Path], words: Vocabulary, defaults: Defaults, *, corrects: bool = False) -> Gathered:
    """Read every file; what cannot be read is refused by name and the others go on."""
    out = Gathered()
    for path in paths:
        try:
            if path.is_dir():
                _folder(path, words, defaults, out)
            else:
                _file(path, words, defaults, out, corrects=corrects)
        except Refused as problem:
            out.refused.append(problem)
    return out


def _file(path: Path, words: Vocabulary, defaults: Defaults, out: Gathered, *, corrects: bool) -> None:
    suffix = path.suffix.casefold()
    if not path.exists():
        raise Refused("no such file", where=str(path), rule="It must exist.", step="Check the name.")
    if suffix in {".jsonl", ".ndjson"}:
        entries, refused = read_entries(path, defaults)
        out.entries += entries
        out.refused += refused
        out.understood.append(Understanding(path.name, "entries"))
    elif suffix in {".csv", ".tsv", ".txt", ".dly"}:
        weather = ghcn_from_file(path, station=defaults.station, today=defaults.today, corrects=corrects)
        if weather is not None:
            _weather(weather, path.name, out)
        else:
            _table(read_csv(path), path.stem, words, defaults, out, corrects=corrects)
    elif suffix in MAP_SUFFIXES:
        _map(path, words, defaults, out)
    elif suffix in PHOTO_SUFFIXES:
        out.photos.append(read_photo(path))
        out.understood.append(Understanding(path.name, "a photo", _photo_notes(out.photos[-1], defaults)))
    elif suffix in SOUND_SUFFIXES:
        out.sounds.append(read_sound_file(path))
        out.understood.append(Understanding(path.name, "a voice note"))
    else:
        raise Refused(
            f"the kind of file {suffix or 'without a suffix'!r} was not understood",
            where=path.name,
            rule=f"What can be taken: {CAN_BE_TAKEN}.",
            step="Export it as one of these.",
        )


def _photo_notes(photo: PhotoFile, defaults: Defaults) -> tuple[str, ...]:
    notes = []
    taken = photo.taken_by(defaults.today)
    if taken is not None:
        notes.append(f"taken {taken:%Y-%m-%d %H:%M}")
    elif photo.taken_at is not None:
        notes.append(f"its clock says {photo.taken_at.date()}, which has not been yet: not used")
    if photo.at is not None:
        notes.append("with its place")
    return tuple(notes)


def _map(path: Path, words: Vocabulary, defaults: Defaults, out: Gathered) -> None:
    found = read_map(path, words, defaults)
    out.refused += found.refused
    out.drawn += found.entries
    for site in found.sites:
        try:
            _check_site(site)
            out.sites.append(site)
        except Refused as problem:
            out.refused.append(problem)
    out.marks.append((path.stem, checked(found.rows, by=defaults.by or NOBODY, refused=out.refused)))
    out.understood.append(Understanding(path.name, "a map", tuple(found.said)))


def _check_site(site: SiteDraft) -> None:
    """Refuse what could be no site, before anything is written."""
    body = {"name": site.site, "ground": "field", **site.fields}
    given = {"id": NO_ID, "kind": "site", "site": site.site, "by": NOBODY, "made_at": "2000-01-01T00:00:00Z"}
    entry_from_plain({**given, "body": body}, where=site.where)


def _folder(path: Path, words: Vocabulary, defaults: Defaults, out: Gathered) -> None:
    """A folder in the faithful form."""
    if not (path / ENTRIES_FILE).is_file():
        raise Refused(
            f"a folder without {ENTRIES_FILE}",
            where=str(path),
            rule="A folder is taken as `give` makes it.",
            step="Name the files in it one by one.",
        )
    # As it was given: the defaults of this call are not part of that record.
    plain = Defaults(today=defaults.today)
    _file(path / ENTRIES_FILE, words, plain, out, corrects=False)
    for weather in sorted((path / WEATHER_FOLDER).glob("*.csv")):
        _file(weather, words, plain, out, corrects=False)
    told = {entry.body.sha256 for entry, _ in out.entries if entry.kind in {"photo", "sound"}}  # type: ignore[attr-defined]
    for original in sorted((path / PHOTOS_FOLDER).glob("*")):
        if original.suffix.casefold() in PHOTO_SUFFIXES:
            photo = read_photo(original)
            _check_name(photo)
            (out.originals if photo.sha256 in told else out.photos).append(photo)
    for original in sorted((path / SOUNDS_FOLDER).glob("*")):
        if original.suffix.casefold() in SOUND_SUFFIXES:
            sound = read_sound_file(original)
            _check_name(sound)
            (out.originals if sound.sha256 in told else out.sounds).append(sound)


def _check_name(original: PhotoFile | SoundFile) -> None:
    stem = original.path.stem
    if len(stem) == len(original.sha256) and stem != original.sha256:
        what = "photo" if isinstance(original, PhotoFile) else "voice note"
        raise Refused(
            f"the {what} is not the one it is named for",
            where=original.path.name,
            rule="An original is named by the SHA-256 of its content.",
            step="Copy it again from where it came.",
        )


def _weather(found: WeatherFile, file: str, out: Gathered) -> None:
    out.batches += [(file, batch) for batch in found.batches]
    out.refused += found.refused
    notes = [
        *found.said,
        *(
            f"{len(batch.days):,} day{'s' if len(batch.days) != 1 else ''} of station '{batch.station}'"
            for batch in found.batches
        ),
    ]
    out.understood.append(Understanding(file, "daily weather", tuple(notes)))


def _table(table: Table, stem: str, words: Vocabulary, defaults: Defaults, out: Gathered, *, corrects: bool) -> None:
    if not table.rows:
        raise Refused("no rows", where=table.file, rule="A table has at least one.", step="Check the export.")
    if is_weather(understand(table, WEATHER_COLUMNS)):
        found = weather_from_table(table, station=defaults.station, stem=stem, today=defaults.today, corrects=corrects)
        _weather(found, table.file, out)
        return
    drafts = _rows(table, words, defaults)
    out.rows.append(checked(drafts.drafts, by=defaults.by or NOBODY, refused=drafts.refused))
    # In the order of the file: a person reads it beside the list.
    out.refused += sorted(drafts.refused, key=lambda problem: problem.where.line or 0)
    out.understood.append(Understanding(table.file, drafts.holds, tuple(drafts.said)))


def _rows(table: Table, words: Vocabulary, defaults: Defaults) -> TableDrafts:
    if is_treatments(understand(table, TREATMENT_COLUMNS)):
        return treatments_from_table(table, words, defaults)
    looks = {want.key for want in look_columns(words)}
    plants = understand(table, (*PLANT_COLUMNS, *look_columns(words)))
    stops = understand(table, STOP_COLUMNS)
    if looks & set(plants.columns) or ("stage" in plants and "count" not in stops):
        return plants_from_table(table, words, defaults)
    if COUNT.key in stops or taxon_columns(stops, words):
        return stops_from_table(table, words, defaults)
    near = [f"{header!r} may be {' or '.join(meant)}" for header, meant in near_looks(table.columns, words).items()]
    raise Refused(
        "what the table holds was not understood",
        where=Where(table.file, 1),
        rule=(
            "Tables are stops (a column count, or one for each taxon), plants (columns named by characters), "
            f"treatments (a column what) or weather (date, tmin_c, tmax_c); the columns are {', '.join(table.columns)}."
        ),
        step=f"Name the columns so in the first line{'; ' + ', '.join(near) if near else ''}.",
    )

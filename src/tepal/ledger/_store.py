"""The ledger: an append-only log of entries in one store."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, func, select
from sqlalchemy.engine import Engine
from sqlalchemy.exc import OperationalError

from tepal.ledger._engine import is_url, open_engine, take_lock, writing
from tepal.ledger._entry import Entry
from tepal.ledger._rows import batch_of, batches_query, entry_of, of_kinds, table_of
from tepal.ledger._schema import batches as batch_table
from tepal.ledger._schema import entries as entry_table
from tepal.ledger._sites import NamedSite, SiteBook, SiteName, standing_names
from tepal.ledger._standing import Standing, standing
from tepal.ledger._unwritten import not_written
from tepal.ledger._weather import WeatherBatch, WeatherTable
from tepal.ledger._writer import Added, Writer
from tepal.tables import Refused


class Ledger:
    """One ledger. `Ledger.open` finds or makes it; use it in `with`, or `close` it.

    Everything that is read takes `known_to`: the position in the log up to which entries and weather are considered,
    so that an answer given last month can be given again.
    """

    def __init__(self, engine: Engine, where: str | Path, photos: Path | None) -> None:
        self._engine = engine
        self.where = str(where)
        self._photos = photos

    @classmethod
    def open(cls, where: str | Path, *, create: bool = False, photos: Path | None = None) -> Ledger:
        """Open a ledger: a path is SQLite (write-ahead log), ``postgresql://…`` is PostgreSQL.

        An older ledger is brought to this version, in one transaction. `photos` is the folder in which originals are
        kept; where it is not given, it is ``<ledger>.photos`` beside the file.

        Raises
        ------
        Refused
            If there is none and `create` is not set, it is something else, or a newer version made it.
        """
        if photos is None and not is_url(where):
            photos = Path(f"{where}.photos")
        return cls(open_engine(where, create=create), where, photos)

    def close(self) -> None:
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def photos(self) -> Path:
        """The folder of the originals.

        Raises
        ------
        Refused
            On a PostgreSQL ledger that was opened without one.
        """
        if self._photos is None:
            raise Refused(
                "no folder for photos",
                where="ledger",
                rule="A ledger on PostgreSQL keeps originals in a folder that is named.",
                step="Open it with photos=FOLDER (--photos).",
            )
        return self._photos

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """One transaction under the one write lock: all that is added in it is there afterwards, or nothing is.

        Raises
        ------
        Refused
            If the store cannot be written: its disk is full, it may only be read, another program holds it.
        """
        with self.connected(write=True) as connection:
            yield Writer(connection)

    @contextmanager
    def connected(self, *, write: bool = False) -> Iterator[Connection]:
        """A connection in one transaction, for what stands in the same store beside the record (the office's tables).

        With `write` it holds the one write lock until it ends.

        Raises
        ------
        Refused
            If the store cannot be written.
        """
        if not write:
            with self._engine.connect() as connection:
                yield connection
            return
        try:
            with writing(self._engine) as connection, connection.begin():
                take_lock(connection)
                yield connection
        except OperationalError as problem:
            raise not_written(problem, self._shown) from None

    def add(self, entries: Iterable[Entry], *, weather: Iterable[WeatherBatch] = ()) -> Added:
        """Add entries and weather in one transaction. What breaks a rule is left out and named; the rest goes in.

        The same id twice changes nothing; the same id with other content is refused; so is an amendment of an entry
        that is not there, or is of another site or kind.
        """
        with self.writing() as writer:
            return writer.add(entries) + writer.add_weather(weather)

    def entries(
        self,
        site: str | None = None,
        kinds: Iterable[str] | None = None,
        known_to: int | None = None,
        *,
        after: int = 0,
        limit: int | None = None,
    ) -> list[Entry]:
        """Entries in order of `seq`: of a site, of some kinds, up to `known_to`, after a cursor, at most `limit`."""
        query = select(entry_table).where(entry_table.c.seq > after).order_by(entry_table.c.seq)
        if site is not None:
            query = query.where(entry_table.c.site == site)
        if kinds is not None:
            query = query.where(entry_table.c.kind.in_(list(kinds)))
        if known_to is not None:
            query = query.where(entry_table.c.seq <= known_to)
        if limit is not None:
            query = query.limit(limit)
        with self._engine.connect() as connection:
            return [entry_of(row) for row in connection.execute(query)]

    def get(self, id: str) -> Entry | None:
        """The entry with this id, or None."""
        with self._engine.connect() as connection:
            row = connection.execute(select(entry_table).where(entry_table.c.id == id)).first()
            return None if row is None else entry_of(row)

    def standing(self, site: str | None, as_of: date | None = None, known_to: int | None = None) -> Standing:
        """The entries of a site (None: of the whole ledger) that count on a date, given what was known."""
        position = self.last_seq if known_to is None else known_to
        return standing(self.entries(site, known_to=position), as_of=as_of, site=site, known_to=position)

    def standing_of(
        self, kinds: Iterable[str], as_of: date | None = None, known_to: int | None = None
    ) -> tuple[Entry, ...]:
        """The entries of some kinds, of all sites together, that count on a date, given what was known."""
        position = self.last_seq if known_to is None else known_to
        query = of_kinds(kinds).where(entry_table.c.seq <= position)
        with self._engine.connect() as connection:
            found = [entry_of(row) for row in connection.execute(query)]
        return standing(found, as_of=as_of, known_to=position).entries

    def site_ids(self) -> list[str]:
        """Every site that an entry names, sorted."""
        query = select(entry_table.c.site).where(entry_table.c.site.is_not(None)).distinct()
        with self._engine.connect() as connection:
            # Sorted here: a database would sort by its own locale.
            return sorted(connection.execute(query).scalars())

    def sites(self) -> list[SiteName]:
        """Every site with what its standing entry calls it, by id."""
        named = self._names()
        return [SiteName(site, named.get(site, site)) for site in self.site_ids()]

    def _names(self, site: str | None = None) -> dict[str, str]:
        query = of_kinds(("site",)) if site is None else select(entry_table).where(
            entry_table.c.site == site, entry_table.c.kind.in_(("site", "withdraw"))
        ).order_by(entry_table.c.seq)  # fmt: skip
        with self._engine.connect() as connection:
            # The names alone, for years of sites: a boundary need not be read to know what its field is called.
            return standing_names(
                [
                    NamedSite(row.id, row.kind, row.site, row.amends, json.loads(row.body).get("name"))
                    for row in connection.execute(query)
                ]
            )

    def find_site(self, text: str) -> SiteName:
        """The site that a person means: its id or its name, capitals, spaces and signs apart.

        Raises
        ------
        Refused
            If there is none, or several.
        """
        with self._engine.connect() as connection:
            known = connection.execute(select(entry_table.c.seq).where(entry_table.c.site == text).limit(1)).first()
        if known is not None:
            return SiteName(text, self._names(text).get(text, text))
        return SiteBook(self.sites()).find(text, where=self._shown)

    def position(self, known_to: int | None) -> int:
        """The place in the log that a person names, the last one where none is named.

        Raises
        ------
        Refused
            If there is no such place.
        """
        last = self.last_seq
        if known_to is not None and not 0 <= known_to <= last:
            raise Refused(
                f"--known-to {known_to}",
                where=self._shown,
                rule=f"The places in this ledger are 0 to {last}.",
                step="Give one of them; `tepal history SITE` shows which entry stands where.",
            )
        return last if known_to is None else known_to

    @property
    def last_seq(self) -> int:
        """The position of what came in last; 0 for an empty ledger."""
        with self._engine.connect() as connection:
            return last_seq(connection)

    def stations(self) -> list[str]:
        """Stations that have weather, sorted."""
        with self._engine.connect() as connection:
            return sorted(connection.execute(select(batch_table.c.station).distinct()).scalars())

    def station_places(self, known_to: int | None = None) -> dict[str, tuple[float, float] | None]:
        """Stations known by `known_to`, and where each stands: (longitude, latitude), None where no file said it."""
        columns = (batch_table.c.station, batch_table.c.lon, batch_table.c.lat)
        query = batches_query(None, known_to).with_only_columns(*columns)
        places: dict[str, tuple[float, float] | None] = {}
        with self._engine.connect() as connection:
            for name, lon, lat in connection.execute(query):
                places[name] = (lon, lat) if lon is not None and lat is not None else places.get(name)
        return dict(sorted(places.items()))

    def weather_batches(self, station: str | None = None, known_to: int | None = None) -> list[WeatherBatch]:
        """Batches in order of arrival."""
        with self._engine.connect() as connection:
            return [batch_of(row) for row in connection.execute(batches_query(station, known_to))]

    def weather(self, station: str | None = None, known_to: int | None = None) -> WeatherTable:
        """What stands of a station's weather. Without a name: of the only station.

        Raises
        ------
        Refused
            If there is no such station, or several and none is named.
        """
        stations = self.stations()
        name = station if station is not None else (stations[0] if len(stations) == 1 else None)
        if name is None or name not in stations:
            raise Refused(
                f"station {station!r}" if station else "no station named",
                where=self._shown,
                rule=f"The ledger has weather of: {'; '.join(stations) or 'no station'}.",
                step="Name one of them, or take its weather in.",
            )
        with self._engine.connect() as connection:
            return table_of(name, connection.execute(batches_query(name, known_to)))

    @property
    def _shown(self) -> str:
        return "ledger" if is_url(self.where) else self.where


def last_seq(connection: Connection) -> int:
    found = [connection.execute(select(func.max(t.c.seq))).scalar() or 0 for t in (entry_table, batch_table)]
    return int(max(found))

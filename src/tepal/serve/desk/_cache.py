"""Readings that were made, kept in the store until something that concerns them comes in."""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import delete, func, insert, select

from tepal.ledger import Ledger
from tepal.ledger._schema import desk_readings as kept

# So many days a site are kept: today's, and those that people looked back at.
_DAYS = 6


@dataclass(frozen=True, slots=True)
class Key:
    """What a reading is a function of beside the site and the day: place in the ledger, tables, settings, version."""

    position: int
    tables: str
    settings: str
    version: str


@dataclass(frozen=True, slots=True)
class Brief:
    """What a list needs of a site: `told` as made by `_told.told`, from `key`, at `made_at`."""

    site: str
    as_of: date
    key: Key
    made_at: datetime
    told: dict[str, Any]


class Cache:
    """The kept readings of a ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def briefs(self, as_of: date) -> dict[str, Brief]:
        """Of each site the reading of that day; where there is none, the last one of a day before it."""
        last = (
            select(kept.c.site, func.max(kept.c.as_of).label("as_of"))
            .where(kept.c.as_of <= as_of.isoformat())
            .group_by(kept.c.site)
            .subquery()
        )
        columns = [column for column in kept.c if column.name != "page"]
        query = select(*columns).join(last, (kept.c.site == last.c.site) & (kept.c.as_of == last.c.as_of))
        with self._ledger.connected() as connection:
            return {row.site: _brief(row) for row in connection.execute(query)}

    def page(self, brief: Brief) -> dict[str, Any] | None:
        """The whole of a reading; None where it was thrown away meanwhile."""
        query = select(kept.c.page).where(kept.c.site == brief.site, kept.c.as_of == brief.as_of.isoformat())
        with self._ledger.connected() as connection:
            found = connection.execute(query).scalar()
        return None if found is None else json.loads(zlib.decompress(found))

    def put(self, made: Sequence[tuple[Brief, dict[str, Any]]]) -> None:
        """Keep readings in place of those of the same site and day; days that nobody needs any more go."""
        with self._ledger.connected(write=True) as connection:
            for brief, page in made:
                same = (kept.c.site == brief.site) & (kept.c.as_of == brief.as_of.isoformat())
                connection.execute(delete(kept).where(same))
                days = connection.execute(
                    select(kept.c.as_of).where(kept.c.site == brief.site).order_by(kept.c.made_at.desc())
                ).scalars()
                old = list(days)[_DAYS - 1 :]
                if old:
                    connection.execute(delete(kept).where(kept.c.site == brief.site, kept.c.as_of.in_(old)))
                connection.execute(
                    insert(kept).values(
                        site=brief.site,
                        as_of=brief.as_of.isoformat(),
                        position=brief.key.position,
                        tables=brief.key.tables,
                        settings=brief.key.settings,
                        version=brief.key.version,
                        made_at=brief.made_at.astimezone(UTC).isoformat(timespec="microseconds"),
                        brief=_text(brief.told),
                        page=zlib.compress(_text(page).encode(), 6),
                    )
                )

    def empty(self) -> None:
        """Throw all of it away."""
        with self._ledger.connected(write=True) as connection:
            connection.execute(delete(kept))


def _brief(row: Any) -> Brief:
    key = Key(row.position, row.tables, row.settings, row.version)
    day, made = date.fromisoformat(row.as_of), datetime.fromisoformat(row.made_at)
    return Brief(row.site, day, key, made, json.loads(row.brief))


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))

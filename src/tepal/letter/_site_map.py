"""The map of a letter by itself, for a page that shows the site."""

from __future__ import annotations

from collections.abc import Sequence

from tepal.ledger import Entry, event_date
from tepal.letter._from_reading import map_data
from tepal.letter._map import Drawn, draw
from tepal.reading import Reading
from tepal.words import Words


def site_map(
    reading: Reading, entries: Sequence[Entry], words: Words, *, width: float, high: float, clip_id: str = "ground"
) -> Drawn | None:
    """The ground with what was seen there this season, `width` points wide, the ground at most `high` points high; None
    where there is no place to show. `entries`: those that stand on the day; `clip_id` must differ between two maps of
    one page."""
    season = [entry for entry in entries if event_date(entry).year == reading.as_of.year]
    return draw(map_data(reading, season), words, site=reading.place.name, width=width, high=high, clip_id=clip_id)

"""What no field can hold: refused where it comes in, since one such entry would keep its whole site from being read."""

from __future__ import annotations

from tepal.flora import load
from tepal.ground import area_m2, boundary_from_geojson
from tepal.ledger import Entry, Plant, Site, Stop
from tepal.plant._looks import checked_looks
from tepal.tables import Refused, Where

MOST_PER_M2 = 1e6
"""A hundred on each square centimetre."""
MOST_M2 = 1e9
"""A hundred thousand hectares: a county, not a site."""


def check_plausible(entry: Entry, where: Where) -> None:
    """Refuse looks that the tables do not know, counts that find no room, and sites as large as a county.

    Raises
    ------
    Refused
        If it is so.
    """
    body = entry.body
    if isinstance(body, Plant):
        try:
            checked_looks(dict(body.looks), load())
        except Refused as problem:
            raise problem.at(Where(where.file, None, "body.looks")) from None
    elif isinstance(body, Stop):
        area, count = body.looked_at_m2, sum(tally.count for tally in body.counts)
        if area is not None and count > MOST_PER_M2 * area:
            raise Refused(
                f"{count} plants on {area:g} m²",
                where=Where(where.file, None, "body.counts"),
                rule=f"On a square metre stand at most {MOST_PER_M2:,.0f}.",
                step="Correct the count or the area.",
            )
    elif isinstance(body, Site) and body.boundary is not None:
        size = area_m2(boundary_from_geojson(body.boundary, where="boundary"))
        if size > MOST_M2:
            raise Refused(
                f"a site of {size / 1e4:,.0f} hectares",
                where=Where(where.file, None, "body.boundary"),
                rule=f"A site has at most {MOST_M2 / 1e4:,.0f}.",
                step="Draw the field alone.",
            )

"""Where the known sites lie, to catch what is told of the wrong one: places swapped, a sign lost, another field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from tepal.ledger._bodies import Site
from tepal.ledger._entry import Entry
from tepal.ledger._sites import bare
from tepal.ledger._standing import standing
from tepal.ledger._store import Ledger
from tepal.ledger.formats._united_states import in_states, is_state
from tepal.tables import Refused, Where

FAR_M = 2_000.0
FAR_WIDTHS = 3.0
FAR_FROM_POINT_M = 5_000.0  # a point may be the corner of a section, a mile and more from what was seen
_DRAWN = {"walk": "track", "stop": "at", "plant": "at"}


def standing_sites(ledger: Ledger) -> dict[str, Site]:
    """Site → what stands of it, of the sites that have an entry of their own."""
    stands = standing(ledger.entries(kinds=("site", "withdraw"))).entries
    return {one.site: one.body for one in stands if one.site is not None and isinstance(one.body, Site)}


def sites_in_us(sites: Mapping[str, Site]) -> dict[str, bool]:
    """By `bare` id and name: is the site in the United States? Sites that do not say where they are are left out."""
    out: dict[str, bool] = {}
    for id, body in sites.items():
        point = _middle(body)
        # The regions of the tables are of the United States.
        known = is_state(body.state) if body.state else None if body.region is None else True
        if point is not None and known is None:
            known = in_states(*point)
        if known is not None:
            out |= {bare(id): known, bare(body.name): known}
    return out


def _middle(body: Site) -> tuple[float, float] | None:
    if body.boundary is None:
        return body.point
    import shapely

    middle = shapely.geometry.shape(body.boundary).representative_point()
    return middle.x, middle.y


class SiteGround:
    """The sites with a boundary or a point, and how far a place may lie from its own."""

    def __init__(self, sites: Mapping[str, Site]) -> None:
        self._sites = dict(sites)
        self._shapes: dict[str, Any] = {}

    def learn(self, site: str, body: Site) -> None:
        """What is now known of a site."""
        self._sites[site] = body
        self._shapes.pop(site, None)

    def check(self, entry: Entry, where: Where) -> None:
        """Refuse a stop, a plant or a walk that lies far from its site.

        Raises
        ------
        Refused
            If all of it is farther from the boundary than `FAR_M` and `FAR_WIDTHS` times its extent, or than
            `FAR_FROM_POINT_M` from a point. The refusal says what may have happened: another site, swapped
            coordinates, a lost sign.
        """
        drawn = getattr(entry.body, _DRAWN.get(entry.kind, ""), None)
        if drawn is None or entry.site not in self._sites:
            return
        body = self._sites[entry.site]
        away = self._away(entry.site, _shape(drawn))
        if away is None or away <= 0:
            return
        what = "the walk" if entry.kind == "walk" else f"the {entry.kind} at {drawn[0]:.5f}, {drawn[1]:.5f}"
        kind = "boundary" if body.boundary else "point"
        raise Refused(
            f"{what} lies {self._metres(entry.site, _shape(drawn)) / 1000:,.1f} km from the {kind} of {body.name!r}",
            where=where,
            rule="What is told of a site lies there or near it.",
            step=f"{self._meant(entry.site, _shape(drawn))} Or give --insist to take it as it is.",
        )

    def check_moved(self, site: str, boundary: Mapping[str, Any], where: Where) -> None:
        """Refuse a new boundary that lies far from the one that is known.

        Raises
        ------
        Refused
            As `check`.
        """
        away = self._away(site, _shape(boundary))
        if away is not None and away > 0:
            raise Refused(
                f"the new boundary lies {self._metres(site, _shape(boundary)) / 1000:,.1f} km from what is known of "
                f"{self._sites[site].name!r}",
                where=where,
                rule="A field does not move.",
                step="Is it another site? Then name it. Or give --insist to take it as it is.",
            )

    def _away(self, site: str, shape: Any) -> float | None:
        """Metres beyond what is allowed; None where nothing is known of the site's place."""
        known = self._known(site)
        if known is None:
            return None
        frame, there, limit = known
        return float(there.distance(_in(frame, shape))) - limit

    def _metres(self, site: str, shape: Any) -> float:
        frame, there, _ = self._shapes[site]
        return float(there.distance(_in(frame, shape)))

    def _known(self, site: str) -> tuple[Any, Any, float] | None:
        if site not in self._shapes:
            body = self._sites.get(site)
            middle = None if body is None else _middle(body)
            if body is None or middle is None:
                self._shapes[site] = None
            else:
                self._shapes[site] = _measured(body, middle)
        found: tuple[Any, Any, float] | None = self._shapes[site]
        return found

    def _meant(self, site: str, shape: Any) -> str:
        import shapely

        known = self._known(site)
        near = next((point for point in shapely.get_coordinates(shape)), None)
        others = [
            body.name
            for id, body in self._sites.items()
            if id != site and body.boundary and shapely.geometry.shape(body.boundary).intersects(shape)
        ]
        if others:
            return f"It lies in {others[0]!r}: is that the site?"
        assert known is not None and near is not None
        frame, there, limit = known
        lon, lat = (float(value) for value in near)
        for moved, says in (
            ((lat, lon), "Longitude and latitude may be swapped: there they would fit."),
            ((-lon, lat), "The longitude may have lost its minus sign: west is negative."),
            ((lon, -lat), "The latitude may have a sign too many."),
        ):
            fits = abs(moved[1]) <= 90
            if fits and there.distance(_in(frame, shapely.Point(moved))) <= limit:
                return says
        return "Is it the right site, and are the coordinates right?"


def far(entries: Iterable[tuple[Entry, Where]], ground: SiteGround) -> list[Refused]:
    """What `SiteGround.check` says of entries that are taken whatever it says."""
    out = []
    for entry, where in entries:
        try:
            ground.check(entry, where)
        except Refused as problem:
            out.append(problem)
    return out


def _shape(drawn: Any) -> Any:
    import shapely

    return shapely.geometry.shape(dict(drawn)) if isinstance(drawn, Mapping) else shapely.Point(drawn)


def _measured(body: Site, middle: tuple[float, float]) -> tuple[Any, Any, float]:
    import shapely

    from tepal.ground import Frame

    frame = Frame(*middle)
    if body.boundary is None:
        return frame, _in(frame, shapely.Point(middle)), FAR_FROM_POINT_M
    there = _in(frame, shapely.geometry.shape(body.boundary))
    west, south, east, north = there.bounds
    return frame, there, max(FAR_M, FAR_WIDTHS * max(east - west, north - south))


def _in(frame: Any, shape: Any) -> Any:
    import numpy as np
    import shapely

    return shapely.transform(shape, lambda points: np.asarray(frame.to_metres(points)))

"""Views of the record for spreadsheets and maps: what stands now, in SI units."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from tepal.ledger._bodies import Done, Plant, Site, Stop
from tepal.ledger._entry import Entry, body_plain, event_date
from tepal.ledger._standing import Standing
from tepal.ledger.formats._carried import FIELD, carried

# A spreadsheet runs a cell that starts so; a leading apostrophe makes it text.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def views(stands: Standing) -> dict[str, str]:
    """File name → text: tables of stops, plants and things done, maps of sites and stops."""
    stops = [(e, e.body) for e in stands.entries if isinstance(e.body, Stop)]
    plants = [(e, e.body) for e in stands.entries if isinstance(e.body, Plant)]
    done = [(e, e.body) for e in stands.entries if isinstance(e.body, Done)]
    sites = [(e, e.body) for e in stands.entries if isinstance(e.body, Site)]
    return {
        "stops.csv": _csv(_stop_rows(stops)),
        "plants.csv": _csv(_plant_rows(plants)),
        "done.csv": _csv(_done_row(e, body) for e, body in done),
        "sites.geojson": _geojson(
            (body.boundary or (body.point and {"type": "Point", "coordinates": list(body.point)}), _site(e, body))
            for e, body in sites
        ),
        "stops.geojson": _geojson(
            (body.at and {"type": "Point", "coordinates": list(body.at)}, {**_stop(e, body), FIELD: carried(e)})
            for e, body in stops
        ),
    }


def csv_cell(value: Any) -> str:
    """A value as a cell's text; text that a spreadsheet would run as a formula is made plain text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{value:.12g}"
    text = str(value).replace("\r\n", "\n").replace("\r", "\n")
    return f"'{text}" if text.lstrip(" \n").startswith(_FORMULA) or text.startswith(_FORMULA) else text


def _head(entry: Entry) -> dict[str, Any]:
    return {"entry": entry.id, "site": entry.site, "date": event_date(entry).isoformat(), "by": entry.by}


def _at(point: Sequence[float] | None) -> dict[str, Any]:
    return {"lon": point[0] if point else None, "lat": point[1] if point else None}


def _stop_rows(stops: Iterable[tuple[Entry, Stop]]) -> Iterable[dict[str, Any]]:
    for entry, body in stops:
        place = {**_head(entry), **_at(body.at), "area_m2": body.looked_at_m2, "words": body.words}
        for tally in body.counts:
            yield {
                **place,
                "taxon": tally.taxon,
                "size": tally.size,
                "count": tally.count,
                "tallest_cm": tally.tallest_cm,
            }
        if not body.counts:
            yield {**place, "taxon": None, "size": None, "count": 0, "tallest_cm": None}


def _plant_rows(plants: Sequence[tuple[Entry, Plant]]) -> Iterable[dict[str, Any]]:
    names = sorted({name for _, body in plants for name in body.looks})
    for entry, body in plants:
        looks = {name: body.looks.get(name) for name in names}
        yield {
            **_head(entry),
            **_at(body.at),
            "stage": body.stage,
            "height_cm": body.height_cm,
            "flowering": body.flowering,
            "seed_dark": body.seed_dark,
            "count": body.count,
            "words": body.words,
            **{name: "; ".join(map(str, look)) if isinstance(look, tuple) else look for name, look in looks.items()},
        }


def _done_row(entry: Entry, body: Done) -> dict[str, Any]:
    return {
        **_head(entry),
        "what": body.what,
        "ingredients": "; ".join(one.name for one in body.ingredients),
        "groups": "; ".join(one.group or "unknown" for one in body.ingredients),
        "rates": "; ".join(_rate(one.rate, one.unit) for one in body.ingredients),
        "volume_l_ha": body.volume_l_ha,
        "nozzle": body.nozzle,
        "adjuvant": body.adjuvant,
        "weather": body.weather,
        "tallest_cm": body.tallest_cm,
        "cut_height_cm": body.cut_height_cm,
        "share": body.share,
        "plants": body.plants,
        "hours": body.hours,
        "people": body.people,
        "re_entry_until": body.re_entry_until.isoformat() if body.re_entry_until else None,
        "pre_harvest_until": body.pre_harvest_until,
        "survivors": body.survivors,
        "words": body.words,
    }


def _rate(rate: float | None, unit: str | None) -> str:
    return "unknown" if rate is None else f"{rate:g} {unit or ''}".strip()


def _site(entry: Entry, body: Site) -> dict[str, Any]:
    plain = body_plain(body)
    kept = ("name", "ground", "county", "state", "region", "legal", "station")
    return {"entry": entry.id, "site": entry.site, **{key: plain[key] for key in kept if key in plain}}


def _stop(entry: Entry, body: Stop) -> dict[str, Any]:
    return {
        **_head(entry),
        "area_m2": body.looked_at_m2,
        "count": sum(tally.count for tally in body.counts),
        "counts": [tally.model_dump(mode="json", exclude_none=True) for tally in body.counts],
    }


def _csv(rows: Iterable[Mapping[str, Any]]) -> str:
    found = list(rows)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    header = list(found[0]) if found else ["entry"]
    writer.writerow(header)
    writer.writerows([csv_cell(row[name]) for name in header] for row in found)
    return out.getvalue()


def _geojson(features: Iterable[tuple[Any, Mapping[str, Any]]]) -> str:
    out = [{"type": "Feature", "geometry": geometry, "properties": props} for geometry, props in features if geometry]
    return json.dumps({"type": "FeatureCollection", "features": out}, ensure_ascii=False, allow_nan=False) + "\n"

"""What density may go with, as a person names it: the edge, water, or a column of the counts."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.cli._files import read_geojson
from tepal.cli._stand_table import numbers, places_of
from tepal.tables import Refused, Table, meant

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from tepal.ground import Frame
    from tepal.stand import Surface, Told
    from tepal.words import Words

EDGE, WATERWAY = "edge", "waterway"
# Below this probability no figure is told: it would be of chance.
_TELLS_LITTLE = 0.5
_TAKEN = ("x", "y", "lon", "lat", "area_m2", "area_ft2", "count")


def names_of(asked: str | None) -> list[str]:
    """The names in `asked`, commas between."""
    return [name.strip() for name in (asked or "").split(",") if name.strip()]


def surfaces(
    asked: str, tables: tuple[Table, ...], frame: Frame | None, site: BaseGeometry | None, waterways: Path | None
) -> tuple[dict[str, Surface], list[str]]:
    """A surface for each name in `asked` (commas between), and warnings; `tables`: counts, then places asked about.

    `site` in metres. A column stands at a place as it does at the nearest place of any table that has it.

    Raises
    ------
    Refused
        If a name is neither edge, waterway nor a column with numbers, or what it needs is not given.
    """
    from tepal.stand import distance_to, nearest_known

    found: dict[str, Surface] = {}
    warnings: list[str] = []
    for name in names_of(asked):
        if name in tables[0].columns and name not in _TAKEN:
            known = [_known(table, name, frame) for table in tables if name in table.columns and len(table)]
            places, values = zip(*known, strict=True) if known else ((), ())
            found[name] = _joined(nearest_known, places, values)
            if site is not None:
                at = sum(map(len, values))
                warnings.append(f"{name} is known at {at} places; elsewhere the nearest of them is taken.")
        elif name == EDGE:
            if site is None:
                raise _missing("edge", "--boundary", "The way to the edge needs the edge of the site.")
            found[name] = distance_to(site.boundary)
        elif name == WATERWAY:
            if waterways is None:
                raise _missing("waterway", "--waterways", "The way to water needs lines of the water.")
            found[name] = distance_to(_water(waterways, frame))
        else:
            others = [EDGE, WATERWAY, *(column for column in tables[0].columns if column not in _TAKEN)]
            raise Refused(
                f"covariate {name}",
                where="--covariates",
                rule=f"A covariate is {EDGE}, {WATERWAY} or a column of {tables[0].file}.",
                step=meant(name, others, f"Name some of {', '.join(others)}, with commas between."),
            )
    return found, warnings


def told(found: tuple[Told, ...]) -> list[dict[str, Any]]:
    """What the counts tell of each covariate, for JSON."""
    from tepal.doubt import summary

    return [
        {"name": one.name, "weight": one.weight} | ({} if one.ratio is None else {"high_to_low": summary(one.ratio)})
        for one in found
    ]


def sentences(found: tuple[Told, ...], words: Words) -> list[str]:
    """The same in words."""
    import numpy as np

    said = []
    for one in found:
        chance = words.chance(one.weight)
        name = {EDGE: words.t("the way to the edge"), WATERWAY: words.t("the way to water")}.get(one.name, one.name)
        if one.weight < _TELLS_LITTLE:
            said.append(
                words.t("Of {name} the counts tell little: {chance} that it matters.", name=name, chance=chance)
            )
            continue
        said.append(words.t("Density goes with {name}: {chance}.", name=name, chance=chance))
        if one.ratio is not None:
            low, middle, high = (words.number(float(v), 2) for v in np.quantile(one.ratio, (0.05, 0.5, 0.95)))
            said.append(
                words.t(
                    "On the quarter of the site where that is most, plants stand {middle} times as thick as on the "
                    "quarter where it is least ({low} to {high}).",
                    low=low, middle=middle, high=high,
                )
            )  # fmt: skip
    return said


def _known(table: Table, name: str, frame: Frame | None) -> tuple[Any, Any]:
    import numpy as np

    x, y, _ = places_of(table, frame)
    return np.column_stack([x, y]), numbers(table, name)


def _joined(nearest_known: Any, places: tuple[Any, ...], values: tuple[Any, ...]) -> Surface:
    import numpy as np

    surface: Surface = nearest_known(np.vstack(places), np.concatenate(values))
    return surface


def _water(path: Path, frame: Frame | None) -> BaseGeometry:
    from tepal.ground import boundary_from_geojson, line_from_geojson

    data: Mapping[str, Any] = read_geojson(path)
    try:
        water: BaseGeometry = line_from_geojson(data, where=path.name, lonlat=frame is not None)
    except Refused as refusal:
        # A pond is a polygon; what is neither is refused as no line.
        try:
            water = boundary_from_geojson(data, where=path.name, lonlat=frame is not None)
        except Refused:
            raise refusal from None
    return water if frame is None else frame.geometry_to_metres(water)


def _missing(name: str, option: str, rule: str) -> Refused:
    return Refused(f"covariate {name} without {option}", where="--covariates", rule=rule, step=f"Give {option}.")

"""`tepal clock`: weather and sightings to the dates that matter."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused, parse_date

if TYPE_CHECKING:
    from tepal.clock import Event, Forecast, Regrowth, Sighting, Weather, Window
    from tepal.flora import CropRow, Flora

_MEMBERS = 2000
_MEMBERS_UNSEEN = 300  # enough to tell whether any seedling can be up: the question is asked of impossible dates only
_EARLY_DAYS = 14  # plants seen so long before any can be up are another plant, or another day
_ONE_SEASON_DAYS, _AUTUMN = 150, 8


def clock(
    *,
    weather: Path | None = None,
    lat: float,
    as_of: str,
    taxon: str,
    seen: Annotated[tuple[str, ...], Parameter(negative=())] = (),
    planted: str | None = None,
    crop: str | None = None,
    tilled: Annotated[tuple[str, ...], Parameter(negative=())] = (),
    cut: str | None = None,
    outlook_c: float = 0.0,
    draw: Path | None = None,
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """When a weed comes up, passes 10 cm (4 in), flowers and has viable seed, as seen on a day.

    Parameters
    ----------
    weather: Path
        Daily weather of one station: date, tmin_c, tmax_c and, where measured, prcp_mm. Days after --as-of are never
        used; earlier years serve as possible futures. Without it a rough climate of the latitude stands in.
    lat: float
        Degrees north.
    as_of: str
        The day on which the question is asked, YYYY-MM-DD.
    taxon: str
        Code of the weed, as AMATU or AMAPA.
    seen: tuple[str, ...]
        What was seen, as 2026-06-01:height_cm=12 or height_in=5 (the tallest plants). Other names: typical_cm,
        typical_in, stage, flowering=1, seed_dark=1, none_up=1; several with commas. May be given more than once.
    planted: str
        The day the crop was planted, YYYY-MM-DD; sets its canopy.
    crop: str
        The crop, as soybean (with --planted): until when it can be cultivated and crossed, when it is ripe.
    tilled: tuple[str, ...]
        A day on which the whole ground was worked, YYYY-MM-DD: what was up is gone, new seedlings come. May be given
        more than once.
    cut: str
        When and how high plants were cut, as 2026-07-10:height_cm=15 or height_in=6: how many live, and when to be
        back.
    outlook_c: float
        A seasonal outlook: degrees Celsius to add to all temperatures to come.
    draw: Path
        A picture of the season to write: .svg, .png or .pdf.
    units: str
        us: inches and feet. metric: centimeters and meters.
    json_output: bool
        Print one JSON object.
    """
    from tepal.clock import Sighting, windows
    from tepal.flora import load

    if draw is not None:
        from tepal.cli._clock_picture import check_name

        check_name(draw)
    sightings = tuple(Sighting.from_text(text) for text in seen)
    planted_on = None if planted is None else parse_date(planted, "--planted")
    cut_at = None if cut is None else _cut(cut)
    flora = load()
    stands = _crop(crop, flora)
    worked = tuple(parse_date(day, "--tilled") for day in tilled)
    asked = partial(
        _forecast, weather, None if weather is None else _weather(weather), lat=lat, as_of=_season_day(as_of),
        taxon=taxon, flora=flora, planted=planted_on, tilled=worked, outlook_c=outlook_c,
    )  # fmt: skip
    found = asked(seen=sightings)
    if found.agreement < 1:
        _refuse_before_the_first(asked(seen=(), n=_MEMBERS_UNSEEN), sightings)
    again = None if cut_at is None else _regrowth(found, *cut_at)
    closing = windows(found, crop=stands, planted=planted_on, regrowth=again)
    in_autumn = stands is not None and planted_on is not None and _counts_from_autumn(stands, planted_on)
    if in_autumn:
        closing = tuple(one for one in closing if one.name not in {"crop_stage", "cross_rows", "harvest"})
    if json_output:
        answer = _plain(found, closing)
        if cut_at is not None and again is not None:
            answer["cut"] = _plain_cut(again, *cut_at)
    if draw is not None or not json_output:
        from tepal.words import Words

        words, name = Words(units=units), flora.taxon(found.taxon).english_name
    if draw is not None:
        from tepal.cli._clock_picture import draw as to_file

        to_file(found, draw, words, name=name)
    if json_output:
        _out.emit(answer)
        return _out.DONE
    from tepal.cli._clock_words import cut_plants, sentences

    lines = sentences(found, closing, words, name=name, crop=stands)
    if planted_on is not None and planted_on > found.as_of:
        lines.append(words.t("It is reckoned with a crop to be planted on {day}.", day=words.day_month(planted_on)))
    if in_autumn and stands is not None:
        lines.append(
            words.t(
                "The days of {crop} are counted from planting in autumn, so nothing is said of when it is crossed or "
                "ripe; give the spring crop's own name if it is one.", crop=words.t(stands.crop),
            )
        )  # fmt: skip
    if cut_at is not None and again is not None:
        lines += cut_plants(found, again, words, on=cut_at[0], height_cm=cut_at[1])
    for line in lines:
        _out.say(line)
    return _out.DONE


def _season_day(text: str) -> date:
    day = parse_date(text, "--as-of")
    if not 1900 <= day.year <= 2100:
        raise Refused(
            f"as of {day}", where="--as-of", rule="Seasons from 1900 to 2100 are known.", step="Correct the year.",
        )  # fmt: skip
    return day


def _refuse_before_the_first(unseen: Forecast, sightings: Sequence[Sighting]) -> None:
    """Refuse plants seen weeks before any can be up; `unseen` is the forecast without sightings."""
    last = date(unseen.start.year, 12, 31)
    for one in sightings:
        if one.none_up:
            continue
        later = min(one.on + timedelta(days=_EARLY_DAYS), last)
        if not unseen.share_up(later).any():
            raise Refused(
                f"plants seen on {one.on}", where="--seen",
                rule=f"In none of {len(unseen.share_up(later)):,} reckoned seasons is a seedling up even by {later}.",
                step="Correct the day; or look at the plant again: tepal plant.",
            )  # fmt: skip


def _counts_from_autumn(crop: CropRow, planted: date) -> bool:
    """A small grain that lives through a winter, planted in a month in which it is not: its days do not hold."""
    return crop.kind == "small_grain" and (crop.cross_days or 0) > _ONE_SEASON_DAYS and planted.month < _AUTUMN


def _forecast(
    path: Path | None, weather: Weather | None, *, lat: float, as_of: date, taxon: str, flora: Flora,
    seen: tuple[Sighting, ...], planted: date | None, tilled: tuple[date, ...], outlook_c: float, n: int = _MEMBERS,
) -> Forecast:  # fmt: skip
    from tepal.clock import forecast
    from tepal.doubt import generator_for

    def ask(weather: Weather | None) -> Forecast:
        # The seed follows from the weed alone: later days of the file must not change the answer, and from one day or
        # one place to the next it is to move with the weather and what was seen, not by luck.
        rng = generator_for("clock", taxon.upper())
        return forecast(
            weather, lat=lat, as_of=as_of, taxon=taxon, flora=flora, seen=seen, planted=planted, tilled=tilled,
            outlook_c=outlook_c, rng=rng, n=n,
        )  # fmt: skip

    if path is None or weather is None:
        return ask(None)
    try:
        return ask(weather)
    except Refused as refusal:
        if refusal.where.file == weather.file and refusal.where.line is None:
            # Lines are looked up only now: the common case need not read the file twice.
            ask(_weather(path, with_lines=True))
        raise


def _weather(path: Path, *, with_lines: bool = False) -> Weather:
    from tepal.clock import Weather
    from tepal.ledger.formats import read_weather

    read = read_weather(path)
    lines = None
    if with_lines:
        from tepal.tables import read_csv

        by_day = {row.cells.get("date", "").strip()[:10]: row.line for row in read_csv(path)}
        lines = [by_day.get(str(day)) for day in read.dates]
        lines = None if None in lines else lines
    return Weather(read.dates, read.tmin_c, read.tmax_c, read.prcp_mm, file=path.name, lines=lines)  # type: ignore[arg-type]


def _crop(name: str | None, flora: Flora) -> CropRow | None:
    if name is None:
        return None
    found = flora.crop(name)
    if found is None:
        known = ", ".join(sorted({row.crop for row in flora.crops.values()}))
        raise Refused(f"crop {name!r}", where="--crop", rule=f"A crop is one of {known}.", step="Give one of them.")
    return found


def _cut(text: str) -> tuple[date, float]:
    """A cut written as `2026-07-10:height_cm=15`, or `height_in=6`."""
    day, _, rest = text.partition(":")
    name, _, value = (part.strip() for part in rest.partition("="))
    try:
        height = float(value)
    except ValueError:
        height = -1.0
    if name == "height_in":
        name, height = "height_cm", 2.54 * height
    if name != "height_cm" or not 0 <= height <= 200:
        raise Refused(
            f"cut {text!r}", where="--cut", rule="A cut is written DATE:height_cm=H, H from 0 (the soil) to 200.",
            step="As in 2026-07-10:height_cm=15.",
        )  # fmt: skip
    return parse_date(day, "--cut"), height


def _regrowth(found: Forecast, on: date, height_cm: float) -> Regrowth:
    if on.year != found.start.year:
        raise Refused(
            f"a cut on {on}", where="--cut", rule=f"The season is that of {found.start.year}.", step="Correct the day.",
        )  # fmt: skip
    return found.regrowth(on, height_cm)


def _plain(found: Forecast, closing: Sequence[Window]) -> dict[str, Any]:
    return {
        "taxon": found.taxon,
        "as_of": found.as_of,
        "events": [{"name": event.name, **_quantiles(event)} for event in found.events],
        "windows": [{"name": one.name, "kind": one.kind, **_quantiles(one.day)} for one in closing],
        "filled": list(found.filled),
        "past_years": list(found.past_years),
        "agreement": round(found.agreement, 3),
        "notes": list(found.notes),
        "sources": list(found.sources),
    }


def _plain_cut(again: Regrowth, on: date, height_cm: float) -> dict[str, Any]:
    import numpy as np

    lives = np.quantile(again.survives, (0.1, 0.5, 0.9))
    return {
        "on": on,
        "height_cm": height_cm,
        "survives": {name: round(float(share), 3) for name, share in zip(_NAMES, lives, strict=True)},
        "events": [
            {"name": name, **{q: again.quantile(name, p) for q, p in zip(_NAMES, _AT, strict=True)}}
            for name in ("height_10_cm", "flowers", "viable_seed")
        ],
        "return_by": again.return_by,
    }


_AT, _NAMES = (0.1, 0.5, 0.9), ("q10", "q50", "q90")


def _quantiles(event: Event) -> dict[str, date | None]:
    return {name: event.quantile(p) for name, p in zip(_NAMES, _AT, strict=True)}

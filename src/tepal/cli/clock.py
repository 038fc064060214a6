"""`tepal clock`: weather and sightings to the dates that matter."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused, parse_date

if TYPE_CHECKING:
    from tepal.clock import Event, Forecast, Sighting, Weather
    from tepal.flora import Flora
    from tepal.words import Words

_MEMBERS = 2000


def clock(
    *,
    weather: Path | None = None,
    lat: float,
    as_of: str,
    taxon: str,
    seen: tuple[str, ...] = (),
    planted: str | None = None,
    outlook_c: float = 0.0,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """When a weed comes up, passes 10 cm, flowers and has viable seed, as seen on a day.

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
        What was seen, as 2026-06-01:height_cm=12 (the tallest plants). Other names: typical_cm, stage, flowering=1,
        seed_dark=1, none_up=1; several with commas. May be given more than once.
    planted: str
        The day the crop was planted, YYYY-MM-DD; sets its canopy.
    outlook_c: float
        A seasonal outlook: degrees Celsius to add to all temperatures to come.
    json_output: bool
        Print one JSON object.
    """
    from tepal.clock import Sighting
    from tepal.flora import load

    sightings = tuple(Sighting.from_text(text) for text in seen)
    day = parse_date(as_of, "--as-of")
    planted_on = None if planted is None else parse_date(planted, "--planted")
    flora = load()
    found = _forecast(
        weather, lat=lat, as_of=day, taxon=taxon, flora=flora, seen=sightings, planted=planted_on, outlook_c=outlook_c
    )
    if json_output:
        _out.emit(_plain(found))
        return _out.DONE
    from tepal.words import Words

    for line in _sentences(found, flora, Words()):
        _out.say(line)
    return _out.DONE


def _forecast(
    path: Path | None, *, lat: float, as_of: date, taxon: str, flora: Flora, seen: tuple[Sighting, ...],
    planted: date | None, outlook_c: float,
) -> Forecast:  # fmt: skip
    from tepal.clock import forecast
    from tepal.doubt import generator_for

    def ask(weather: Weather | None) -> Forecast:
        # The seed follows from the question, not from the file: later days of the file must not change the answer.
        rng = generator_for("clock", lat, as_of, taxon.upper(), *sorted(map(str, seen)), planted, outlook_c)
        return forecast(
            weather, lat=lat, as_of=as_of, taxon=taxon, flora=flora, seen=seen, planted=planted, outlook_c=outlook_c,
            rng=rng, n=_MEMBERS,
        )  # fmt: skip

    if path is None:
        return ask(None)
    weather = _weather(path)
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


def _plain(found: Forecast) -> dict[str, Any]:
    return {
        "taxon": found.taxon,
        "as_of": found.as_of,
        "events": [
            {"name": event.name, **{f"q{round(100 * p)}": event.quantile(p) for p in (0.1, 0.5, 0.9)}}
            for event in found.events
        ],
        "filled": list(found.filled),
        "past_years": list(found.past_years),
        "agreement": round(found.agreement, 3),
        "notes": list(found.notes),
        "sources": list(found.sources),
    }


_SAID = (
    ("height_10_cm", "A tenth of the plants up are 4 in tall", "Nothing taller should be sprayed."),
    ("flowers", "A tenth of them are in flower", ""),
    ("viable_seed", "A tenth of them carry seed that can grow", "Pull before the first of these dates."),
)


def _sentences(found: Forecast, flora: Flora, words: Words) -> list[str]:
    import numpy as np

    name = flora.taxon(found.taxon).english_name
    lines = [f"{name[0].upper()}{name[1:]}, as of {words.day(found.as_of, year=True)}."]
    up = float(np.median(found.share_up(found.as_of)))
    lines.append(_still_to_come(up))
    low, tall, high = np.quantile(found.height_on(found.as_of), (0.1, 0.5, 0.9)) / 100
    if up > 0.01 and tall > 0:
        lines.append(
            f"The tallest stand about {words.length(tall)}; four times in five between {words.length(low)} and "
            f"{words.length(high)}."
        )
    if up < 0.9:
        lines.append(_when("The next seedlings worth a walk are up", found.next_flush, found, words))
    for key, what, then in _SAID:
        lines.append(f"{_when(what, found.event(key), found, words)} {then}".rstrip())
    if found.agreement < 1:
        lines.append("What was seen is hardly possible by the published figures. It was believed all the same.")
    if found.filled:
        days = words.listing([words.day(day, year=True) for day in found.filled[:5]])
        more = f" and {len(found.filled) - 5} more" if len(found.filled) > 5 else ""
        lines.append(f"Missing days filled from their neighbors: {days}{more}.")
    return [*lines, *found.notes]


def _still_to_come(up: float) -> str:
    numbers = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    ten = round(10 * (1 - up))
    if ten == 10:
        return "Hardly any of this season's seedlings are up yet."
    if ten == 0:
        return "Nearly all of this season's seedlings are up."
    return f"Of ten seedlings, {numbers[ten]} {'is' if ten == 1 else 'are'} still to come."


def _when(what: str, event: Event, found: Forecast, words: Words) -> str:
    early, middle, late = (event.quantile(p) for p in (0.1, 0.5, 0.9))
    if early is None:
        return f"{what}: not this year, nine chances in ten."
    if late is not None and late <= found.as_of:
        return f"{what}, since {words.days_between(early, late)}."
    if middle is None:
        return f"{what}: more likely not this year, but it may be as early as {words.day(early)}."
    until = words.day_month(late) if late is not None else "not at all this year"
    if middle <= found.as_of:
        return f"{what}, probably since {words.day(middle)}; it may be {words.day_month(early)} or {until}."
    return f"{what} near {words.day(middle)}; it may be {words.day_month(early)} or {until}."

"""Coordinates as people write, say and send them: read where they can be read in one way only."""

from __future__ import annotations

import math
import re
from typing import Literal
from urllib.parse import unquote

from tepal.ground._coordinates import Coordinates

# Metres of one degree of latitude, for the rounding of the digits given.
_DEGREE_M = 111_320.0
# A telephone's receiver under an open sky; digits beyond that say nothing (judgement).
_RECEIVER_M = 10.0
_LEAST_BARE = 20.0

_DEG = r"\s*(?:[°º˚]|deg(?:rees?)?\b\.?)"
_MIN = r"\s*(?:['′’]|min(?:utes?)?\b\.?)"
_SEC = r"\s*(?:[\"″”]|''|′′|sec(?:onds?)?\b\.?)"
_LETTER = r"(?:north|south|east|west|[nsew])"


def _angle(n: int, *, marked: bool = False) -> str:
    """Degrees with decimals, or with minutes and seconds; `marked`: only with a degree sign."""
    after = _DEG if marked else rf"(?:{_DEG}|:|(?=\s))"
    minutes = rf"{after}\s*(?P<m{n}>\d{{1,2}}(?:\.\d{{1,9}})?)"
    seconds = rf"(?:{_MIN}|:|(?=\s))\s*(?P<s{n}>\d{{1,2}}(?:\.\d{{1,9}})?)(?:{_SEC})?"
    whole = rf"(?P<d{n}>\d{{1,3}})(?:{minutes}(?:{seconds}|{_MIN})?|{_DEG}{'' if marked else '|'})"
    return rf"(?:(?P<f{n}>\d{{1,3}}\.\d{{1,12}})(?:{_DEG}){'' if marked else '?'}|{whole})"


_LAT, _LON = r"\blat(?:itude)?\b\.?\s*[:=]?\s*", r"\b(?:lon|lng|long|longitude)\b\.?\s*[:=]?\s*"
_GAP = rf"\s*[,;/&]?\s*(?:and\s+)?(?:{_LAT}|{_LON})?"
_LETTERED = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"(?<![\w.]){_angle(1)}\s*(?P<h1>{_LETTER})(?![a-z]){_GAP}{_angle(2)}\s*(?P<h2>{_LETTER})(?![a-z0-9])",
        rf"(?<![\w.])(?P<h1>{_LETTER})\s*{_angle(1)}{_GAP}(?P<h2>{_LETTER})\s*{_angle(2)}(?![\w]|\.\d)",
    )
)
_NAMED = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"{_LAT}(?P<g1>[-+]?)\s?{_angle(1)}\s*[,;/&]?\s*(?:and\s+)?{_LON}(?P<g2>[-+]?)\s?{_angle(2)}(?!\w|\.\d)",
        rf"{_LON}(?P<g2>[-+]?)\s?{_angle(2)}\s*[,;/&]?\s*(?:and\s+)?{_LAT}(?P<g1>[-+]?)\s?{_angle(1)}(?!\w|\.\d)",
    )
)
_MARKED = re.compile(
    rf"(?<![\w.])(?P<g1>[-+]?)\s?{_angle(1, marked=True)}\s*[,;/]?\s*"
    rf"(?P<g2>[-+]?)\s?{_angle(2, marked=True)}(?!\w|\.\d)",
    re.IGNORECASE,
)
_PAIR = re.compile(
    r"(?<![\w.])(?P<g1>[-+]?)(?P<f1>\d{1,3}\.\d{1,15})\s*(?:[,;/]|\s)\s*(?P<g2>[-+]?)(?P<f2>\d{1,3}\.\d{1,15})(?!\w|\.\d)"
)
_LINK = re.compile(r"(?:https?|geo):[^\s<>\"]+", re.IGNORECASE)
_LINK_PAIR = re.compile(
    r"(?<![\d.])(?P<g1>[-+]?)(?P<f1>\d{1,3}(?:\.\d{1,15})?)\s*[,;/+ ]\s?(?P<g2>[-+]?)(?P<f2>\d{1,3}\.\d{1,15})(?![\d.])"
)
_LINK_LAT, _LINK_LON = (
    re.compile(rf"[?&#/;]\w{{0,8}}(?:{name})=(?P<g>[-+]?)(?P<d>\d{{1,3}}(?:\.\d{{1,15}})?)(?=[&#;]|\Z)", re.IGNORECASE)
    for name in ("lat(?:itude)?", "lon|lng|long|longitude")
)

Read = tuple[Coordinates | None, tuple[str, ...]]


def read_coordinates(text: str) -> Read:
    """The one point in a text, and sentences on what looks like one and was left.

    With letters or names the order does not matter. Without them a pair is taken only where one number is negative:
    on this side of the world that is the longitude, whichever comes first.
    """
    links = _LINK.findall(text)
    for link in links:
        point, notes = _in_link(link)
        if point or notes:
            return point, notes
    for link in links:
        text = text.replace(link, " ")
    return _in_words(text)


def _in_words(text: str) -> Read:
    for pattern in _LETTERED:
        for match in pattern.finditer(text):
            first, second = match["h1"][0].upper(), match["h2"][0].upper()
            # Whole degrees without a sign ("N 80 W 40") may be rows or acres, and would be no place if they were not.
            if (first in "NS") == (second in "NS") or not (_exact(match, 1) and _exact(match, 2)):
                continue
            a, b = _value(match, 1), _value(match, 2)
            a, b = (-a if first in "SW" else a), (-b if second in "SW" else b)
            lat, lon = (a, b) if first in "NS" else (b, a)
            return _point(lat, lon, _error(match), "coordinates")
    for pattern in _NAMED:
        named = pattern.search(text)
        if named:
            return _point(_signed(named, 1), _signed(named, 2), _error(named), "coordinates")
    for pattern in (_MARKED, _PAIR):
        # Small numbers without a degree sign are counts or measures ("1.5 -2.5").
        pair = next((p for p in pattern.finditer(text) if pattern is _MARKED or _farthest(p) >= _LEAST_BARE), None)
        if pair:
            return _ordered(_signed(pair, 1), _signed(pair, 2), _error(pair), "coordinates")
    return None, ()


def _in_link(link: str) -> Read:
    link = unquote(link)
    lat, lon = _LINK_LAT.search(link), _LINK_LON.search(link)
    if lat and lon:
        return _point(_sign(lat["g"]) * float(lat["d"]), _sign(lon["g"]) * float(lon["d"]), _rounding(lat["d"]), "link")
    pairs = {(_signed(pair, 1), _signed(pair, 2)): pair for pair in _LINK_PAIR.finditer(link)}
    whole = [pair for pair in pairs.values() if "." in pair["f1"]] or list(pairs.values())
    read = [_ordered(_signed(pair, 1), _signed(pair, 2), _error(pair), "link") for pair in whole]
    points = {(point.lon, point.lat): point for point, _ in read if point}
    if len(points) == 1:
        return next(iter(points.values())), ()
    if len(points) > 1:
        return None, ("The link holds several points; write down the one that is meant.",)
    return next(((None, notes) for _, notes in read if notes), (None, ()))


def _value(match: re.Match[str], n: int) -> float:
    groups = match.groupdict()
    if groups.get(f"f{n}") is not None:
        return float(groups[f"f{n}"])
    minutes, seconds = groups.get(f"m{n}"), groups.get(f"s{n}")
    if any(part is not None and float(part) >= 60 for part in (minutes, seconds)):
        return float("nan")
    return float(groups[f"d{n}"]) + float(minutes or 0) / 60 + float(seconds or 0) / 3600


def _farthest(match: re.Match[str]) -> float:
    return max(float(match["f1"]), float(match["f2"]))


def _exact(match: re.Match[str], n: int) -> bool:
    groups = match.groupdict()
    return groups.get(f"f{n}") is not None or groups.get(f"m{n}") is not None


def _sign(mark: str | None) -> float:
    return -1.0 if mark == "-" else 1.0


def _signed(match: re.Match[str], n: int) -> float:
    return _sign(match.groupdict().get(f"g{n}")) * _value(match, n)


def _rounding(digits: str, unit: float = 1.0) -> float:
    decimals = len(digits.partition(".")[2])
    # A value rounded to a step has the sd of an even spread over that step.
    return round(max(_RECEIVER_M, float(_DEGREE_M * unit * 10.0**-decimals / 12**0.5)), 1)


def _error(match: re.Match[str]) -> float:
    """By the coarser of the two numbers."""
    groups = match.groupdict()
    errors = []
    for n in (1, 2):
        for key, unit in ((f"s{n}", 1 / 3600), (f"m{n}", 1 / 60), (f"f{n}", 1.0), (f"d{n}", 1.0)):
            if groups.get(key) is not None:
                errors.append(_rounding(groups[key], unit))
                break
    return max(errors)


def _point(lat: float, lon: float, error: float, by: Literal["coordinates", "link"]) -> Read:
    if not (abs(lat) <= 90 and abs(lon) <= 180):  # also where minutes or seconds are 60 or more (NaN)
        return None, ("The coordinates were left as words: a latitude lies within 90 degrees, minutes below 60.",)
    return Coordinates(round(lon, 7), round(lat, 7), error, by), ()


def _ordered(first: float, second: float, error: float, by: Literal["coordinates", "link"]) -> Read:
    if not max(abs(first), abs(second)) <= 180 or math.isnan(second):
        return _point(float("nan"), 0.0, error, by)
    if first > 0 > second and first <= 90:
        return _point(first, second, error, by)
    if first < 0 < second <= 90:
        return _point(second, first, error, by)
    if abs(first) > 90 or abs(second) > 90:
        if min(abs(first), abs(second)) > 90:
            return _point(float("nan"), 0.0, error, by)
        lat, lon = (second, first) if abs(first) > 90 else (first, second)
        if lon < 0 or lat < 0:
            return _point(lat, lon, error, by)
    return None, ("Two numbers without a minus sign or letters can be several places; write them as 41.50 N, 93.20 W.",)

"""Days in a column of a table: ISO, or as people write them where the whole column shows what is meant.

6/14/2026 can only be June 14. 6/7/2026 can be two days, so the column decides: one value with a second number above 12
makes all of them month/day, one with a first above 12 day/month. Where nothing decides, the United States write the
month first. Every such decision is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Literal

from tepal.tables import Refused, Where, parse_date

Order = Literal["month", "day"]
_NUMBERS = re.compile(r"(\d{1,2})([/.-])(\d{1,2})\2(\d{4}|\d{2})(?:[ T]+\d{1,2}:\d\d.*)?", re.ASCII)
_NAMED = (
    re.compile(r"(?P<m>[A-Za-z]{3,9})\.?[ -]+(?P<d>\d{1,2})(?:st|nd|rd|th)?,?[ -]+(?P<y>\d{4}|\d{2})", re.ASCII),
    re.compile(r"(?P<d>\d{1,2})(?:st|nd|rd|th)?[ -]+(?P<m>[A-Za-z]{3,9})\.?,?[ -]+(?P<y>\d{4}|\d{2})", re.ASCII),
)
_WEEKDAY = re.compile(r"(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\.?,?\s+", re.IGNORECASE)
_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
           "november", "december")  # fmt: skip


def order_of(cells: Iterable[tuple[str, Where]], *, in_us: bool) -> tuple[Order | None, str | None]:
    """Which number comes first in the days of a column, and the sentence that says so; None where nothing decides.

    Raises
    ------
    Refused
        If two cells contradict each other.
    """
    first: dict[Order, tuple[str, Where]] = {}
    open_ = None
    for text, where in cells:
        found = _NUMBERS.fullmatch(text.strip())
        if found is None:
            continue
        one, two = int(found[1]), int(found[3])
        if two > 12 >= one:
            first.setdefault("month", (text.strip(), where))
        elif one > 12 >= two:
            first.setdefault("day", (text.strip(), where))
        elif one != two:
            open_ = open_ or text.strip()
    if len(first) == 2:
        (early, at), (late, there) = first["month"], first["day"]
        raise Refused(
            f"{early!r} on line {at.line} has the month first, {late!r} on line {there.line} the day",
            where=there if (there.line or 0) > (at.line or 0) else at,
            rule="All days of a column are written alike; which of the others is which cannot be told.",
            step="Write them as YYYY-MM-DD.",
        )
    for order, (text, where) in first.items():
        how = "month/day/year" if order == "month" else "day/month/year"
        return order, f"days read as {how}, as {text!r} on line {where.line} can only mean"
    if open_ is not None and in_us:
        return (
            "month",
            f"days such as {open_!r} read as month/day/year, as in the United States; nothing in the file decides it",
        )
    return None, None


def read_day(text: str, where: Where, order: Order | None) -> date:
    """A day as it stands in a cell; a time of day behind it is passed over.

    Raises
    ------
    Refused
        If it is no day, or could be two and `order` is not known.
    """
    value = text.strip()
    if found := _NUMBERS.fullmatch(value):
        return _numbered(value, found, where, order)
    named = _WEEKDAY.sub("", value, count=1)
    for pattern in _NAMED:
        if (found := pattern.fullmatch(named)) and (month := _month(found["m"])):
            return _day(value, _year(found["y"]), month, int(found["d"]), where)
    if re.fullmatch(r"[34]\d{4}(\.\d+)?", value):
        raise Refused(
            f"date {value!r} is a spreadsheet's own number of a day",
            where=where,
            rule="A date is written YYYY-MM-DD.",
            step="Format the column as a date and export it again.",
        )
    return parse_date(value, where)


def _numbered(value: str, found: re.Match[str], where: Where, order: Order | None) -> date:
    one, two = int(found[1]), int(found[3])
    if order is None and one != two and one <= 12 and two <= 12:
        raise Refused(
            f"date {value!r} can be two days",
            where=where,
            rule="A date is written YYYY-MM-DD; nothing in the file says whether the month or the day comes first.",
            step="Write it so; or give --site of a site in the United States, where the month comes first.",
        )
    month, day = (two, one) if order == "day" else (one, two)
    return _day(value, _year(found[4]), month, day, where)


def _year(text: str) -> int:
    return int(text) + 2000 if len(text) == 2 else int(text)


def _month(text: str) -> int | None:
    plain = text.casefold()
    plain = "sep" if plain == "sept" else plain
    found = [number for number, name in enumerate(_MONTHS, start=1) if name.startswith(plain)]
    return found[0] if len(found) == 1 else None


def _day(value: str, year: int, month: int, day: int, where: Where) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise Refused(
            f"date {value!r} is no day",
            where=where,
            rule="A date is written YYYY-MM-DD.",
            step="Write it so and try again.",
        ) from None

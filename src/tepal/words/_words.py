"""One object that turns values into text in one language and one system of units."""

from __future__ import annotations

import gettext
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Literal

Units = Literal["us", "metric"]

_FT = 0.3048
_ACRE = 4046.8564224
_LOCALE = Path(__file__).parent / "locale"


def message(text: str) -> str:
    """The text as it is. Says to `tools/messages.py` that it is a message, where `Words.t` gets it from a table."""
    return text


_WEEKDAYS = (
    message("Monday"), message("Tuesday"), message("Wednesday"), message("Thursday"), message("Friday"),
    message("Saturday"), message("Sunday"),
)  # fmt: skip
_MONTHS = (
    message("January"), message("February"), message("March"), message("April"), message("May"), message("June"),
    message("July"), message("August"), message("September"), message("October"), message("November"),
    message("December"),
)  # fmt: skip
_LASTS = (message("and"), message("or"))
_SURENESS = (
    (0.99, message("almost certainly")),
    (0.95, message("very probably")),
    (0.8, message("probably")),
    (0.5, message("more likely than not")),
    (0.2, message("possibly")),
    (0.05, message("not likely")),
)


@lru_cache(maxsize=8)
def _catalogue(language: str) -> gettext.NullTranslations:
    # English is the language of the source; its catalogue is the source itself.
    return gettext.translation("tepal", _LOCALE, [language], fallback=language == "en")


@dataclass(frozen=True, slots=True)
class Words:
    """Text for people. `t` translates a message and fills it; the other methods word one kind of value each."""

    language: str = "en"
    units: Units = "us"
    _messages: gettext.NullTranslations = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_messages", _catalogue(self.language))

    def t(self, message: str, /, **values: object) -> str:
        """The message in this language, its `{names}` filled from `values`."""
        text = self._messages.gettext(message)
        return text.format(**values) if values else text

    def plural(self, one: str, many: str, count: int, /, **values: object) -> str:
        """`one` or `many` by `count`, filled; `{count}` is there without being passed."""
        return self._messages.ngettext(one, many, count).format(count=self.number(count), **values)

    def number(self, value: float, digits: int | None = None) -> str:
        """A number with thousands marks; without `digits`, rounded to two meaningful figures when it is not whole."""
        if digits is not None:
            return f"{value:,.{digits}f}"
        if value == round(value) and abs(value) < 1e15:
            return f"{round(value):,}"
        return f"{_two_figures(value):,.10g}"

    def about(self, value: float) -> str:
        """A count or estimate rounded to two figures: 1,234 becomes 1,200."""
        return f"{_two_figures(value):,.10g}"

    def between(self, low: float, high: float) -> str:
        """A range of counts, or the one number where both round to the same."""
        first, second = self.about(low), self.about(high)
        return first if first == second else self.t("{low} to {high}", low=first, high=second)

    def chance(self, probability: float) -> str:
        """A probability as a tired person would say it.

        >>> Words().chance(0.2)
        'about 1 chance in 5'
        """
        p = probability
        if p < 0.005:
            return self.t("less than 1 chance in 200")
        if p > 0.995:
            return self.t("more than 199 chances in 200")
        if p > 0.9:
            return self.t("about {n} chances in 100", n=min(99, round(100 * p)))
        best = min(
            [(k, n) for n in (2, 3, 4, 5, 10, 20, 50, 100) for k in range(1, n) if math.gcd(k, n) == 1]
            + [(1, 25), (1, 200)],
            key=lambda fraction: (
                (abs(fraction[0] / fraction[1] - p) > 0.025, fraction[1], abs(fraction[0] / fraction[1] - p))
                if p >= 0.05
                else (abs(1 - fraction[0] / fraction[1] / p), fraction[1])
            ),
        )
        k, n = best
        if k == 1:
            return self.t("about 1 chance in {n}", n=n)
        return self.t("about {k} chances in {n}", k=k, n=n)

    def sureness(self, probability: float) -> str:
        """How sure, as an adverb that follows a name."""
        for least, text in _SURENESS:
            if probability >= least:
                return self.t(text)
        return self.t("very unlikely")

    def day(self, value: date, *, year: bool = False) -> str:
        """A date as people say it: Thursday, August 13 (US) or Thursday 13 August."""
        weekday = self.t(_WEEKDAYS[value.weekday()])
        month = self.month(value)
        if self.units == "us":
            text = self.t("{weekday}, {month} {day}", weekday=weekday, month=month, day=value.day)
            return self.t("{day}, {year}", day=text, year=value.year) if year else text
        text = self.t("{weekday} {day} {month}", weekday=weekday, month=month, day=value.day)
        return self.t("{day} {year}", day=text, year=value.year) if year else text

    def month(self, value: date) -> str:
        return self.t(_MONTHS[value.month - 1])

    def days_between(self, low: date, high: date) -> str:
        """A span of dates, short: August 3 to 17."""
        if low == high:
            return self.day_month(low)
        if (low.year, low.month) == (high.year, high.month):
            month = self.month(low)
            if self.units == "us":
                return self.t("{month} {first} to {last}", month=month, first=low.day, last=high.day)
            return self.t("{first} to {last} {month}", month=month, first=low.day, last=high.day)
        return self.t("{low} to {high}", low=self.day_month(low), high=self.day_month(high))

    def day_month(self, value: date) -> str:
        if self.units == "us":
            return self.t("{month} {day}", month=self.month(value), day=value.day)
        return self.t("{day} {month}", month=self.month(value), day=value.day)

    def length(self, metres: float) -> str:
        """A length: inches below 3 feet, else feet, miles from half a mile; or cm, m, km."""
        if self.units == "us":
            feet = metres / _FT
            if feet < 3:
                return self.t("{n} in", n=self.number(_half(feet * 12)))
            if feet < 2640:
                return self.t("{n} ft", n=self.about(feet))
            return self._counted("{n} mile", "{n} miles", feet / 5280)
        if metres < 1:
            return self.t("{n} cm", n=self.number(_half(metres * 100)))
        if metres < 1000:
            return self.t("{n} m", n=self.about(metres))
        return self.t("{n} km", n=self.about(metres / 1000))

    def area(self, square_metres: float) -> str:
        """An area in acres or hectares."""
        if self.units == "us":
            return self._counted("{n} acre", "{n} acres", square_metres / _ACRE)
        return self.t("{n} ha", n=self.about(square_metres / 1e4))

    def density(self, per_m2: float) -> str:
        """Plants per area in the unit that gives a number from 1 upwards: per square foot or metre, per acre or ha."""
        if self.units == "us":
            if per_m2 * _FT**2 >= 1:
                return self.t("{n} per square foot", n=self.about(per_m2 * _FT**2))
            return self.t("{n} per acre", n=self.about(per_m2 * _ACRE))
        if per_m2 >= 1:
            return self.t("{n} per square metre", n=self.about(per_m2))
        return self.t("{n} per hectare", n=self.about(per_m2 * 1e4))

    def _counted(self, one: str, many: str, value: float) -> str:
        # By what is shown: 1.04 acres is shown as 1, and that is one acre.
        shown = self.about(value)
        return self._messages.ngettext(one, many, 1 if shown == "1" else 2).format(n=shown)

    def listing(self, items: Sequence[str], *, last: str = _LASTS[0]) -> str:
        """Words in a row: a, b and c."""
        if len(items) < 2:
            return "".join(items)
        return self.t("{some} {last} {one}", some=", ".join(items[:-1]), last=self.t(last), one=items[-1])


def _two_figures(value: float) -> float:
    if value == 0 or not math.isfinite(value):
        return value
    digits = 1 - math.floor(math.log10(abs(value)))
    return round(value, digits)


def _half(value: float) -> float:
    """To the nearest half below 10, else to the nearest whole: nobody reads a ruler finer in the field."""
    return round(2 * value) / 2 if value < 10 else round(value)

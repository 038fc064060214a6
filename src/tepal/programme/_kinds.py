"""The kinds of value that a programme's keys take: each check gives the rule that a wrong value breaks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BeforeValidator
from pydantic import Field as Where

from tepal.programme._amounts import Amount

Crop = Literal["corn", "soybean", "cotton", "sorghum", "peanut", "oat", "alfalfa", "fallow"]
CROPS: tuple[Crop, ...] = get_args(Crop)
GROUPS_BEYOND = "metabolic"
"""The locus that is no WSSA group: it weakens several of them."""
_CODE = re.compile(r"[A-Z][A-Z0-9_]{2,11}\Z")
_DAYS_IN = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MOST_GROUPS, _GREATEST = 8, 1e12
# WSSA numbers go to 34 today; 99 is a slip of the finger, and would be reckoned as a group of which nothing is known.
_LAST_GROUP = 39


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("It is a number, or a pair [low, high] of 10 and 90 % points.")
    if not abs(value) <= _GREATEST:  # also NaN and infinity
        raise ValueError(f"It is a number of at most {_GREATEST:g}.")
    return float(value)


def _pair(value: object) -> tuple[float, float]:
    if not isinstance(value, list):
        return (_number(value),) * 2
    if len(value) != 2:
        raise ValueError("A range has two numbers, [low, high].")
    low, high = _number(value[0]), _number(value[1])
    if low > high:
        raise ValueError("The low end of a range comes first.")
    return low, high


def _share(value: object) -> Amount:
    low, high = _pair(value)
    if not (low >= 0 and high <= 1):
        raise ValueError("A share lies between 0 and 1.")
    return Amount(low, high, "share")


def _positive(value: object) -> Amount:
    low, high = _pair(value)
    if low < 0:
        raise ValueError("It may not be negative.")
    return Amount(low, high, "positive")


def _above(value: object) -> Amount:
    amount = _positive(value)
    if amount.high == 0:
        raise ValueError("It must be above 0.")
    return amount


def _days(value: object) -> int:
    days = _number(value)
    if not (-200 <= days <= 365 and days.is_integer()):
        raise ValueError("It is a whole number of days from -200 to 365.")
    return int(days)


def _group(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LAST_GROUP:
        raise ValueError(f"A group is its WSSA number, 1 to {_LAST_GROUP}, without quotes.")
    return str(value)


def _group_key(value: object) -> str:
    if value == GROUPS_BEYOND or (
        isinstance(value, str) and value.isascii() and value.isdigit() and 0 < int(value) <= _LAST_GROUP
    ):
        return str(value)
    raise ValueError(f"{value} is no group: that is a WSSA number, or {GROUPS_BEYOND}.")


def _day(value: object) -> str:
    if isinstance(value, str) and re.fullmatch(r"\d\d-\d\d", value):
        month, day = int(value[:2]), int(value[3:])
        if 1 <= month <= 12 and 1 <= day <= _DAYS_IN[month - 1] and value != "02-29":
            return value
    raise ValueError('A day of the year is written "MM-DD", in quotes, without 29 February.')


def _when(*named: str) -> Any:
    def check(value: object) -> str:
        if value in named:
            return str(value)
        try:
            return _day(value)
        except ValueError:
            raise ValueError(f'It is {" or ".join(f"{name!r}" for name in named)}, or a day "MM-DD".') from None

    return BeforeValidator(check)


def _by_group(value: object, read: Any) -> Any:
    if not isinstance(value, Mapping):
        return read(value)
    if not value:
        raise ValueError("A table by group names at least one.")
    return {_group(int(key) if str(key).isdigit() else key): read(each) for key, each in value.items()}


def _kill(value: object) -> Any:
    return _by_group(value, _share)


def _crop(value: object) -> object:
    if value not in CROPS:
        raise ValueError(f"It is one of {', '.join(CROPS)}.")
    return value


def _taxon(value: object) -> object:
    if not isinstance(value, str) or not _CODE.match(value):
        raise ValueError("It is an EPPO code in capitals, such as AMATU.")
    return value


def _named(value: str) -> str:
    if not value.strip() or any(ord(sign) < 32 for sign in value):
        raise ValueError("It is a line of text.")
    return value.strip()


Share = Annotated[Amount, BeforeValidator(_share)]
Positive = Annotated[Amount, BeforeValidator(_positive)]
Above = Annotated[Amount, BeforeValidator(_above)]
Kill = Annotated[Amount | dict[str, Amount], BeforeValidator(_kill)]
Groups = Annotated[tuple[Annotated[str, BeforeValidator(_group)], ...], Where(min_length=1, max_length=_MOST_GROUPS)]
DayOfYear = Annotated[str, BeforeValidator(_day)]
Days = Annotated[int, BeforeValidator(_days)]
CropName = Annotated[Crop, BeforeValidator(_crop)]
Text = Annotated[str, Where(strict=True, max_length=200), AfterValidator(_named)]
Row = Annotated[float, Where(ge=5, le=300)]


def _weakens(value: object) -> Any:
    if not isinstance(value, Mapping):
        raise ValueError("It is a table of shares by group, such as { 15 = 0.4 }.")
    return _by_group(value, _share)


def _outside(value: object) -> Any:
    if not isinstance(value, Mapping):
        raise ValueError("It is a table of shares by group, such as { 9 = 0.5 }.")
    return {_group_key(key): _share(each) for key, each in value.items()}


Weakens = Annotated[dict[str, Amount], BeforeValidator(_weakens)]
Outside = Annotated[dict[str, Amount], BeforeValidator(_outside)]
GroupKey = Annotated[str, BeforeValidator(_group_key)]
TaxonCode = Annotated[str, BeforeValidator(_taxon)]
PullDay = Annotated[str, _when("before seed", "after seed")]
CutDay = Annotated[str, _when("flowering")]

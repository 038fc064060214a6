"""The parts of a programme. A value that the file leaves out is None: the published one is meant."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, model_validator
from pydantic import Field as Where

from tepal.programme._amounts import Amount

Crop = Literal["corn", "soybean", "cotton", "sorghum", "peanut", "oat", "alfalfa", "fallow"]
CROPS: tuple[Crop, ...] = get_args(Crop)
GROUPS_BEYOND = "metabolic"
"""The locus that is no WSSA group: it weakens several of them."""
METABOLIC_KEY = "resistance.metabolic"
_CODE = re.compile(r"[A-Z][A-Z0-9_]{2,11}\Z")
_DAYS_IN = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_LONGEST, _MOST_GROUPS, _GREATEST = 60, 8, 1e12


class Part(BaseModel):
    """Frozen; a key that is not known is refused: a typing error must not become a forecast."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, arbitrary_types_allowed=True)


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
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 99:
        raise ValueError("A group is its WSSA number, without quotes.")
    return str(value)


def _group_key(value: object) -> str:
    if value == GROUPS_BEYOND or (
        isinstance(value, str) and value.isascii() and value.isdigit() and 0 < int(value) < 100
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


class Field(Part):
    hectares: Annotated[float, Where(gt=0, le=100_000)] = 40.0
    row_cm: Row = 76.0


class Start(Part):
    """Viable seed per m2 at all depths, or the plants counted in the first season before any spray."""

    seedbank_m2: Positive | None = None
    deep_share: Share = Amount(0.0, 0.0, "share")
    plants_m2: Positive | None = None

    @model_validator(mode="after")
    def _one(self) -> Start:
        if self.seedbank_m2 is None and self.plants_m2 is None:
            raise ValueError("seedbank_m2 must be given, or plants_m2.")
        return self


class Locus(Part):
    """One site of action's gene: None stands for the published value."""

    allele_share: Share | None = None
    dominance: Share | None = None
    cost: Share | None = None
    kill_left: Share | None = None


class Metabolic(Part):
    """A gene that weakens several groups: `weakens` is the kill of two copies, as a share of a susceptible plant's."""

    allele_share: Share | None = None
    dominance: Share | None = None
    cost: Share | None = None
    weakens: Annotated[dict[str, Amount], BeforeValidator(_weakens)]


class Money(Part):
    price_t: dict[CropName, Positive] = {}
    yield_t_ha: dict[CropName, Positive] = {}
    wage_hour: Positive | None = None
    currency: Text = "$"


class Tactic(Part):
    cost_ha: Positive = Amount(0.0, 0.0, "positive")


class Spray(Tactic):
    groups: Groups
    kill: Kill | None = None

    @model_validator(mode="after")
    def _all_groups(self) -> Spray:
        if len(set(self.groups)) < len(self.groups):
            raise ValueError("A group stands once in one spraying.")
        if isinstance(self.kill, dict) and not set(self.kill) <= set(self.groups):
            raise ValueError("kill names only groups of this spraying.")
        return self


class Residual(Spray):
    """Acts on seedlings as they come up."""

    days_after_planting: Days = 0
    lasts_days: Positive | None = None


class Post(Spray):
    """Acts on plants that are up."""

    days_after_planting: Days | None = None
    height_cm: Above | None = None

    @model_validator(mode="after")
    def _timed(self) -> Post:
        if self.days_after_planting is None and self.height_cm is None:
            raise ValueError("days_after_planting or height_cm must be given.")
        return self


class Pull(Tactic):
    share: Share
    when: Annotated[str, _when("before seed", "after seed")] = "before seed"
    hours_ha: Positive | None = None


class Cut(Tactic):
    """Cut so high above the ground; 0: at the soil line."""

    height_cm: Positive
    when: Annotated[str, _when("flowering")] = "flowering"


class Cultivation(Tactic):
    days_after_planting: Days
    kill: Share | None = None


class Harvest(Tactic):
    seed_control: Literal["none", "mill", "chaff line", "bale"] = "none"
    seed_kept_out: Share | None = None
    order: Literal["last", "cleaned", "after infested"] = "cleaned"
    seed_brought_m2: Positive | None = None


class Season(Part):
    crop: CropName
    planted: DayOfYear | None = None
    row_cm: Row | None = None
    cover_crop_t_ha: Positive | None = None
    inversion: Annotated[bool, Where(strict=True)] = False
    inverted: Share = Amount(0.9, 0.9, "share")
    residual: tuple[Residual, ...] = ()
    post: tuple[Post, ...] = ()
    pull: tuple[Pull, ...] = ()
    cut: tuple[Cut, ...] = ()
    cultivate: tuple[Cultivation, ...] = ()
    harvest: Harvest = Harvest()


class Local(Part):
    """What is known here; None stands for the published value with its spread."""

    emerges: Share | None = None
    days_after_crop: Days | None = None
    seedlings_live: Share | None = None
    seed_bearing: Share | None = None
    seeds_per_plant: Positive | None = None
    crowding: Positive | None = None
    eaten: Share | None = None
    seed_survives: Share | None = None
    deep_survives: Share | None = None
    outcrossing: Share | None = None
    pollen_from_outside: Share | None = None
    outside: Annotated[dict[str, Amount], BeforeValidator(_outside)] = {}
    loss_per_plant: Positive | None = None
    loss_most: Share | None = None
    year_to_year: Positive | None = None


class Programme(Part):
    """What is done in one field. `season` comes in order and begins again when it runs out."""

    name: Text
    taxon: Annotated[str, BeforeValidator(_taxon)]
    field: Field = Field()
    start: Start
    resistance: dict[Annotated[str, BeforeValidator(_group_key)], Locus] = {}
    # The name under which it stands in the file: in Python it is `metabolic`.
    metabolic: Metabolic | None = Where(None, alias="resistance.metabolic")
    money: Money = Money()
    season: Annotated[tuple[Season, ...], Where(min_length=1, max_length=_LONGEST)]
    local: Local = Local()

    def season_of(self, year: int) -> Season:
        """The season of a year, counted from 1."""
        return self.season[(year - 1) % len(self.season)]

    @property
    def groups(self) -> tuple[str, ...]:
        """Every WSSA group that is used, or has a gene, in the order of their numbers."""
        used = {group for s in self.season for spray in (*s.residual, *s.post) for group in spray.groups}
        weakened = set(self.metabolic.weakens) if self.metabolic else set()
        outside = set(self.local.outside) - {GROUPS_BEYOND}
        return tuple(sorted(used | set(self.resistance) | weakened | outside, key=int))

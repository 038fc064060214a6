"""The parts of a programme. A value that the file leaves out is None: the published one is meant."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, model_validator
from pydantic import Field as Where

from tepal.programme._amounts import Amount
from tepal.programme._kinds import (
    GROUPS_BEYOND,
    Above,
    CropName,
    CutDay,
    DayOfYear,
    Days,
    GroupKey,
    Groups,
    Kill,
    Outside,
    Positive,
    PullDay,
    Row,
    Share,
    TaxonCode,
    Text,
    Weakens,
)

METABOLIC_KEY = "resistance.metabolic"
_LONGEST = 60


class Part(BaseModel):
    """Frozen; a key that is not known is refused: a typing error must not become a forecast."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, arbitrary_types_allowed=True)


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
    weakens: Weakens


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
    when: PullDay = "before seed"
    hours_ha: Positive | None = None


class Cut(Tactic):
    """Cut so high above the ground; 0: at the soil line."""

    height_cm: Positive
    when: CutDay = "flowering"


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
    outside: Outside = {}
    loss_per_plant: Positive | None = None
    loss_most: Share | None = None
    year_to_year: Positive | None = None


class Programme(Part):
    """What is done in one field. `season` comes in order and begins again when it runs out."""

    name: Text
    taxon: TaxonCode
    field: Field = Field()
    start: Start
    resistance: dict[GroupKey, Locus] = {}
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

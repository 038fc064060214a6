"""The records of the flora: what a row of each table means. All frozen; mappings are read-only views."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from tepal.doubt import Basis

Stage = Literal["cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed"]
RowStage = Literal["cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed", "any"]
Region = Literal["SE", "CB", "UM", "SP", "NE"]
Status = Literal["read", "quoted", "recalled", "derived", "judgement"]
Role = Literal["hunted", "member", "look_alike"]
Breeding = Literal["dioecious", "monoecious", "perfect", "not_applicable"]
Kind = Literal["categorical", "numeric"]
Tool = Literal["none", "ruler", "hand_lens", "pulled_plant"]
Use = Literal["yes", "no", "trait", "pre", "directed", "treated_seed"]

# In the order of a plant's life. A row of a table may also stand for `any` stage.
STAGES: tuple[Stage, ...] = get_args(Stage)
ROW_STAGES: tuple[RowStage, ...] = get_args(RowStage)
REGIONS: tuple[Region, ...] = get_args(Region)
STATUSES: tuple[Status, ...] = get_args(Status)
# Stands for every taxon of the group where a fact is not told by taxon.
ALL_TAXA = "*"


@dataclass(frozen=True, slots=True)
class Source:
    """One line of the citation table.

    `status` says how the house knows it: `read` (opened; `seen` says how much of it), `quoted` (seen only in
    another page's words), `recalled` (from memory of the literature, not opened), `derived`, `judgement`.
    `same_as` is the key that this paper also stands under, empty for the leading key.
    """

    key: str
    citation: str
    status: Status
    seen: str
    address: str
    doi: str
    same_as: str


@dataclass(frozen=True, slots=True)
class Taxon:
    """A taxon of the weed group, or a look-alike seedling that is none of it.

    `pigweed` is False for a look-alike. `weights`: how common it is among the group's plants in crop fields of a
    region (sums to 1 over the group in each region; judgement); empty for a look-alike. `name_note`: what the
    scientific name takes in here, or an older name; `other_names`: other English names.
    """

    code: str
    scientific_name: str
    authority: str
    name_note: str
    english_name: str
    other_names: tuple[str, ...]
    breeding: Breeding
    pigweed: bool
    hunted: bool
    weights: Mapping[str, float]
    native_range: str
    note: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Character:
    """Something to look at on a plant.

    `states` in order, each with plain words in `state_words`; empty for a numeric character, which has a `unit`.
    `overlap` names the group of characters that tell partly the same thing. `binned_from` names the numeric
    character of which this one is a coarse reading, cut at `bins`: never use both. `absent_where` names the answers
    (character, state) of plants that have nothing there to look at. `misread` is the chance that a
    careful reader records a wrong state; `reading_cv` the relative error (sd / true value) of a careful measurement;
    `seconds` the time of one look. `look` is False for trial results that nobody can see on one plant.
    """

    name: str
    kind: Kind
    unit: str
    states: tuple[str, ...]
    state_words: Mapping[str, str]
    overlap: str | None
    binned_from: str | None
    bins: tuple[float, ...]
    absent_where: tuple[tuple[str, str], ...]
    misread: float
    reading_cv: float
    seconds: float
    tool: Tool
    look: bool
    label: str
    question: str
    basis: Basis
    sources: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Overlap:
    """A group of characters that tell partly the same thing, and why."""

    name: str
    members: tuple[str, ...]
    meaning: str
    basis: Basis
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StateShares:
    """Shares of plants of one taxon showing each state of a character at a stage; they sum to 1.

    `basis` is the weakest of `basis_by_state`. `estimated`: the states are published, their shares are not counts.
    `derived`: computed from other rows of these tables. `recalled`: those of `sources` that were not opened.
    """

    code: str
    character: str
    stage: RowStage
    shares: Mapping[str, float]
    basis_by_state: Mapping[str, Basis]
    basis: Basis
    estimated: bool
    derived: bool
    sources: tuple[str, ...]
    recalled: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Measure:
    """A numeric character of one taxon at a stage, between plants: mean and sd, cut at low and high (`unit`)."""

    code: str
    character: str
    stage: RowStage
    mean: float
    sd: float
    low: float
    high: float
    unit: str
    basis: Basis
    derived: bool
    sources: tuple[str, ...]
    recalled: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Cross:
    """A documented or tested cross. `low` and `high` are shares of offspring that are hybrids, None where not known.

    `male` may be `*` (several of the group, see `note`); `either`: no direction was told, or both were tried.
    """

    female: str
    male: str
    either: bool
    setting: tuple[str, ...]
    low: float | None
    high: float | None
    rate_words: str
    fertility: str
    looks: str
    telling: str
    basis: Basis
    status: Status
    sources: tuple[str, ...]
    note: str

    @property
    def found(self) -> bool:
        """Whether hybrids were found at all (False where the cross was tested and none came)."""
        return self.high is None or self.high > 0


@dataclass(frozen=True, slots=True)
class PartialDay:
    """A calendar day of a known or unknown year."""

    year: int | None
    month: int
    day: int


@dataclass(frozen=True, slots=True)
class PublishedFact:
    """One published result as found, in its own unit; the raw stuff from which parameters are judged.

    `spread` tells what `low` and `high` are: `range` of one quantity (either may be missing: a bound), `cases`: two
    cases told in `detail` or `condition`, or empty. `of` says of what the unit counts. `dates`, `groups` (WSSA) and
    `words` carry results that are no numbers. `line` is the row's line in published.csv.
    """

    quantity: str
    taxa: tuple[str, ...]
    taxa_words: str
    condition: str
    mean: float | None
    sd: float | None
    low: float | None
    high: float | None
    spread: Literal["range", "cases", ""]
    unit: str
    of: str
    detail: str
    dates: tuple[PartialDay, ...]
    groups: tuple[int, ...]
    words: str
    basis: Basis
    status: Status
    sources: tuple[str, ...]
    note: str
    line: int


@dataclass(frozen=True, slots=True)
class ActiveIngredient:
    """An active ingredient, its sites of action (WSSA/HRAC numbers) and in what crops it is used.

    `max_height_cm` is an approximate recollection of labels for emerged pigweeds, None where it has no use on them.
    The label governs always. `resistance_known`: taxa with resistance reported to the site of action somewhere.
    """

    name: str
    groups: tuple[int, ...]
    former_groups: tuple[int, ...]
    hrac_letter: str
    mode: str
    timing: tuple[str, ...]
    crops: Mapping[str, Use]
    max_height_cm: float | None
    height_note: str
    label_governs: bool
    resistance_known: tuple[str, ...]
    note: str
    basis: Basis
    sources: tuple[str, ...]
    recalled: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Action:
    """What can be done about the weed, as published: prose from which `advice` makes rules."""

    id: str
    action: str
    when: str
    limits: str
    fails: str
    cautions: str
    evidence: str
    status: Status
    sources: tuple[str, ...]
    note: str

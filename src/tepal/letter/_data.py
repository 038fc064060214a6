"""What one letter says, before any language: dates, counts and chances as values, and shapes in metres.

Everything drawn or written comes from a `LetterData`, so that the PDF, the page and the phone text cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Literal

from tepal.words import Words

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# A sentence that waits for its language and units. Rooms that own a text hand over its wording function.
Said = Callable[[Words], str]
# What the letter stands on: plants seen by eye, a walk with nothing found, only what somebody told the office, or
# nothing of this season.
Seen = Literal["plants", "none", "report", "nobody"]


@dataclass(frozen=True, slots=True)
class Plant:
    """One taxon the letter speaks of. `p_any` = P(at least one stands here); `share` = expected share of the stand."""

    code: str
    english: str
    scientific: str
    hunted: bool
    p_any: float
    share: float = 0.0
    proved: bool = False


@dataclass(frozen=True, slots=True)
class Looks:
    """How the office knows: the day of the last look or report, and how much was looked at.

    `told`: what can be said where no plant was looked at closely this season; it takes the place of names and chances.
    """

    seen: Seen
    on: date | None = None
    how: str = ""
    stops: int = 0
    plants: int = 0
    walked_m: float = 0.0
    seen_share: float | None = None
    p_missed: float | None = None
    told: Said | None = None


@dataclass(frozen=True, slots=True)
class Count:
    """How many plants stand here: 5, 50 and 95 % points of the total, and the median per square metre."""

    q05: float
    q50: float
    q95: float
    per_m2: float | None = None
    hunted_only: bool = True
    of_hectares: float | None = None  # the part of the site that was counted, where the number is of that alone


@dataclass(frozen=True, slots=True)
class Closing:
    """A window that closes: an event of the clock with quantiles of its date, None = not this season.

    `past` = P(it has happened by the letter's date). `act_by` is the last day to act before it, where that differs.
    """

    name: str
    q10: date | None
    q50: date | None = None
    q90: date | None = None
    act_by: date | None = None
    past: float = 0.0
    english: str = ""
    supposed: bool = False  # no plant that was looked at speaks for it


@dataclass(frozen=True, slots=True)
class Task:
    """Something to do, or not to do: the text, the day by which, the reason, what makes it fail.

    `not_before` says until when nobody may go in; None where nothing bars the way.
    """

    text: Said
    by: date | None = None
    why: Said | None = None
    fails: Said | None = None
    not_before: Said | None = None
    brief: Said | None = None  # for a text, where the whole would not fit
    care: Said | None = None  # the cautions of this work in one line


@dataclass(frozen=True, slots=True)
class Part:
    """A part that one reader needs: its head, and lines below it."""

    head: Said
    lines: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """What was done here already."""

    on: date
    text: Said


@dataclass(frozen=True, slots=True)
class Visit:
    """By when somebody should look again; no day = not yet fixed."""

    on: date | None = None
    what: Said | None = None


@dataclass(frozen=True, slots=True)
class Signer:
    """The person who answers for the letter. Both may be empty: then there is room to write them."""

    name: str = ""
    role: str = ""


@dataclass(frozen=True, slots=True)
class Stop:
    """A place where plants were counted, in metres east and north."""

    x: float
    y: float
    count: int


@dataclass(frozen=True, slots=True)
class Find:
    """A plant that was looked at. `english` is the name it was given, empty = not named."""

    x: float
    y: float
    english: str = ""
    hunted: bool = False


@dataclass(frozen=True, slots=True)
class Feature:
    """A thing that helps to find the way: its kind as in the ledger, its name, its shape in metres."""

    kind: str
    shape: BaseGeometry
    name: str = ""


@dataclass(frozen=True, slots=True)
class MapData:
    """All that the map shows, in metres, north up. Any part may be missing."""

    boundary: BaseGeometry | None = None
    point: tuple[float, float] | None = None
    point_error_m: float = 0.0
    stops: tuple[Stop, ...] = ()
    finds: tuple[Find, ...] = ()
    tracks: tuple[BaseGeometry, ...] = ()
    features: tuple[Feature, ...] = ()

    @property
    def empty(self) -> bool:
        """Nothing to draw at all."""
        return self.boundary is None and self.point is None and not (self.stops or self.finds or self.tracks)


@dataclass(frozen=True, slots=True)
class Record:
    """What the letter was reckoned from: ledger position, hash of the tables, version, citations."""

    known_to: int
    tables: str
    version: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LeafPhoto:
    """A leaf of this place with its petiole and blade drawn in: a small JPEG of pixels alone, and what it says."""

    jpeg: bytes
    says: Said


@dataclass(frozen=True, slots=True)
class LetterData:
    """One letter. `tasks` holds at most five, the one thing to do next first.

    `parts`: what this reader needs beside the advice; `names_shown`: whether the table of names stands behind.
    `alike`: English names that cannot be told apart at this stage and lead together with the share `alike_share`.
    `season_over`: frost has more likely than not killed the plants. `organic`: nobody sprays the crop.
    """

    site: str
    as_of: date
    looks: Looks
    record: Record
    plants: tuple[Plant, ...] = ()
    count: Count | None = None
    closings: tuple[Closing, ...] = ()
    tasks: tuple[Task, ...] = ()
    do_nots: tuple[Task, ...] = ()
    cautions: tuple[Said, ...] = ()
    done: tuple[Done, ...] = ()
    unknowns: tuple[Said, ...] = ()
    parts: tuple[Part, ...] = ()
    names_shown: bool = True
    visit: Visit = Visit()
    signer: Signer = Signer()
    to: str = ""
    greeting: str = ""
    office: str = ""
    place: tuple[str, ...] = ()
    hectares: float | None = None
    first_find: bool = False
    alike: tuple[str, ...] = ()
    alike_share: float = 0.0
    season_over: bool = False
    organic: bool = False
    leaf: LeafPhoto | None = None
    map: MapData = field(default_factory=MapData)

    def __post_init__(self) -> None:
        if len(self.tasks) > MOST_TASKS:
            raise ValueError(f"a letter asks for at most {MOST_TASKS} things, got {len(self.tasks)}")


MOST_TASKS = 5

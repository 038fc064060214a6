"""What an entry can say, by kind. SI inside; whatever was not seen is None.

Field descriptions are the docs: the table in ``docs/rooms/ledger.md`` is made from them.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from tepal.ledger._values import (
    Area,
    Bearing,
    Broken,
    Code,
    Count,
    Day,
    Geometry,
    Group,
    Hash,
    Height,
    Identifier,
    LatestMoment,
    Line,
    Look,
    Moment,
    Part,
    Point,
    Positive,
    Region,
    Share,
    Size,
    Stage,
    Text,
    Track,
    Year,
    YesNo,
)

Ground = Literal[
    "field", "ditch", "roadside", "drainage", "conservation", "feedlot", "pasture", "pivot_corner", "other"
]
SizeClass = Literal["seedling", "under_10_cm", "10_30_cm", "30_100_cm", "over_100_cm", "unknown"]
Role = Literal["owner", "farms", "sprays", "harvests", "decides", "pays", "may_be_told"]

_NAME = re.compile(r"[a-z][a-z0-9_-]{0,59}\Z")


class Body(Part):
    """What every body may carry."""

    on: Day | None = Field(default=None, description="the day it happened; where absent, the day of `made_at`")
    words: Text | None = Field(default=None, description="remarks as they were said or written")


class Feature(Part):
    """Something of a site that matters for seed: a waterway, an entry, a gate, an edge, a yard."""

    kind: Literal["waterway", "entry", "gate", "edge", "yard", "other"]
    name: Line | None = None
    geometry: Geometry | None = None


class Site(Body):
    """A field, a ditch, a roadside…: where it is and what it is called. Counts at every date unless `on` is given."""

    name: Line = Field(description="what the people who farm it call it")
    ground: Ground = Field(description="what kind of ground it is")
    county: Line | None = Field(default=None, description="county")
    state: Line | None = Field(default=None, description="state, two letters in the United States")
    region: Region | None = Field(default=None, description="region of the regional weights")
    boundary: Area | None = Field(default=None, description="GeoJSON Polygon or MultiPolygon, longitude and latitude")
    point: Point | None = Field(default=None, description="[longitude, latitude] where no boundary is known")
    legal: Text | None = Field(default=None, description="legal description")
    station: Line | None = Field(default=None, description="weather station that stands for the site")
    features: tuple[Feature, ...] = Field(default=(), description="waterway, entry, gate, edge…: kind, name, geometry")


class Crop(Body):
    """One crop of one year on the site, or on a part of it."""

    year: Year = Field(description="harvest year")
    crop: Line = Field(description="crop")
    traits: tuple[Line, ...] | None = Field(default=None, description="herbicide traits; [] = none, absent = unknown")
    planted: Day | None = Field(default=None, description="planting date")
    row_cm: Positive | None = Field(default=None, description="row width, cm")
    bearing_deg: Bearing | None = Field(default=None, description="compass bearing of the rows, degrees")
    harvested: Day | None = Field(default=None, description="harvest date")
    part: Text | None = Field(default=None, description="which part of the site, where it is not all")
    stage: Line | None = Field(default=None, description="crop stage (BBCH, or V and R stages)")

    @model_validator(mode="after")
    def _in_order(self) -> Crop:
        if self.planted and self.harvested and self.harvested < self.planted:
            raise Broken("harvested", self.harvested, "harvested may not lie before planted.")
        return self


class Party(Body):
    """Who has to do with the site, and what they may be told. Counts at every date unless `on` is given."""

    name: Line = Field(description="person, firm or office")
    roles: tuple[Role, ...] = Field(min_length=1, description="what they are to the site")
    contact: Text | None = Field(default=None, description="telephone, mail or address")
    consent_to_enter: YesNo | None = Field(default=None, description="may the office walk the site; absent = not asked")
    consent_on: Day | None = Field(default=None, description="when consent was given or refused")


class Place(Part):
    """A place as somebody claimed it."""

    words: Text | None = None
    point: Point | None = None
    error_m: Positive | None = None


class Report(Body):
    """A call, a text, a visit, a letter: what somebody says is there."""

    who: Line | None = Field(default=None, description="who reported")
    how: Literal["call", "text", "visit", "letter"] = Field(description="how it came in")
    words: Text = Field(description="what was said, as it was said")
    place: Place | None = Field(default=None, description="claimed place: words, point, error_m")
    photos: tuple[Hash, ...] = Field(default=(), description="content hashes of photos that came with it")
    answer_by: Day | None = Field(default=None, description="when an answer was promised")


class Walk(Body):
    """A site walked, with or without finds."""

    who: Line | None = Field(default=None, description="who walked")
    started: Moment | None = Field(default=None, description="start")
    ended: Moment | None = Field(default=None, description="end")
    track: Track | None = Field(default=None, description="GeoJSON LineString or MultiLineString; a gap was not walked")
    rows_marked: Text | None = Field(default=None, description="rows marked as walked afterwards, in words")
    sigma_m: Positive | None = Field(default=None, description="detection width: seen at d m with chance exp(-d²/2σ²)")
    minutes: Size | None = Field(default=None, description="time on foot")
    found: Count | None = Field(default=None, description="plants found; 0 = walked and none seen; absent = not said")
    looked_for: tuple[Code, ...] = Field(default=(), description="codes that were looked for")

    @model_validator(mode="after")
    def _in_order(self) -> Walk:
        if self.started and self.ended and self.ended < self.started:
            raise Broken("ended", self.ended, "ended may not lie before started.")
        return self


class Tally(Part):
    """So many plants of one name and size at a stop."""

    taxon: Code
    size: SizeClass = "unknown"
    count: Count
    tallest_cm: Height | None = None


class Stop(Body):
    """One place looked at, with its effort and its counts."""

    at: Point | None = Field(default=None, description="[longitude, latitude]")
    error_m: Positive | None = Field(default=None, description="error of the place (1 sd), m")
    walk: Identifier | None = Field(default=None, description="id of the walk it belongs to")
    area_m2: Positive | None = Field(default=None, description="area looked at, m²; where absent, row_m × row_cm / 100")
    row_m: Positive | None = Field(default=None, description="length of row looked at, m")
    row_cm: Positive | None = Field(default=None, description="row width, cm")
    counts: tuple[Tally, ...] = Field(description="taxon (code or pigweed), size, count, tallest_cm; [] = none")
    by_sight: YesNo = Field(default=False, description="a guess from the edge, not a count")

    @property
    def looked_at_m2(self) -> float | None:
        """The area looked at in square metres, from `area_m2` or from the row; None where neither is known."""
        if self.area_m2 is not None:
            return self.area_m2
        if self.row_m is not None and self.row_cm is not None:
            return self.row_m * self.row_cm / 100
        return None


def _look_names(value: dict[str, object]) -> dict[str, object]:
    for name in value:
        if not _NAME.match(name):
            raise ValueError(f"{name!r} is no name of a character: small letters, digits and _.")
    return value


Looks = Annotated[dict[str, Look], Field(max_length=200), AfterValidator(_look_names)]


class Plant(Body):
    """Looks at one plant."""

    at: Point | None = Field(default=None, description="[longitude, latitude]")
    error_m: Positive | None = Field(default=None, description="error of the place (1 sd), m")
    stop: Identifier | None = Field(default=None, description="id of the stop it stood at")
    stage: Stage = Field(description="growth stage")
    looks: Looks = Field(description="character → state, number in the table's unit, or list of either")
    height_cm: Height | None = Field(default=None, description="height, cm")
    flowering: YesNo | None = Field(default=None, description="in flower; absent = not looked at")
    seed_dark: YesNo | None = Field(default=None, description="dark seed in the heads; absent = not looked at")
    photos: tuple[Hash, ...] = Field(default=(), description="content hashes")
    count: Annotated[Count, Field(ge=1)] = Field(default=1, description="how many such plants stood there")
    seen_by: Literal["eye", "photo"] = Field(default="eye", description="seen on the spot or on a photo")


class Photo(Body):
    """A photo kept by its content."""

    sha256: Hash = Field(description="SHA-256 of the original file")
    media_type: Literal["image/jpeg", "image/png", "image/heic"] = Field(description="media type")
    size_bytes: Annotated[Count, Field(ge=1, le=1_000_000_000)] = Field(description="size of the original")
    taken_at: Moment | None = Field(default=None, description="when it was taken")
    at: Point | None = Field(default=None, description="[longitude, latitude]")
    of: Identifier | None = Field(default=None, description="id of the entry it shows")


class Sound(Body):
    """A voice note kept by its content; `words` is what it says, once somebody has written it down."""

    sha256: Hash = Field(description="SHA-256 of the original file")
    media_type: Literal["audio/webm", "audio/mp4", "audio/ogg"] = Field(description="media type")
    size_bytes: Annotated[Count, Field(ge=1, le=1_000_000_000)] = Field(description="size of the original")
    seconds: Size | None = Field(default=None, description="how long it is, s")
    of: Identifier | None = Field(default=None, description="id of the entry it belongs to")


class Ingredient(Part):
    """One active ingredient as it went out."""

    name: Line
    rate: Positive | None = None
    unit: Line | None = None
    group: Group | None = None


class Done(Body):
    """Something done against the weeds, or to the crop with them."""

    what: Literal["sprayed", "pulled", "cut", "bagged", "mowed", "cultivated", "harvested", "other"] = Field(
        description="what was done"
    )
    ingredients: tuple[Ingredient, ...] = Field(
        default=(), description="active ingredients: name, rate, unit, WSSA/HRAC group"
    )
    volume_l_ha: Positive | None = Field(default=None, description="spray volume, l/ha")
    nozzle: Line | None = Field(default=None, description="nozzle and droplet size, as told")
    adjuvant: Line | None = Field(default=None, description="adjuvants, as told")
    tallest_cm: Height | None = Field(default=None, description="tallest weed at the time, cm")
    weather: Text | None = Field(default=None, description="weather at the time, in words")
    cut_height_cm: Height | None = Field(default=None, description="height of cut, cm")
    share: Share | None = Field(default=None, description="share of the plants that were reached, 0 to 1")
    plants: Count | None = Field(default=None, description="plants dealt with")
    hours: Size | None = Field(default=None, description="hours of work by all together")
    people: Count | None = Field(default=None, description="people at work")
    re_entry_until: LatestMoment | None = Field(
        default=None, description="nobody enters before, as read from the label"
    )
    pre_harvest_until: Day | None = Field(default=None, description="no harvest before, as read from the label")
    survivors: YesNo | None = Field(default=None, description="were plants alive afterwards; absent = not looked")


class Move(Body):
    """Something that may carry seed, moved."""

    what: Line = Field(description="hay, feed, manure, seed lot, machine…")
    from_site: Line | None = Field(default=None, description="site it came from")
    to_site: Line | None = Field(default=None, description="site it went to")
    to_words: Text | None = Field(default=None, description="where it went, where that is no site")
    tag: Line | None = Field(default=None, description="tag, lot or plate")


class Sample(Body):
    """A sample on its way, and what the laboratory said."""

    step: Literal["made", "sent", "received", "result"] = Field(description="how far it is")
    what: Literal["leaf", "seed", "voucher", "plant"] | None = Field(default=None, description="what was taken")
    of: Identifier | None = Field(default=None, description="id of the entry it was taken from")
    laboratory: Line | None = Field(default=None, description="laboratory")
    test: Literal["species", "resistance"] | None = Field(default=None, description="what is asked")
    taxon: Code | None = Field(default=None, description="result: code")
    sure: Share | None = Field(default=None, description="how sure the laboratory is, 0 to 1")
    resistant: dict[Group, Literal["resistant", "susceptible", "mixed"]] | None = Field(
        default=None, description="result by WSSA/HRAC group"
    )


class Letter(Body):
    """What was told to whom, and by whom it was signed."""

    to: Line | None = Field(default=None, description="to whom")
    reader: Line | None = Field(default=None, description="for which reader it was written")
    signed_by: Line | None = Field(default=None, description="who answers for it")
    as_of: Day | None = Field(default=None, description="date of the events counted")
    known_to: Count | None = Field(default=None, description="position in the ledger that was known")
    tables: Line | None = Field(default=None, description="hash of the published tables used")
    version: Line | None = Field(default=None, description="version of the program")
    sha256: Hash | None = Field(default=None, description="hash of the page")
    text: Text | None = Field(default=None, description="the letter in a few lines")


class Answer(Part):
    """One answer in a drill."""

    question: Line
    said: Line
    truth: Line | None = None
    sure: Share | None = None
    right: YesNo | None = None
    seconds: Size | None = None


class Drill(Body):
    """A reader's answers in practice."""

    reader: Line = Field(description="who answered")
    answers: tuple[Answer, ...] = Field(default=(), description="question, said, truth, sure (0 to 1), right, seconds")


class Note(Body):
    """Anything else."""

    words: Text = Field(description="the note")


class Withdraw(Body):
    """The entry that `amends` names no longer counts, nor do amendments of it. Withdrawing a withdrawal restores."""

    reason: Text | None = Field(default=None, description="why")


class Forgotten(Body):
    """What is left of an entry about a person whose data were forgotten; `forgotten` beside it is the entry's hash."""

    was: Line = Field(description="the kind of entry it was")


BODIES: dict[str, type[Body]] = {
    body.__name__.lower(): body
    for body in (
        Site,
        Crop,
        Party,
        Report,
        Walk,
        Stop,
        Plant,
        Photo,
        Sound,
        Done,
        Move,
        Sample,
        Letter,
        Drill,
        Note,
        Withdraw,
        Forgotten,
    )
}
KINDS: tuple[str, ...] = tuple(BODIES)
# Kinds that say nothing unless one knows of which ground.
KINDS_OF_A_SITE = frozenset({"site", "crop", "walk", "stop", "done"})

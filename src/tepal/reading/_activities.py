"""What was done at a site and what a laboratory said: dated lines, and the facts that rules ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import shapely
from shapely.geometry import shape

from tepal.flora import Flora
from tepal.ledger import Done, Entry, Ingredient, Move, Sample, event_date
from tepal.reading._records import DoneLine, Fact, Place
from tepal.reading._zone import local

# From this sureness of a laboratory on a name counts as proved; without a word of its own it is this sure (judgement).
PROVED, _LABORATORY = 0.95, 0.99
# A spraying so soon after planting, with no weed's height told, went onto the soil (judgement).
_AT_PLANTING = timedelta(days=7)
# What a reading tells of a piece of work: nothing that was said in words, nobody's name.
_TOLD = frozenset(
    ("ingredients", "volume_l_ha", "tallest_cm", "cut_height_cm", "share", "plants", "hours", "re_entry_until",
     "pre_harvest_until", "survivors", "nozzle", "adjuvant")
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Activities:
    """Done lines in order of their day, facts about them, and laboratory results by taxon."""

    lines: tuple[DoneLine, ...]
    facts: dict[str, Fact]
    proved: dict[str, str]  # code -> entry id
    entries: tuple[str, ...]


def activities(entries: Sequence[Entry], as_of: date, flora: Flora, *, place: Place) -> Activities:
    """Lines and facts from the standing `done` and `sample` entries of a site."""
    planted = place.planted
    done = sorted(
        ((event_date(entry), entry, entry.body) for entry in entries if isinstance(entry.body, Done)),
        key=lambda item: (item[0], item[1].seq or 0),
    )
    samples = [(entry, entry.body) for entry in entries if isinstance(entry.body, Sample)]
    lines = tuple(DoneLine(entry.id, body.what, on, _detail(body, flora)) for on, entry, body in done)
    this_season = [line for line in lines if line.on.year == as_of.year]
    survivors, were = _lived(
        [
            body
            for line, (on, _, body) in zip(lines, done, strict=True)
            if on.year == as_of.year and on_plants(line, planted)
        ]
    )
    facts: dict[str, Fact] = {
        "sprayed_days": _days_since(this_season, {"sprayed"}, as_of),
        "pulled_days": _days_since(this_season, {"pulled", "bagged"}, as_of),
        "cut_days": _days_since(this_season, {"cut"}, as_of),
        "mowed_days": _days_since(this_season, {"mowed"}, as_of),
        "sprayed_groups": _groups([line for line in this_season if on_plants(line, planted)]),
        "survivors": survivors,
        "survivors_were_cm": were if survivors else None,
        **_re_entry([body for _, _, body in done], as_of, place),
        **_pre_harvest([body for _, _, body in done], as_of),
        **_moved(entries, as_of),
        "resistant_groups": _resistant(samples),
        "sample_pending": _pending(samples),
    }
    proved = {
        body.taxon: entry.id
        for entry, body in samples
        if body.taxon and names_a_species(body) and how_sure(body) >= PROVED
    }
    facts |= {f"proved.{code}": code in proved for code in flora.hunted()}
    ids = tuple(line.entry for line in lines) + tuple(entry.id for entry, _ in samples)
    return Activities(lines, facts, proved, ids)


def on_plants(line: DoneLine, planted: date | None) -> bool:
    """Whether a spraying was one of plants that were up. What is laid on the soil at planting kills seedlings for some
    weeks; plants that come up after that have lived through nothing."""
    if planted is None or line.detail.get("tallest_cm"):
        return True
    return not timedelta(0) <= line.on - planted <= _AT_PLANTING


def names_a_species(sample: Sample) -> bool:
    """Whether a laboratory's result says what the plant is."""
    return sample.step == "result" and sample.taxon is not None and sample.test != "resistance"


def how_sure(sample: Sample) -> float:
    """How sure the laboratory is of the name; samples are mixed up now and then (judgement), so never quite."""
    return min(_LABORATORY if sample.sure is None else sample.sure, _LABORATORY)


def _moved(entries: Sequence[Entry], as_of: date) -> dict[str, Fact]:
    """What left the site and what came, back to the start of last year: seed in hay is fed over a winter.

    An entry that names no place it came from tells of something that left the site it stands at.
    """
    moves = [
        (event_date(entry), entry.body, entry.site)
        for entry in entries
        if isinstance(entry.body, Move) and event_date(entry).year >= as_of.year - 1
    ]
    out = [(on, body.what) for on, body, site in moves if body.from_site in (None, site) and body.to_site != site]
    came = [on for on, body, site in moves if body.to_site == site]
    # Each load of each day: what left a day earlier, or last year, may lie at another place.
    left = sorted({(on, what.replace(";", ",")) for on, what in out}, reverse=True)
    return {
        "moved_out_days": float((as_of - left[0][0]).days) if left else None,
        "moved_in_days": float((as_of - max(came)).days) if came else None,
        "moved_out": "; ".join(what for _, what in left) or None,
        "moved_out_on": "; ".join(on.isoformat() for on, _ in left) or None,
    }


def _pending(samples: Sequence[tuple[Entry, Sample]]) -> bool:
    """A sample was made or sent after the last result."""
    results = [event_date(entry) for entry, body in samples if body.step == "result"]
    open_ = [event_date(entry) for entry, body in samples if body.step != "result"]
    return bool(open_) and max(open_) > max(results, default=date.min)


def _detail(body: Done, flora: Flora) -> dict[str, object]:
    detail: dict[str, object] = {
        key: value
        for key, value in body.model_dump(mode="json", exclude_none=True).items()
        if key in _TOLD and value not in ((), [])
    }
    if body.ingredients:
        detail["ingredients"] = [_ingredient(item, flora) for item in body.ingredients]
    return detail


def _ingredient(item: Ingredient, flora: Flora) -> dict[str, object]:
    found: dict[str, object] = {"name": item.name, "group": item.group or _group_of(item.name, flora)}
    return found if item.rate is None else found | {"rate": item.rate, "unit": item.unit}


def _group_of(name: str, flora: Flora) -> str | None:
    found = flora.ingredients.get(name) or next(
        (item for key, item in flora.ingredients.items() if key.casefold() == name.casefold()), None
    )
    return None if found is None else str(found.groups[0])


def _days_since(lines: Sequence[DoneLine], kinds: set[str], as_of: date) -> float | None:
    days = [(as_of - line.on).days for line in lines if line.what in kinds]
    return float(min(days)) if days else None


def _groups(lines: Sequence[DoneLine]) -> str | None:
    groups = {
        str(item["group"])
        for line in lines
        if line.what == "sprayed"
        for item in line.detail.get("ingredients", ())
        if item["group"] is not None
    }
    return ",".join(sorted(groups, key=lambda group: (len(group), group))) or None


def _lived(sprayings: Sequence[Done]) -> tuple[bool | None, float | None]:
    """The last word on whether plants lived through a spraying, and how tall the tallest stood on its day."""
    said = [body for body in sprayings if body.survivors is not None]
    return (said[-1].survivors, said[-1].tallest_cm) if said else (None, None)


def _re_entry(bodies: Sequence[Done], as_of: date, place: Place) -> dict[str, Fact]:
    ends = [body.re_entry_until for body in bodies if body.re_entry_until is not None]
    if not ends:
        return {"re_entry_until": None, "re_entry_open": False}
    last = local(max(ends), state=place.state, longitude=_longitude(place))
    start_of_day = datetime(as_of.year, as_of.month, as_of.day, tzinfo=last.tzinfo or UTC)
    return {"re_entry_until": last, "re_entry_open": last > start_of_day}


def _longitude(place: Place) -> float | None:
    if place.boundary is not None:
        return float(shapely.centroid(shape(dict(place.boundary))).x)
    return None if place.point is None else place.point[0]


def _pre_harvest(bodies: Sequence[Done], as_of: date) -> dict[str, Fact]:
    """The last day that a label of this season sets for harvest; harvest may begin on that day."""
    ends = [body.pre_harvest_until for body in bodies if body.pre_harvest_until is not None]
    ends = [end for end in ends if end.year == as_of.year]
    last = max(ends, default=None)
    return {"pre_harvest_until": last, "pre_harvest_open": last is not None and last > as_of}


def _resistant(samples: Sequence[tuple[Entry, Sample]]) -> str | None:
    groups = {
        str(group)
        for _, body in samples
        if body.step == "result" and body.resistant
        for group, found in body.resistant.items()
        if found in ("resistant", "mixed")
    }
    return ",".join(sorted(groups, key=lambda group: (len(group), group))) or None

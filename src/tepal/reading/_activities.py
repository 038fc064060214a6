"""What was done at a site and what a laboratory said: dated lines, and the facts that rules ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from tepal.flora import Flora
from tepal.ledger import Done, Entry, Sample, event_date
from tepal.reading._fact_keys import HUNTED_KEYS
from tepal.reading._records import DoneLine, Fact


@dataclass(frozen=True, slots=True)
class Activities:
    """Done lines in order of their day, facts about them, and laboratory results by taxon."""

    lines: tuple[DoneLine, ...]
    facts: dict[str, Fact]
    proved: dict[str, str]  # code -> entry id
    entries: tuple[str, ...]


def activities(entries: Sequence[Entry], as_of: date, flora: Flora) -> Activities:
    """Lines and facts from the standing `done` and `sample` entries of a site."""
    done = sorted(
        ((event_date(entry), entry, entry.body) for entry in entries if isinstance(entry.body, Done)),
        key=lambda item: (item[0], item[1].seq or 0),
    )
    samples = [(entry, entry.body) for entry in entries if isinstance(entry.body, Sample)]
    lines = tuple(DoneLine(entry.id, body.what, on, _detail(body, flora)) for on, entry, body in done)
    this_season = [line for line in lines if line.on.year == as_of.year]
    facts: dict[str, Fact] = {
        "sprayed_days": _days_since(this_season, {"sprayed"}, as_of),
        "pulled_days": _days_since(this_season, {"pulled", "bagged"}, as_of),
        "cut_days": _days_since(this_season, {"cut"}, as_of),
        "mowed_days": _days_since(this_season, {"mowed"}, as_of),
        "sprayed_groups": _groups(this_season),
        "survivors": _last_word([body.survivors for on, _, body in done if on.year == as_of.year]),
        **_re_entry([body for _, _, body in done], as_of),
        **_pre_harvest([body for _, _, body in done], as_of),
        "resistant_groups": _resistant(samples),
        "sample_pending": any(body.step != "result" for _, body in samples)
        and not any(body.step == "result" for _, body in samples),
    }
    proved = {body.taxon: entry.id for entry, body in samples if body.step == "result" and body.taxon}
    facts |= {f"proved.{code}": code in proved for code in HUNTED_KEYS}
    ids = tuple(line.entry for line in lines) + tuple(entry.id for entry, _ in samples)
    return Activities(lines, facts, proved, ids)


def _detail(body: Done, flora: Flora) -> dict[str, object]:
    detail: dict[str, object] = {
        key: value
        for key, value in body.model_dump(mode="json", exclude_none=True).items()
        if key not in ("what", "on") and value not in ((), [])
    }
    if body.ingredients:
        detail["ingredients"] = [
            {"name": item.name, "group": item.group or _group_of(item.name, flora)} for item in body.ingredients
        ]
    return detail


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


def _last_word(values: Sequence[bool | None]) -> bool | None:
    said = [value for value in values if value is not None]
    return said[-1] if said else None


def _re_entry(bodies: Sequence[Done], as_of: date) -> dict[str, Fact]:
    ends = [body.re_entry_until for body in bodies if body.re_entry_until is not None]
    if not ends:
        return {"re_entry_until": None, "re_entry_open": False}
    last = max(ends)
    start_of_day = datetime(as_of.year, as_of.month, as_of.day, tzinfo=last.tzinfo or UTC)
    return {"re_entry_until": last, "re_entry_open": last > start_of_day}


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

"""The county: what closes next and which calls want an answer, by the day, as a list that a person reads downwards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from tepal.serve.desk._calls import Call
from tepal.serve.desk._county_map import Mark, county_map
from tepal.serve.desk._links import Links
from tepal.serve.desk._readings import Shown
from tepal.serve.desk._told import day, wording
from tepal.words import Words

# What closes within so many days is marked; days are told one by one up to `_AHEAD`.
_SOON = timedelta(days=7)
_AHEAD = timedelta(days=21)
# So many sites of one day are told in full; more of them by name.
_IN_FULL = 10
_NAMED = 12


@dataclass(frozen=True, slots=True)
class Line:
    """One thing of a day. `reason`: what closes; `why`: where it is told on what that stands."""

    href: str
    name: str
    text: str
    reason: str = ""
    why: str = ""
    bars: str = ""
    late: bool = False
    number: int | None = None
    sites: tuple[tuple[str, str], ...] = ()  # several sites of which the same is to be said: href, name


@dataclass(frozen=True, slots=True)
class Day:
    """A heading of the list and what stands below it. `soon`: within seven days."""

    label: str
    soon: bool
    lines: tuple[Line, ...]
    more: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class CountyView:
    """The page: its one sentence, its days, the places where nothing closes, the map."""

    name: str
    sentence: str
    days: tuple[Day, ...]
    quiet: tuple[Line, ...]
    unread: tuple[tuple[str, str], ...]
    map: Any
    age: str
    anew: int
    empty: bool


def county_view(
    shown: Sequence[Shown],
    calls: Sequence[Call],
    *,
    as_of: date,
    words: Words,
    links: Links,
    names: Mapping[str, str] | None = None,
    office: str = "",
) -> CountyView:
    """The county as one person may see it: `shown` and `calls` are theirs, and nothing else is looked at.

    `names`: what sites are called that have no reading yet, by id.
    """
    lines = [_line(one, as_of, words, links) for one in shown if one.brief is not None]
    dated = [(on, rank, line) for on, rank, line in lines if on is not None]
    names = {one.site: one.told.get("name") or (names or {}).get(one.site, one.site) for one in shown}
    dated += [_call(of_site, names, as_of, words, links) for of_site in _waiting(calls, as_of)]
    dated.sort(key=lambda item: (item[0], item[1], item[2].name))
    rows = _numbered([(on, line) for on, _, line in dated], words)
    quiet = sorted((line for on, _, line in lines if on is None), key=lambda line: line.name)
    anew = sum(1 for one in shown if not one.holds)
    return CountyView(
        name=_county(shown, office, words),
        sentence=_sentence(rows, as_of, words, any_site=bool(shown)),
        days=_days(rows, as_of, words),
        quiet=tuple(quiet),
        unread=tuple((links.site(one.site), names[one.site]) for one in shown if one.brief is None and not one.refused),
        map=_map(shown, rows, as_of, words, links),
        age=age_words(anew, len(shown), words),
        anew=anew,
        empty=not shown,
    )


def _line(one: Shown, as_of: date, words: Words, links: Links) -> tuple[date | None, tuple[float, ...], Line]:
    told, said = one.told, one.told["words"][wording(words)]
    by = day(told["by"])
    # What had to be done by a day that is gone is to be done today.
    on = None if by is None else max(by, as_of)
    tasks = said["do"]
    task = next((item for item in tasks if item["by"] == told["by"] and by is not None), tasks[0] if tasks else None)
    closes = said["closes"] if task and told["closes_on"] is not None else ""
    pointer = f"/advice/actions/{tasks.index(task)}" if task else "/windows"
    line = Line(
        href=links.site(one.site),
        name=told["name"],
        text=task["text"] if task else said["closes"] or said["sentence"],
        reason=" ".join(part for part in (_first(said["sentence"], told), closes) if part),
        why=links.why(one.site, pointer),
        bars=said["blocked"] or "",
        late=by is not None and by < as_of,
        sites=((links.site(one.site), told["name"]),) if told["seen"] == "nobody" else (),
    )
    # Of one day: where the hunted stand before where they may, many before few, places nobody looked at last.
    place = ("hunted", "maybe", "other", "none", "nobody").index(told["seen"])
    return on, (1.0, float(place), -(told["total"] or 0.0)), line


def _waiting(calls: Sequence[Call], as_of: date) -> list[list[Call]]:
    """Calls of this year that wait, those about one place together: one answer does for all.

    A call of an earlier year is history, answered or not: it stands on the page of calls.
    """
    found: dict[str, list[Call]] = {}
    for call in calls:
        if call.answered is None and call.on.year == as_of.year:
            found.setdefault(call.site, []).append(call)
    return list(found.values())


def _call(
    calls: Sequence[Call], names: Mapping[str, str], as_of: date, words: Words, links: Links
) -> tuple[date, tuple[float, ...], Line]:
    last = calls[-1]
    promised = min((call.report.answer_by for call in calls if call.report.answer_by is not None), default=None)
    text = {
        "call": words.t("Answer the call."),
        "text": words.t("Answer the text."),
        "visit": words.t("Answer the visitor."),
        "letter": words.t("Answer the letter."),
    }[last.report.how]
    if len(calls) > 1:
        text = words.plural("Answer {count} call.", "Answer {count} calls, all about this place.", len(calls))
    came = words.day(calls[0].on)
    late = promised is not None and promised < as_of
    if promised is None:
        reason = words.t("It came on {day}; no day was promised.", day=came)
    elif late:
        reason = words.t("It came on {day}; an answer was promised by {by}.", day=came, by=words.day(promised))
    else:
        reason = words.t("It came on {day}.", day=came)
    said = " ".join(last.report.words.split())
    name = names.get(last.site, last.site)
    line = Line(links.call(last.entry.id), name, text, reason=f"{reason} “{_short(said)}”", late=late)
    return max(promised or as_of, as_of), (0.0, (promised or as_of).toordinal()), line


def _numbered(dated: Sequence[tuple[date, Line]], words: Words) -> list[tuple[date, Line]]:
    """The lines in their order, numbered from 1; what is said of several places of one day as one line."""
    found: list[tuple[date, Line]] = []
    for on in sorted({on for on, _ in dated}):
        found += [(on, line) for line in _together([line for other, line in dated if other == on], words)]
    return [(on, replace(line, number=number)) for number, (on, line) in enumerate(found, 1)]


def _days(dated: Sequence[tuple[date, Line]], as_of: date, words: Words) -> tuple[Day, ...]:
    found: list[Day] = []
    for on in sorted({on for on, _ in dated if on - as_of <= _AHEAD}):
        lines = [line for other, line in dated if other == on]
        found.append(
            Day(_label(on, as_of, words), on - as_of <= _SOON, tuple(lines[:_IN_FULL]), tuple(lines[_IN_FULL:]))
        )
    later = [line for on, line in dated if on - as_of > _AHEAD]
    if later:
        found.append(Day(words.t("Later"), False, tuple(later[:_IN_FULL]), tuple(later[_IN_FULL:])))
    return tuple(found)


def _together(lines: Sequence[Line], words: Words) -> list[Line]:
    """Places that nobody has looked at and of which the same is to be said become one line."""
    groups: dict[str, list[Line]] = {}
    for line in lines:
        if line.sites:
            groups.setdefault(line.text, []).append(line)
    out: list[Line] = []
    for line in lines:
        same = groups.get(line.text, []) if line.sites else []
        if len(same) < 2:
            out.append(line)
        elif same[0] is line:
            sites = tuple(site for one in same for site in one.sites)
            name = words.plural("{count} place", "{count} places", len(sites))
            out.append(Line(line.href, name, line.text, sites=sites))
    return out


def _label(on: date, as_of: date, words: Words) -> str:
    if on == as_of:
        return words.t("Today")
    if on == as_of + timedelta(days=1):
        return words.t("By tomorrow")
    return words.t("By {day}", day=words.day(on))


def _sentence(dated: Sequence[tuple[date, Line]], as_of: date, words: Words, *, any_site: bool) -> str:
    if not dated:
        return words.t("Nothing closes, and nobody waits for an answer.") if any_site else ""
    soon = sum(max(1, len(line.sites)) for on, line in dated if on - as_of <= _SOON)
    on, line = dated[0]
    if not soon:
        day = words.day(on)
        return words.t("Nothing wants doing within seven days. Next: {name}, by {day}.", name=line.name, day=day)
    told = words.plural(
        "One thing wants doing within seven days:", "{count} things want doing within seven days. First:", soon
    )
    late = words.t("It is late.") if line.late else ""
    return " ".join(part for part in (told, f"{line.name}.", _clause(line.text), late) if part)


def _clause(text: str, most: int = 90) -> str:
    """The first sentence of what to do, if it is short enough for a headline."""
    first = text.partition(". ")[0].rstrip(".") + "."
    return first if len(first) <= most else ""


def _county(shown: Sequence[Shown], office: str, words: Words) -> str:
    counties = [one.told["county"] for one in shown if one.told.get("county")]
    if counties and len(set(counties)) == 1:
        return words.t("{county} County", county=counties[0])
    return office or words.t("The county")


def age_words(anew: int, sites: int, words: Words) -> str:
    """How far the list is behind the record."""
    if not anew:
        return words.t("All of this is as the record stands now.")
    return words.t(
        "{n} of {all} readings are being reckoned anew; what stands here is the last one of each.",
        n=words.number(anew),
        all=words.number(sites),
    )


def _map(shown: Sequence[Shown], dated: Sequence[tuple[date, Line]], as_of: date, words: Words, links: Links) -> Any:
    numbers: dict[str, int | None] = {}
    for on, line in reversed(dated):
        if on - as_of <= _AHEAD:
            numbers |= dict.fromkeys((line.href, *(href for href, _ in line.sites)), line.number)
    marks = [
        Mark(
            lon=one.told["centre"][0],
            lat=one.told["centre"][1],
            seen=one.told["seen"],
            name=one.told["name"],
            number=numbers.get(links.site(one.site)),
        )
        for one in shown
        if one.told.get("centre")
    ]
    return county_map(marks, words)


def _first(sentence: str, told: Mapping[str, Any]) -> str:
    """What stands there, in the first sentence of its reading; nothing where nobody has looked."""
    return "" if told["seen"] == "nobody" else sentence.partition(". ")[0].rstrip(".") + "."


def _short(text: str, most: int = 140) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"

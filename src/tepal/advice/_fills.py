"""What the braces of a rule's sentence may hold, and how each is worded in one language and system of units."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from tepal.ledger import LATEST_ZONE
from tepal.words import Words, message

FILLS = (
    "cm", "m", "kg", "c", "hunted", "leading", "seeds_each", "ceiling", "chance_hunted", "seen_share", "sprayed_groups",
    "re_entry", "pre_harvest", "nesting_until", "authority", "law_name", "law_listing", "law_note", "law_must",
    "law_moving", "law_checked", "first", "doubtful_groups", "left_groups", "moved_out", "the_place",
    "resistant_groups", "beside", "spray_stage",
)  # fmt: skip
_POUND = 0.45359237
# Of many loads the newest days are named: a sentence has to be said over the telephone.
_MOST_DAYS = 3
# How a sentence speaks of the ground: nobody walks "the field" along a ditch.
_ANYWHERE = message("the place")
_GROUNDS = {
    "field": message("the field"),
    "ditch": message("the ditch"),
    "roadside": message("the roadside"),
    "drainage": message("the drainage way"),
    "conservation": message("the planting"),
    "feedlot": message("the lot"),
    "pasture": message("the pasture"),
    "pivot_corner": message("the corner"),
}


@dataclass(frozen=True, slots=True)
class Law:
    """The law row of the site, as texts; empty where nothing is known. `status`: read, recalled or office."""

    listed: str = ""
    name: str = ""
    class_words: str = ""
    tell: str = ""
    must: str = ""
    how_soon: str = ""
    moving: str = ""
    checked: date | None = None
    status: str = ""

    def worded(self, words: Words) -> Mapping[str, object]:
        name = words.t(self.name) if self.name else words.t("this weed")
        listing = ""
        if self.listed == "yes":
            listing = words.t("the state lists {plant}", plant=name)
        elif self.listed == "county":
            listing = words.t("counties of the state may list {plant}", plant=name)
        if listing and self.class_words:
            listing = words.t("{listing} ({class_words})", listing=listing, class_words=words.t(self.class_words))
        return {
            "authority": words.t(self.tell) if self.tell else words.t("your state authority for weeds"),
            "law_name": name,
            "law_listing": listing or words.t("ask whether {plant} is listed", plant=name),
            "law_note": f" {listing[0].upper()}{listing[1:]}." if listing else "",
            "law_must": "".join(f"{words.t(text)} " for text in (self.must, self.how_soon) if text),
            "law_moving": f"{words.t(self.moving)} " if self.moving else "",
            "law_checked": self._checked(words),
        }

    def _checked(self, words: Words) -> str:
        if self.checked is None or self.status not in ("read", "office"):
            return words.t("not checked")
        day = words.day(self.checked, year=True)
        if self.status == "office":
            return words.t("entered by this office on {day}", day=day)
        return words.t("read on {day}", day=day)


@dataclass(frozen=True, slots=True)
class Fills:
    """The values of one site on one day. None is a value too: it has its own words."""

    hunted: tuple[str, ...] = ()
    leading: str | None = None
    seeds_each: float | None = None
    ceiling_per_ha: float | None = None
    p_hunted: float | None = None
    seen_share: float | None = None
    sprayed_groups: tuple[str, ...] = ()
    re_entry: datetime | None = None
    pre_harvest: date | None = None
    nesting_until: date | None = None
    law: Law = Law()
    first: tuple[str, ...] = ()
    doubtful_groups: tuple[str, ...] = ()
    left_groups: tuple[str, ...] = ()
    moved_out: tuple[tuple[str, date], ...] = ()  # what left, and when
    year: int | None = None  # of the reading: days of another year are told with theirs
    ground: str = ""
    resistant_groups: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    spray_stage: str = ""

    def worded(self, words: Words) -> Mapping[str, object]:
        """The values for `Words.t`; a length or weight in a sentence is given as {cm:10}, {m:300}, {kg:68}."""
        return {
            **self.law.worded(words),
            "pre_harvest": words.day(self.pre_harvest)
            if self.pre_harvest
            else words.t("the label's waiting time ends"),
            "nesting_until": words.day(self.nesting_until)
            if self.nesting_until
            else words.t("the nesting season ends"),
            "cm": _Measure(lambda number: words.length(number / 100)),
            "m": _Measure(words.length),
            "kg": _Measure(lambda number: _weight(number, words)),
            "c": _Measure(lambda number: _warmth(number, words)),
            "hunted": words.listing([words.t(name) for name in self.hunted], last="or") or words.t("pigweed"),
            "first": words.listing([words.t(name) for name in self.first], last="or") or words.t("pigweed"),
            "doubtful_groups": words.listing(self.doubtful_groups) or words.t("that were used before"),
            "left_groups": _sites(self.left_groups, words) or words.t("none"),
            "resistant_groups": _sites(self.resistant_groups, words) or words.t("a site that failed"),
            "beside": words.listing(self.beside) or words.t("what stands beside it"),
            "spray_stage": words.t(self.spray_stage) if self.spray_stage else words.t("the crop's flowering"),
            "moved_out": self._moved_out(words),
            "the_place": words.t(_GROUNDS.get(self.ground, _ANYWHERE)),
            "leading": words.t(self.leading) if self.leading else words.t("another pigweed"),
            "seeds_each": seeds(self.seeds_each, words) if self.seeds_each else words.t("very many"),
            "ceiling": words.density(self.ceiling_per_ha / 1e4) if self.ceiling_per_ha else words.t("a few hundred"),
            "chance_hunted": words.t("some chance") if self.p_hunted is None else words.chance(self.p_hunted),
            "seen_share": self._seen(words),
            "sprayed_groups": self._groups(words),
            "re_entry": _moment(self.re_entry, words) if self.re_entry else words.t("the label's re-entry time"),
        }

    def _seen(self, words: Words) -> str:
        if self.seen_share is None:
            return ""
        return words.t(
            " (a plant standing there had {chance} of being seen)",
            chance=words.chance(self.seen_share),
        )

    def _moved_out(self, words: Words) -> str:
        if not self.moved_out:
            return words.t("something that may carry seed")
        days: dict[str, list[date]] = {}
        for what, on in self.moved_out:
            days.setdefault(what, []).append(on)
        return "; ".join(words.t("{what}, on {day}", what=what, day=self._on(ons, words)) for what, ons in days.items())

    def _on(self, days: Sequence[date], words: Words) -> str:
        """The days of one thing, newest first; of many the newest three and how many more."""
        told = [
            words.day_month(on) if self.year in (None, on.year) else words.day(on, year=True)
            for on in days[:_MOST_DAYS]
        ]
        more = len(days) - _MOST_DAYS
        if more > 0:
            told.append(words.plural("{count} earlier day", "{count} earlier days", more))
        return words.listing(told)

    def _groups(self, words: Words) -> str:
        if not self.sprayed_groups:
            return ""
        if len(self.sprayed_groups) == 1:
            return words.t(" (WSSA group {group})", group=self.sprayed_groups[0])
        return words.t(" (WSSA groups {groups})", groups=words.listing(self.sprayed_groups))


def _sites(groups: tuple[str, ...], words: Words) -> str:
    """Sites of action by their WSSA numbers; empty where there are none."""
    if len(groups) == 1:
        return words.t("group {group}", group=groups[0])
    return words.t("groups {groups}", groups=words.listing(groups)) if groups else ""


def seeds(value: float, words: Words) -> str:
    """A number of seeds, roughly; millions and billions as words."""
    if value >= 1e9:
        return words.t("{n} billion", n=words.about(value / 1e9))
    return words.t("{n} million", n=words.about(value / 1e6)) if value >= 1e6 else words.about(value)


def hours(value: float, words: Words) -> str:
    """Hours of work, roughly."""
    whole = round(value)
    if whole < 1:
        return words.t("less than an hour")
    return words.t("about an hour") if whole == 1 else words.t("about {n} hours", n=words.about(float(whole)))


def seeds_between(low: float, high: float, words: Words) -> str:
    """A range of seeds, or the one number where both round to the same."""
    first, second = seeds(low, words), seeds(high, words)
    return first if first == second else words.t("{low} to {high}", low=first, high=second)


@dataclass(frozen=True, slots=True)
class _Measure:
    """A unit whose number stands in the sentence itself, as a format: `{cm:10}` with `format(self, "10")`."""

    worded: Callable[[float], str]

    def __format__(self, number: str) -> str:
        return self.worded(float(number))


def _weight(kilograms: float, words: Words) -> str:
    if words.units == "us":
        return words.t("{n} lb", n=words.about(kilograms / _POUND))
    return words.t("{n} kg", n=words.about(kilograms))


def _warmth(celsius: float, words: Words) -> str:
    if words.units == "us":
        return words.t("{n} °F", n=words.number(round(celsius * 9 / 5 + 32)))
    return words.t("{n} °C", n=words.number(celsius))


def _moment(moment: datetime | date, words: Words) -> str:
    day = words.day(moment.date() if isinstance(moment, datetime) else moment)
    if not isinstance(moment, datetime):
        return day
    if words.units == "us":
        hour = words.t("{hour}:{minute} {half}", hour=(moment.hour - 1) % 12 + 1, minute=f"{moment.minute:02d}",
                       half=words.t("a.m.") if moment.hour < 12 else words.t("p.m."))  # fmt: skip
    else:
        hour = f"{moment.hour}:{moment.minute:02d}"
    zone = _zone(moment, words)
    return words.t("{hour} on {day}", hour=hour, day=day) + (f" ({zone})" if zone else "")


def _zone(moment: datetime, words: Words) -> str:
    """Whose clock shows the hour; empty for the hour as it was told, on the spot."""
    if moment.tzinfo is None or moment.tzinfo == LATEST_ZONE:
        return ""
    return words.t(moment.tzname() or "UTC")

"""What advice hands on: items without a language, worded on demand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from tepal.advice._fills import Fills
from tepal.advice._rules import About, Kind, Reader
from tepal.advice._waiting import Waiting
from tepal.advice._work_days import SprayDays
from tepal.doubt import Basis, Provenance
from tepal.reading import Fact
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution that belongs to the advice beside it."""

    key: str
    about: About
    message: str
    fills: Fills
    sources: tuple[str, ...]
    basis: Basis

    def text(self, words: Words) -> str:
        return words.t(self.message, **self.fills.worded(words))


@dataclass(frozen=True, slots=True)
class Item:
    """One piece of advice: something to do, not to do, to find out, or to plan for the next seasons.

    `message`, `why_message`, `fails_message` are English catalogue messages; `text`, `why`, `fails` word them. `by`:
    the day by which; `today`: that is the day of the reading; `late`: the day that was wanted had passed already;
    `same_day`: a duty of the day itself. `not_before`: nobody may enter until then. `after`: the item that this one
    follows; `readers`: who beside the tenant needs it. `seed_kept_out` (seeds) and `hours` are summaries of draws, None
    where the number of plants or their height is not known; `seed_per_hour` is expected seed over expected hours.
    `reading_keys`: the facts that the rule stood on; `stands_on`: its sources, those of the numbers that ranked it, and
    the entries behind those facts.
    """

    id: str
    kind: Kind
    turn: int
    message: str
    why_message: str
    fails_message: str
    fills: Fills
    after: str | None
    by: date | None
    today: bool
    late: bool
    same_day: bool
    not_before: datetime | None
    cautions: tuple[str, ...]
    tags: tuple[str, ...]
    readers: tuple[Reader, ...]
    sources: tuple[str, ...]
    basis: Basis
    seed_kept_out: Mapping[str, float] | None
    hours: Mapping[str, float] | None
    seed_per_hour: float | None
    reading_keys: tuple[str, ...]
    stands_on: Provenance

    def text(self, words: Words) -> str:
        return words.t(self.message, **self.fills.worded(words))

    def why(self, words: Words) -> str:
        return words.t(self.why_message, **self.fills.worded(words))

    def fails(self, words: Words) -> str:
        """What makes it fail; empty where the rule says nothing of it."""
        return words.t(self.fails_message, **self.fills.worded(words)) if self.fails_message else ""

    def when(self, words: Words) -> str:
        """By when, as the words that go before or after the sentence; empty where there is no day."""
        if self.today:
            return words.t("today")
        return words.t("by {day}", day=words.day(self.by)) if self.by is not None else ""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one site on one day.

    `actions`: what to do and to find out, ranked, at most as many as were asked for; `later`: those that did not fit,
    in the same order; `do_nots`; `cautions` that belong to `actions` and `do_nots`, each once; `programme`: for the
    next seasons; `return_on`: the earliest day on which someone must come back, None where no item asks for it.
    `waiting`: what a week's wait costs in seed; `spray_days`: days left to spray; None where neither can be told.
    `facts`: those on which the rules were asked.
    """

    site: str
    as_of: date
    actions: tuple[Item, ...]
    do_nots: tuple[Item, ...]
    cautions: tuple[Caution, ...]
    programme: tuple[Item, ...]
    later: tuple[Item, ...]
    return_on: date | None
    waiting: Waiting | None = None
    spray_days: SprayDays | None = None
    facts: Mapping[str, Fact] = field(default_factory=dict)

    def items(self) -> tuple[Item, ...]:
        return self.actions + self.do_nots + self.programme + self.later

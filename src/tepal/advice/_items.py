"""What advice hands on: items without a language, worded on demand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from tepal.advice._fills import Fills
from tepal.advice._rules import Kind
from tepal.doubt import Basis, Provenance
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution that belongs to the advice beside it."""

    key: str
    message: str
    sources: tuple[str, ...]
    basis: Basis

    def text(self, words: Words) -> str:
        return words.t(self.message, **Fills().worded(words))


@dataclass(frozen=True, slots=True)
class Item:
    """One piece of advice: something to do, not to do, to find out, or to plan for the next seasons.

    `message`, `why_message`, `fails_message` are English catalogue messages; `text`, `why`, `fails` word them. `by`:
    the day by which; `late`: the day that was wanted has passed, so it is today; `same_day`: a duty of the day itself.
    `not_before`: nobody may enter until then. `seed_kept_out` (seeds) and `hours` are summaries of draws, None where
    the number of plants or their height is not known; `seed_per_hour` is expected seed over expected hours.
    `reading_keys`: the facts that the rule stood on.
    """

    id: str
    kind: Kind
    turn: int
    message: str
    why_message: str
    fails_message: str
    fills: Fills
    by: date | None
    late: bool
    same_day: bool
    not_before: datetime | None
    cautions: tuple[str, ...]
    tags: tuple[str, ...]
    sources: tuple[str, ...]
    basis: Basis
    seed_kept_out: Mapping[str, float] | None
    hours: Mapping[str, float] | None
    seed_per_hour: float | None
    reading_keys: tuple[str, ...]
    number_sources: Provenance

    def text(self, words: Words) -> str:
        return words.t(self.message, **self.fills.worded(words))

    def why(self, words: Words) -> str:
        return words.t(self.why_message, **self.fills.worded(words))

    def fails(self, words: Words) -> str:
        """What makes it fail; empty where the rule says nothing of it."""
        return words.t(self.fails_message, **self.fills.worded(words)) if self.fails_message else ""

    def when(self, words: Words) -> str:
        """By when, as the words that go before or after the sentence; empty where there is no day."""
        if self.same_day or (self.by is not None and self.late):
            return words.t("today")
        return words.t("by {day}", day=words.day(self.by)) if self.by is not None else ""

    @property
    def provenance(self) -> Provenance:
        """The rule's sources together with those of the numbers that ranked it."""
        return Provenance(self.sources, self.basis) | self.number_sources

    def to_json(self, words: Words) -> dict[str, Any]:
        """A dict of plain values; the texts in the words given, everything else without language."""
        return {
            "id": self.id,
            "kind": self.kind,
            "text": self.text(words),
            "why": self.why(words),
            "fails": self.fails(words) or None,
            "by": self.by.isoformat() if self.by else None,
            "late": self.late,
            "same_day": self.same_day,
            "not_before": self.not_before.isoformat() if self.not_before else None,
            "cautions": list(self.cautions),
            "tags": list(self.tags),
            "seed_kept_out": dict(self.seed_kept_out) if self.seed_kept_out else None,
            "hours": dict(self.hours) if self.hours else None,
            "seed_per_hour": self.seed_per_hour,
            "sources": list(self.provenance.sources),
            "basis": self.basis,
            "reading_keys": list(self.reading_keys),
        }


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one site on one day.

    `actions`: what to do and to find out, ranked, at most as many as were asked for; `later`: those that did not fit,
    in the same order; `do_nots`; `cautions` that belong to `actions` and `do_nots`, each once; `programme`: for the
    next seasons; `return_on`: the earliest day on which someone must come back, None where no item asks for it.
    """

    site: str
    as_of: date
    actions: tuple[Item, ...]
    do_nots: tuple[Item, ...]
    cautions: tuple[Caution, ...]
    programme: tuple[Item, ...]
    later: tuple[Item, ...]
    return_on: date | None

    def items(self) -> tuple[Item, ...]:
        return self.actions + self.do_nots + self.programme + self.later

    def to_json(self, words: Words | None = None) -> dict[str, Any]:
        """The advice as plain values for JSON, in English and US units unless `words` says otherwise."""
        words = words or Words()
        return {
            "actions": [item.to_json(words) for item in self.actions],
            "do_nots": [item.to_json(words) for item in self.do_nots],
            "cautions": [{"key": c.key, "text": c.text(words), "sources": list(c.sources)} for c in self.cautions],
            "programme": [item.to_json(words) for item in self.programme],
            "later": [item.to_json(words) for item in self.later],
            "return_on": self.return_on.isoformat() if self.return_on else None,
        }

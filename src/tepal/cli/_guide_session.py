"""The guided session without its screen: which question comes, what an answer does, when it is over.

Nothing changes in place: each answer gives a new session, so that going back is taking the one before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from tepal.plant import CANNOT_TELL, UNKNOWN, Reader, identify
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.flora import Character, Flora
    from tepal.plant import Call, NextLook

STAGE = "stage"
# A look answered by one key is asked before a measurement, unless it is worth less than this share of it a second.
_BY_KEY = 0.25
_MOST_STATES = 9
_CAREFUL = Reader()


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask: `states` in the order of their keys; empty for a number, which has a unit."""

    character: str
    states: tuple[str, ...]
    unit: str = ""


@dataclass(frozen=True)
class Session:
    """What has been answered so far. `missing`: tools that the person has not got."""

    flora: Flora
    region: str | None = None
    prior: Mapping[str, float] | None = None
    stage: str | None = None
    reader: Reader = _CAREFUL
    answers: tuple[tuple[str, str | float], ...] = ()
    missing: tuple[str, ...] = ()
    before: Session | None = None
    is_stopped: bool = False
    # As many answers are asked for even where fewer would be enough.
    wanted: int = 0

    @cached_property
    def call(self) -> Call:
        """What the answers say."""
        return identify(
            dict(self.answers),
            stage=self.stage or UNKNOWN,
            region=self.region,
            prior=self.prior,
            flora=self.flora,
            reader=self.reader,
        )

    @cached_property
    def pushes(self) -> tuple[tuple[str, str | float, float], ...]:
        """Each look, and by what factor the odds of what leads against all else would change back without it.

        What leads is the likeliest name, or the whole group that nobody can tell apart: which of the group it is has
        no push worth telling.
        """
        leading = self.call.group or (self.call.best,)
        odds = _odds(self.call.probability(*leading))
        found = []
        for at, (name, answer) in enumerate(self.answers):
            if answer == CANNOT_TELL:
                continue
            rest = replace(self, answers=self.answers[:at] + self.answers[at + 1 :])
            found.append((name, answer, odds / _odds(rest.call.probability(*leading))))
        return tuple(sorted(found, key=lambda push: -push[2]))

    @cached_property
    def question(self) -> Question | None:
        """What to ask next; None when it is over."""
        if self.is_stopped:
            return None
        if self.stage is None:
            from tepal.flora import STAGES

            return Question(STAGE, STAGES)
        looks = self._at_hand()
        if not looks or (self.call.enough and len(self.answers) >= self.wanted):
            return None
        best = looks[0]
        by_key = [look for look in looks if 0 < len(self._character(look.character).states) <= _MOST_STATES]
        if by_key and by_key[0].gain_per_s >= _BY_KEY * best.gain_per_s:
            best = by_key[0]
        told = self._character(best.character)
        return Question(told.name, told.states, told.unit)

    def answered(self, answer: str | float) -> Session:
        """After an answer to the question that is being asked: a state, a number, or `cannot_tell`."""
        question = self.question
        if question is None:
            raise ValueError("nothing is being asked")
        if question.character == STAGE:
            return replace(self, stage=UNKNOWN if answer == CANNOT_TELL else str(answer), before=self)
        return replace(self, answers=(*self.answers, (question.character, answer)), before=self)

    def without(self, tool: str) -> Session:
        """After the person said that a tool is not at hand: nothing is asked any more that needs it."""
        return replace(self, missing=(*self.missing, tool), before=self)

    def stopped(self) -> Session:
        """After the person wants to know what can be said now."""
        return replace(self, is_stopped=True, before=self)

    @property
    def can_go_on(self) -> bool:
        """Whether there is a look left that would tell something."""
        return self.stage is not None and bool(self._at_hand())

    def further(self) -> Session:
        """After the person wants one more look, though it would not change what to do."""
        return replace(self, wanted=len(self.answers) + 1, is_stopped=False, before=self)

    def back(self) -> Session:
        """Before the last answer; the same session where there was none."""
        return self if self.before is None else self.before

    def tool(self) -> str:
        """The tool that the question needs."""
        question = self.question
        return "none" if question is None or question.character == STAGE else self._character(question.character).tool

    def _at_hand(self) -> list[NextLook]:
        return [look for look in self.call.next if look.tool not in self.missing]

    def _character(self, name: str) -> Character:
        return self.flora.characters[name]


def _odds(p: float) -> float:
    p = min(max(p, 1e-12), 1 - 1e-12)
    return p / (1 - p)


def number_from(text: str, session: Session) -> float:
    """A measurement as typed: 7.5, or for a ratio also 7.5/3.

    Raises
    ------
    Refused
        When it is no number, or beyond all sense for what was asked.
    """
    question = session.question
    assert question is not None
    parts = text.replace(",", ".").split("/")
    try:
        values = [float(part) for part in parts]
        value = values[0] / values[1] if len(values) == 2 and question.unit == "ratio" else values[0]
        if len(values) > 2 or (len(values) == 2 and question.unit != "ratio"):
            raise ValueError(text)
    except (ValueError, ZeroDivisionError):
        raise Refused(
            f"{text[:20]!r} is no measurement",
            where=question.character,
            rule="It is a number, or for a ratio one number over another: 7.5/3.",
            step="Type it again.",
        ) from None
    # The room itself knows which numbers are beyond sense.
    identify({question.character: value}, stage=session.stage or UNKNOWN, flora=session.flora)
    return value

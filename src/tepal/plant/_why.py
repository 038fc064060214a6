"""Why a call says what it says: look by look, how it moved the odds between the two leading names.

With w the weight of a look, its push is (P(look | one) / P(look | other))^w, so that for a known stage

    odds after = odds before × the product of all pushes.

Where the stage is not known, each stage has its own odds and the pushes are those of the likeliest one: `of_stages`
is what is left over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from tepal.doubt import Basis
from tepal.flora import BASIS_WORDS, Flora
from tepal.plant._call import Call
from tepal.plant._sentences import name_in_words
from tepal.words import Words

# Probabilities below this are nil for odds that a person reads.
_NIL = 1e-12
_MOST = 1e6
_NEITHER = 1.05


@dataclass(frozen=True, slots=True)
class Push:
    """One look: by what factor it changed the odds of `one` against `other` (below 1: it speaks for `other`)."""

    character: str
    value: str
    factor: float
    weight: float
    basis: Basis | None
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Why:
    """The two leading names of a call, the odds between them before any look and after all, and each look's push."""

    one: str
    other: str
    before: float
    pushes: tuple[Push, ...]
    of_stages: float
    after: float


def why(call: Call, flora: Flora) -> Why:
    """How the looks moved the odds between the leading name and its nearest rival, strongest push first."""
    one, other = _leading(call, flora)
    pushes = tuple(
        Push(
            item.character,
            item.value,
            math.exp(item.log_odds if item.toward == one else -item.log_odds),
            item.weight,
            item.basis,
            item.sources,
        )
        for item in call.evidence
    )
    before, after = (_odds(call, p, one, other) for p in (call.prior, call.posterior))
    return Why(one, other, before, pushes, after / (before * math.prod(push.factor for push in pushes)), after)


def _leading(call: Call, flora: Flora) -> tuple[str, str]:
    if call.evidence:
        item = call.evidence[0]
        return (item.toward, item.against) if call.best == item.toward else (item.against, item.toward)
    order = sorted(flora.taxa, key=lambda code: -call.probability(code))
    return order[0], order[1]


def _odds(call: Call, p: object, one: str, other: str) -> float:
    first, second = (max(float(p[call.taxa.index(name)]), _NIL) for name in (one, other))  # type: ignore[index]
    return first / second


def why_in_words(call: Call, flora: Flora, words: Words) -> tuple[str, ...]:
    """The same as lines for a person, each look with what it stands on; citations in full behind the looks."""
    found = why(call, flora)
    one, other = (name_in_words(name, flora, words) for name in (found.one, found.other))
    lines = [
        words.t(
            "{one} against {other}, before any look: {odds}.", one=one, other=other, odds=_to_one(found.before, words)
        )
    ]
    for push in found.pushes:
        look = look_in_words(push.character, push.value, flora, words)
        if max(push.factor, 1 / push.factor) < _NEITHER:
            said = words.t("{look}: speaks for neither.", look=look)
        else:
            said = words.t(
                "{look}: {times} times likelier in {one} than in {other}.",
                look=look,
                times=words.about(min(max(push.factor, 1 / push.factor), _MOST)),
                one=one if push.factor > 1 else other,
                other=other if push.factor > 1 else one,
            )
        basis = words.t(BASIS_WORDS[push.basis]) if push.basis else words.t("not told of either")
        lines.append(f"  {said} ({'; '.join((basis, *push.sources))})")
    if max(found.of_stages, 1 / found.of_stages) >= _NEITHER:
        lines.append("  " + words.t("Not knowing its stage: {times} times.", times=words.number(found.of_stages)))
    lines.append(words.t("After all looks: {odds}.", odds=_to_one(found.after, words)))
    lines += [
        f"  {key}: {flora.sources[key].citation}"
        for key in dict.fromkeys(key for push in found.pushes for key in push.sources)
        if key in flora.sources
    ]
    return tuple(lines)


def look_in_words(character: str, value: str, flora: Flora, words: Words) -> str:
    """What was seen: a state in its plain words, a measurement with its label and unit."""
    told = flora.characters[character]
    states = [words.t(told.state_words[state]) for state in value.split(", ") if state in told.state_words]
    if states:
        return words.listing(states)
    unit = "" if told.unit in ("", "ratio") else f" {told.unit}"
    return f"{words.t(told.label)} {value}{unit}"


def _to_one(odds: float, words: Words) -> str:
    if odds >= 1:
        return words.t("{n} to 1", n=words.about(min(odds, _MOST)))
    return words.t("1 to {n}", n=words.about(min(1 / odds, _MOST)))

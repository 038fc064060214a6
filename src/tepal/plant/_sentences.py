"""A call in words: first what it is and how sure, then the look that matters next, then the figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tepal.flora import Flora
from tepal.plant._call import Call
from tepal.plant._groups import inseparable_at
from tepal.plant._later import LaterLook, later
from tepal.plant._roster import OTHER
from tepal.words import Words

# Below this a name is not worth a word in the sentence; it stands in the figures.
_WORTH_A_WORD = 0.02
_STILL = 3


def name_in_words(name: str, flora: Flora, words: Words) -> str:
    """A taxon's English name, a cross by its parents, or "something else"."""
    if name == OTHER:
        return words.t("something else")
    taxon = flora.taxa.get(name)
    if taxon is not None:
        # What stands in brackets tells a reader of the table which subspecies are meant, and is no name.
        return words.t(taxon.english_name.split(" (")[0])
    first, second = (name_in_words(code, flora, words) for code in name.split("x"))
    return words.t("a cross of {first} and {second}", first=first, second=second)


@dataclass(frozen=True, slots=True)
class Named:
    """One or several codes under one name in words, with their probability together."""

    codes: tuple[str, ...]
    text: str
    p: float


def ranked(call: Call, flora: Flora, words: Words) -> tuple[Named, ...]:
    """Names in words, likeliest first; what cannot be told apart at this stage as one."""
    found: list[Named] = []
    grouped: set[str] = set()
    for codes in inseparable_at(flora, call.likely_stage):
        if sum(call.probability(code) >= _WORTH_A_WORD for code in codes) > 1:
            listing = words.listing([name_in_words(code, flora, words) for code in codes], last="or")
            found.append(Named(codes, words.t("one of {names}", names=listing), call.probability(*codes)))
            grouped |= set(codes)
    found += [
        Named((name,), name_in_words(name, flora, words), float(p))
        for name, p in zip(call.taxa, call.posterior, strict=True)
        if name not in grouped
    ]
    return tuple(sorted(found, key=lambda named: -named.p))


def sentence(call: Call, flora: Flora, words: Words) -> str:
    """What the plant is, as surely as the looks allow and no surer.

    "Palmer amaranth, almost certainly. It could still be waterhemp."
    """
    names = ranked(call, flora, words)
    lead = names[0]
    if not call.evidence:
        return words.t("Nothing looked at yet; the commonest here is {name}.", name=lead.text)
    if lead.p < 0.5:
        likely = [named for named in names[:_STILL] if named.p >= _WORTH_A_WORD]
        return words.t("Not to be told yet: {names}.", names=_alternatives(likely, words))
    parts = [words.t("{name}, {sureness}.", name=_capital(lead.text), sureness=words.sureness(lead.p))]
    still = [named for named in names[1:] if named.p >= _WORTH_A_WORD][:_STILL]
    if still:
        parts.append(words.t("It could still be {names}.", names=_alternatives(still, words)))
    if len(lead.codes) > 1:
        parts.append(words.t("Before they flower nobody can tell these apart for sure."))
    return " ".join(parts)


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _alternatives(named: Sequence[Named], words: Words) -> str:
    """a, b or c; with semicolons where one of them is itself a list."""
    if len(named) > 1 and any(len(one.codes) > 1 for one in named):
        return words.t("; or ").join(one.text for one in named)
    return words.listing([one.text for one in named], last="or")


def what_settles_it(call: Call, flora: Flora, words: Words) -> str:
    """The look that matters next, or that looking more would not change what to do, and then what would."""
    names = ranked(call, flora, words)
    if not call.enough and call.next:
        look = call.next[0]
        tool = {
            "none": words.t("with the naked eye"),
            "ruler": words.t("with a ruler"),
            "hand_lens": words.t("with a hand lens"),
            "pulled_plant": words.t("on a plant that you pull"),
        }[look.tool]
        return words.t("Look next, {tool}: {question}", tool=tool, question=words.t(look.question))
    text = words.t("Looking more would not change what to do.")
    coming = later(call, flora)
    if coming.laboratory:
        text += " " + words.t("The doubt is worth a leaf sample to a laboratory now.")
        if coming.looks:
            text += " " + words.t("Without one: {look}.", look=_when(coming.looks[0], flora, words))
    elif coming.looks:
        what = _when(coming.looks[0], flora, words)
        text += " " + words.t("What would: {look}; or a leaf sample to a laboratory now.", look=what)
    elif names[0].p < 0.9:
        text += " " + words.t("What would: a leaf sample to a laboratory.")
    return text


def _when(look: LaterLook, flora: Flora, words: Words) -> str:
    label = words.t(flora.characters[look.character].label)
    return {
        "seedling_2-4_leaf": words.t("{look}, when it has two to four leaves", look=label),
        "vegetative": words.t("{look}, when it has more leaves", look=label),
        "reproductive": words.t("{look}, once it flowers", look=label),
        "mature_seed": words.t("{look}, once it has ripe seed", look=label),
    }[look.stage]


def figures(call: Call, flora: Flora, words: Words) -> tuple[str, ...]:
    """Names with their chances, one line each, down to one in a hundred."""
    together = sorted(zip(call.taxa, call.posterior, strict=True), key=lambda pair: -pair[1])
    return tuple(f"{p:5.2f}  {name_in_words(name, flora, words)}" for name, p in together if p >= 0.01)


def reasons(call: Call, flora: Flora, words: Words) -> tuple[str, ...]:
    """Look by look, how much it spoke for the leading name against the second."""
    lines = []
    for item in call.evidence:
        state = flora.characters[item.character].state_words.get(item.value, item.value)
        shown = words.t(state) if state != item.value else f"{words.t(flora.characters[item.character].label)} {state}"
        if item.log_odds < 0.05:
            lines.append(words.t("{look}: speaks for neither.", look=shown))
            continue
        lines.append(
            words.t(
                "{look}: {times} times likelier in {one} than in {other}.",
                look=shown,
                times=words.about(min(2.718281828459045**item.log_odds, 1e6)),
                one=name_in_words(item.toward, flora, words),
                other=name_in_words(item.against, flora, words),
            )
        )
    return tuple(lines)

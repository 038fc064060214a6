"""A call in words: first what it is and how sure, then the look that matters next, then the figures."""

from __future__ import annotations

from tepal.flora import STAGES, Flora
from tepal.plant._call import Call
from tepal.plant._groups import inseparable_at
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


def ranked(call: Call, flora: Flora, words: Words) -> tuple[tuple[str, float], ...]:
    """Names in words with their probabilities, likeliest first; what cannot be told apart at this stage as one."""
    together = inseparable_at(flora, call.likely_stage)
    pairs: list[tuple[str, float]] = []
    grouped: set[str] = set()
    for codes in together:
        held = [code for code in codes if call.probability(code) >= _WORTH_A_WORD]
        if len(held) > 1:
            listing = words.listing([name_in_words(code, flora, words) for code in codes], last="or")
            pairs.append((words.t("one of {names}", names=listing), call.probability(*codes)))
            grouped |= set(codes)
    pairs += [
        (name_in_words(name, flora, words), float(p))
        for name, p in zip(call.taxa, call.posterior, strict=True)
        if name not in grouped
    ]
    return tuple(sorted(pairs, key=lambda pair: -pair[1]))


def sentence(call: Call, flora: Flora, words: Words) -> str:
    """What the plant is, as surely as the looks allow and no surer.

    "Palmer amaranth, almost certainly. It could still be waterhemp."
    """
    names = ranked(call, flora, words)
    lead, p = names[0]
    if not call.evidence:
        first = words.t("Nothing looked at yet; where this grows the commonest is {name}.", name=lead)
        return first[0].upper() + first[1:]
    if p < 0.5:
        listing = words.listing([name for name, q in names[:_STILL] if q >= _WORTH_A_WORD], last="or")
        return words.t("Not to be told yet: {names}.", names=listing)
    first = words.t("{name}, {sureness}.", name=lead[0].upper() + lead[1:], sureness=words.sureness(p))
    still = [name for name, q in names[1:] if q >= _WORTH_A_WORD][:_STILL]
    if still:
        first += " " + words.t("It could still be {names}.", names=words.listing(still, last="or"))
    if call.group and any(name.startswith(words.t("one of {names}", names="")[:4]) for name, _ in names[:1]):
        first += " " + words.t("Before they flower nobody can tell these apart for sure.")
    return first


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
    if names[0][1] < 0.9:
        later = STAGES.index("reproductive") > STAGES.index(call.likely_stage)
        text += " " + (
            words.t("What would: the flower head later on, or a leaf sample to a laboratory now.")
            if later
            else words.t("What would: a leaf sample to a laboratory.")
        )
    return text


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

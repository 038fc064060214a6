"""The texts that go with the compiled tables, in one language: names, questions, states, sentences of a call."""

from __future__ import annotations

from typing import Any

from tepal.flora import REGION_WORDS, STAGE_WORDS, Flora
from tepal.words import Words

# Probabilities at which the words for how sure change, high to low; what is below the last is very unlikely.
_SURENESS = (0.99, 0.95, 0.8, 0.5, 0.2, 0.05, 0.0)


def texts(flora: Flora, words: Words) -> dict[str, Any]:
    """Everything that a person reads, by the keys of the compiled tables. Blanks stand as in `{names}`."""
    return {
        "language": words.language,
        "names": {
            code: {
                "name": words.t(taxon.english_name),
                "scientific": taxon.scientific_name,
                "others": [words.t(name) for name in taxon.other_names],
            }
            for code, taxon in flora.taxa.items()
        },
        "characters": {
            name: {
                "label": words.t(told.label),
                "question": words.t(told.question),
                "states": {state: words.t(text) for state, text in told.state_words.items()},
            }
            for name, told in flora.characters.items()
            if told.look
        },
        "stages": {stage: words.t(text) for stage, text in STAGE_WORDS.items()},
        "regions": {region: words.t(text) for region, text in REGION_WORDS.items()},
        "tools": {
            "none": words.t("with the naked eye"),
            "ruler": words.t("with a ruler"),
            "hand_lens": words.t("with a hand lens"),
            "pulled_plant": words.t("on a plant that you pull"),
        },
        "sureness": [[least, words.sureness(least)] for least in _SURENESS],
        "sentences": {
            "lead": words.t("{name}, {sureness}."),
            "still": words.t("It could still be {names}."),
            "open": words.t("Not to be told yet: {names}."),
            "nothing": words.t("Nothing looked at yet; the commonest here is {name}."),
            "group": words.t("one of {names}"),
            "before_flower": words.t("Before they flower nobody can tell these apart for sure."),
            "cross": words.t("a cross of {first} and {second}"),
            "other": words.t("something else"),
            "next": words.t("Look next, {tool}: {question}"),
            "enough": words.t("Looking more would not change what to do."),
            "list": words.t("{some} {last} {one}"),
            "and": words.t("and"),
            "or": words.t("or"),
        },
    }

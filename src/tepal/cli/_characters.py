"""What can be looked at on a plant, by stage: the names that `tepal plant` takes, their states, the tools."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from tepal.flora import STAGE_WORDS

if TYPE_CHECKING:
    from tepal.flora import Character, Flora
    from tepal.words import Words

_TOOLS = {
    "none": "with the naked eye",
    "ruler": "with a ruler",
    "hand_lens": "with a hand lens",
    "pulled_plant": "on a plant that you pull",
}


def _told_at(flora: Flora, stage: str) -> list[Character]:
    """Characters that a person can look at and of which the tables tell something at this stage or at any."""
    told = {name for rows in (flora.shares, flora.measures) for _, name, at in rows if at in (stage, "any")}
    return [character for name, character in flora.characters.items() if character.look and name in told]


def looks_at(flora: Flora, stage: str) -> list[dict[str, Any]]:
    """The same as values: name, states or unit, tool, seconds, question."""
    return [
        {
            "character": character.name,
            "states": dict(character.state_words),
            "unit": character.unit or None,
            "tool": character.tool,
            "seconds": character.seconds,
            "question": character.question,
        }
        for character in _told_at(flora, stage)
    ]


def tell_looks(flora: Flora, stages: Sequence[str], words: Words) -> Iterator[str]:
    """One block a stage: each character with its question, then what it may be."""
    yield words.t("Say what you see as NAME=STATE or NAME=NUMBER; cannot_tell is an answer too.")
    for stage in stages:
        yield ""
        yield f"{words.t(STAGE_WORDS[stage])} (--stage {stage})"
        for character in _told_at(flora, stage):
            yield ""
            tool = words.t(_TOOLS[character.tool])
            yield f"  {character.name}, {tool}"
            yield f"    {words.t(character.question)}"
            if character.states:
                wide = max(len(state) for state in character.states)
                for state, text in character.state_words.items():
                    yield f"    ={state.ljust(wide)}  {words.t(text)}"
            else:
                unit = "" if character.unit == "ratio" else f" ({character.unit})"
                yield "    " + words.t("=NUMBER{unit}", unit=unit)

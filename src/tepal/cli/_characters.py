"""What can be looked at on a plant, by stage: the names that `tepal plant` takes, their states, the tools."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from tepal.flora import STAGE_WORDS

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.words import Words

_TOOLS = {
    "none": "with the naked eye",
    "ruler": "with a ruler",
    "hand_lens": "with a hand lens",
    "pulled_plant": "on a plant that you pull",
}


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
        for character in map(flora.characters.__getitem__, flora.characters_at(stage))
    ]


def tell_looks(flora: Flora, stages: Sequence[str], words: Words) -> Iterator[str]:
    """One block a stage: each character with its question, then what it may be."""
    yield words.t("Say what you see as NAME=STATE or NAME=NUMBER; cannot_tell is an answer too.")
    for stage in stages:
        yield ""
        yield f"{words.t(STAGE_WORDS[stage])} (--stage {stage})"
        for character in map(flora.characters.__getitem__, flora.characters_at(stage)):
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

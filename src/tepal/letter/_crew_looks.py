"""Which four drawings a crew is shown: two looks of the plants to pull, two of those to leave.

Of everything that can be seen without a tool, those that tell the hunted plants from the other pigweeds of the region
best: with h the share of the hunted plants and o that of the others that show a state, h log(h / o) for pulling,
o log(o / h) for leaving. To leave a hunted plant is dearer than to pull another, so that a sign to leave by must be
one that hunted plants hardly ever show, nor anything that is easily taken for what they show.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tepal.flora import Character, Flora, StateShares

_MOSTLY = 0.6
_SELDOM = 0.05
_SURELY_READ = 0.1
# A share of nil is somebody's estimate, not proof.
_LEAST = 0.01
_EACH = 2
# Where a plant is too small, or ripe already, for the tables to tell enough of it.
_TOLD_AS = {"cotyledon": "seedling_2-4_leaf", "mature_seed": "reproductive"}
_ELSE = "vegetative"
# Heads of one sex look like another plant's of the other sex.
_ONE_SEX = ("_male", "_female")


@dataclass(frozen=True, slots=True)
class Sign:
    """A state to go by: `worth` is how well it tells the one kind from the other."""

    character: str
    state: str
    worth: float


def signs(
    flora: Flora, hunted: Sequence[str], *, stage: str, region: str | None
) -> tuple[tuple[Sign, ...], tuple[Sign, ...]]:
    """The looks of what to pull and of what to leave, best first, at most two each, of different overlap groups."""
    pull: list[Sign] = []
    leave: list[Sign] = []
    for at in dict.fromkeys((_TOLD_AS.get(stage, stage), _ELSE)):
        wanted, unwanted = _told_at(flora, hunted, at, region)
        _add(pull, wanted, flora)
        _add(leave, unwanted, flora)
    return tuple(pull), tuple(leave)


def _told_at(flora: Flora, hunted: Sequence[str], stage: str, region: str | None) -> tuple[list[Sign], list[Sign]]:
    others = {code: weight for code, weight in flora.weights(region).items() if code not in flora.hunted()}
    pull, leave = [], []
    for name in flora.characters_at(stage):
        character = flora.characters[name]
        if character.tool != "none" or name.endswith(_ONE_SEX):
            continue
        shares = [_shares(flora, codes, character, stage) for codes in (dict.fromkeys(hunted, 1.0), others)]
        # No plant that is hunted anywhere is left standing, whichever of them grows here.
        any_hunted = [_shares(flora, {code: 1.0}, character, stage) for code in flora.hunted()]
        if None in shares or None in any_hunted:
            continue
        h, o = (share for share in shares if share is not None)
        most = [max(share[at] for share in any_hunted if share is not None) for at in range(len(h))]
        usual = [share >= _MOSTLY for share in most]
        sure = 1 - 2 * character.misread
        for at, state in enumerate(character.states):
            # States stand in order: one is taken for its neighbor.
            beside = usual[max(at - 1, 0) : at + 2] if len(usual) > 2 else [usual[at]]
            if h[at] >= _MOSTLY:
                pull.append(Sign(name, state, sure * h[at] * math.log(max(h[at], _LEAST) / max(o[at], _LEAST))))
            elif most[at] <= _SELDOM and character.misread <= _SURELY_READ and not any(beside):
                leave.append(Sign(name, state, sure * o[at] * math.log(max(o[at], _LEAST) / max(most[at], _LEAST))))
    return pull, leave


def _shares(flora: Flora, codes: dict[str, float], character: Character, stage: str) -> list[float] | None:
    """The weighted shares of plants that show each state, of the taxa that are told of; None where too few are."""
    told = [(weight, flora.look(code, character.name, stage)) for code, weight in codes.items()]
    known = [(weight, row) for weight, row in told if isinstance(row, StateShares)]
    total = sum(weight for weight, _ in known)
    # A sign that is told of a few rare plants only would be a sign of nothing.
    if not character.states or total < 0.5 * sum(codes.values()):
        return None
    return [sum(weight * row.shares.get(state, 0.0) for weight, row in known) / total for state in character.states]


def _add(kept: list[Sign], found: Iterable[Sign], flora: Flora) -> None:
    """Fill up with the best of other overlap groups."""

    def group(sign: Sign) -> str:
        return flora.characters[sign.character].overlap or sign.character

    for sign in sorted(found, key=lambda sign: -sign.worth):
        if sign.worth > 0 and len(kept) < _EACH and group(sign) not in {group(other) for other in kept}:
            kept.append(sign)

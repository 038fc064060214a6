"""What to do today about one plant that was looked at, from the rules that letters use, with their cautions.

A plant in the hand has no field, weather or ledger behind it: only rules that need none of them are taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tepal.advice import Fills, rules_for
from tepal.plant import name_in_words
from tepal.words import Words, message

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.plant import Call

# Below the first nobody acts as if it were a hunted plant; from the second on nobody asks any more.
_MAY_BE, _IS = 0.2, 0.95
_LOOK_ALIKE, _TEST = "look_alike_still_control", "test_the_name"
_BY_STAGE = {
    "cotyledon": "hoe_small",
    "seedling_2-4_leaf": "hoe_small",
    "vegetative": "pull_before_flower",
    "reproductive": "pull_and_bag",
    "mature_seed": "pull_and_bag",
}
# Those that stand beside work with the hands in any field; the others belong to rules that know the place.
_CAUTIONS = ("re_entry", "gloves", "heat", "lone_work", "transport", "state_law", "label", "applicator")
_LOOK = message("Nothing was looked at yet. Look at the plant before you do anything with it.")
_FIRST = message(
    "If no {plants} is known yet in this county: photograph the plant where it stands, keep one whole, "
    "and call your extension office before anything else is pulled."
)


@dataclass(frozen=True, slots=True)
class Today:
    """Things to do, first things first, and the cautions that stand beside them."""

    steps: tuple[str, ...]
    cautions: tuple[str, ...]


def today(call: Call, flora: Flora, words: Words) -> Today:
    """What to do today; of a plant that nobody has looked at, to look at it."""
    if not call.evidence:
        return Today((words.t(_LOOK),), ())
    book = rules_for(flora)
    rules = {rule.id: rule for rule in book.rules}
    hunted = flora.hunted()
    p = call.hunted(hunted)
    likely = tuple(code for code in hunted if call.hunted((code,)) >= _MAY_BE * p)
    # Fills translate names themselves.
    names = tuple(flora.taxa[code].english_name.split(" (")[0] for code in likely)
    fills = Fills(hunted=names, p_hunted=p).worded(words)
    by_stage = [_BY_STAGE[call.likely_stage]] + ([_TEST] if p < _IS else [])
    chosen = [_LOOK_ALIKE] if p < _MAY_BE else by_stage
    steps = [words.t(rules[name].text, **fills) for name in chosen]
    if p >= _MAY_BE:
        plants = words.listing([name_in_words(code, flora, words) for code in likely], last="or")
        steps.insert(0, words.t(_FIRST, plants=plants))
    carried = {key for name in chosen for key in rules[name].cautions} | ({"state_law"} if p >= _MAY_BE else set())
    cautions = tuple(
        words.t(book.cautions[key].message) for key in _CAUTIONS if key in carried and key in book.cautions
    )
    return Today(tuple(steps), cautions)


def today_texts(flora: Flora, words: Words) -> dict[str, Any]:
    """The same for an implementation without Python: which rule when, its text with `{hunted}` left open in both
    systems of units, and the cautions that each carries."""
    book = rules_for(flora)
    rules = {rule.id: rule for rule in book.rules if rule.id in (*_BY_STAGE.values(), _TEST, _LOOK_ALIKE)}
    every = (words, Words(words.language, "metric"))
    return {
        "may_be": _MAY_BE,
        "is": _IS,
        "look": words.t(_LOOK),
        "first": words.t(_FIRST),
        "by_stage": _BY_STAGE,
        "test": _TEST,
        "look_alike": _LOOK_ALIKE,
        "rules": {
            name: {
                **{each.units: each.t(rule.text, **{**Fills().worded(each), "hunted": "{hunted}"}) for each in every},
                "cautions": [key for key in _CAUTIONS if key in rule.cautions],
            }
            for name, rule in rules.items()
        },
        "hunted_cautions": ["state_law"],
        "cautions": {key: words.t(book.cautions[key].message) for key in _CAUTIONS if key in book.cautions},
    }

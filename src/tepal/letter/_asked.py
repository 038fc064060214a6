"""The advice turned to the one who gets the letter: the rules speak to the office, and some are its own work."""

from __future__ import annotations

from tepal.advice import Advice, Item
from tepal.letter._data import MOST_TASKS, Said
from tepal.words import message

# What the office asks of itself is asked here of the one who can give it.
_TURNED = {
    "three_photographs": message(
        "Send this office three photos: the whole plant; the upper stem, close up; and a lower leaf with its stalk "
        "(petiole) folded back over the blade."
    ),
    "visit_what_was_reported": message(
        "Tell this office whether and when someone may come and look. If you go yourself, measure the tallest plants "
        "and count them at ten places."
    ),
    "ask_the_trait": message(
        "Tell this office and your applicator what seed was planted and which herbicide traits it has. Until that is "
        "known, nothing is sprayed over the crop."
    ),
    "first_find_tell": message(
        "Call {authority}, or ask this office whether it has. Ask what is to be done with the plants.{law_note}"
    ),
}
# Nobody's but the office's own.
_OURS = frozenset({"ask_leave_again", "read_the_photographs"})


def asked(advice: Advice) -> tuple[Item, ...]:
    """What the letter asks for, in the order of the advice; what did not fit there takes the place of what is ours."""
    kept = [item for item in (*advice.actions, *advice.later) if item.id not in _OURS]
    return tuple(kept[: min(max(len(advice.actions), 1), MOST_TASKS)])


def worded(item: Item, reader: str) -> Said:
    """The item's sentence as it stands in a letter. Whoever sprays asks for the seed's traits himself."""
    turned = None if reader == "applicator" else _TURNED.get(item.id)
    return item.text if turned is None else lambda words: words.t(turned, **item.fills.worded(words))

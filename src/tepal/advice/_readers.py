"""The part of the advice that one reader needs, and nothing that is another's."""

from __future__ import annotations

from dataclasses import replace

from tepal.advice._advise import LIMIT, cautions_of, rules_for
from tepal.advice._fills import Fills
from tepal.advice._items import Advice
from tepal.advice._rules import Reader, RuleBook
from tepal.flora import Flora


def for_reader(
    advice: Advice, reader: Reader, *, flora: Flora, rules: RuleBook | None = None, limit: int = LIMIT
) -> Advice:
    """The advice with only the items whose rule says that this reader needs them, in the same order.

    What did not fit the whole advice may fit here: the items are taken from `actions` and `later` together. Cautions
    are those of what is left, each once, in the order of the table. The day of return stays: it tells when we come.
    """
    book = rules if rules is not None else rules_for(flora)
    actions = [item for item in (*advice.actions, *advice.later) if reader in item.readers]
    do_nots = tuple(item for item in advice.do_nots if reader in item.readers)
    kept = tuple(actions[:limit])
    return replace(
        advice,
        actions=kept,
        later=tuple(actions[limit:]),
        do_nots=do_nots,
        programme=tuple(item for item in advice.programme if reader in item.readers),
        cautions=cautions_of(book, kept + do_nots, advice.facts, next((i.fills for i in kept + do_nots), Fills())),
    )

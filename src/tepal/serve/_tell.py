"""What a phone is told of one site: the sentence, what to do, what closes next. Reckoned straight from the record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

from tepal import advice as advising
from tepal import reading as readings
from tepal.advice import Advice, Item
from tepal.flora import Flora, load, replace_law
from tepal.ledger import Ledger
from tepal.reading import Reading
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Told:
    """Of one site: texts in one language, days as ISO text; None where there is nothing to say.

    `prior`: weights of the pigweeds there; `aerial`: address and bounds of a picture from above.
    """

    sentence: str | None = None
    do: tuple[dict[str, Any], ...] = ()
    closes: dict[str, Any] | None = None
    return_on: str | None = None
    prior: dict[str, float] | None = None
    aerial: dict[str, Any] | None = None


Tell = Callable[[str, date, Words], Told | None]
"""What is told of a site (its id) on a day: None while its reading is being made."""


def straight(ledger: Ledger, law: Path | None = None) -> Tell:
    """A `Tell` that reckons whatever is asked for, and keeps the last."""

    @lru_cache(maxsize=256)
    def at(site: str, as_of: date, known_to: int, words: Words) -> Told:
        flora = _flora(law)
        found = readings.read(ledger, site, as_of=as_of, known_to=known_to, flora=flora)
        return told(found, advising.advise(found, flora=flora), words)

    return lambda site, as_of, words: at(site, as_of, ledger.last_seq, words)


def told(reading: Reading, advice: Advice, words: Words) -> Told:
    """A reading and its advice in the few words that a phone takes along."""
    closes = readings.closes_next(reading)
    return Told(
        readings.who(reading, words),
        tuple(_step(item, advice, words) for item in advice.actions),
        None
        if closes is None
        else {"what": readings.window_in_words(closes[0], reading, words), "on": closes[1].isoformat()},
        None if advice.return_on is None else advice.return_on.isoformat(),
    )


def _step(item: Item, advice: Advice, words: Words) -> dict[str, Any]:
    cautions = {caution.key: caution for caution in advice.cautions}
    return {
        "text": item.text(words),
        "by": None if item.by is None else item.by.isoformat(),
        "cautions": [cautions[key].text(words) for key in item.cautions if key in cautions],
    }


@lru_cache(maxsize=4)
def _flora(law: Path | None) -> Flora:
    return load() if law is None else replace_law(load(), law)

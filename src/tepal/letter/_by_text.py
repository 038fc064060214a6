"""What goes back to a caller by telephone: what photos would help, and once plants are named, the answer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from tepal.advice import Advice
from tepal.flora import Flora
from tepal.ledger import Entry
from tepal.letter._from_reading import letter_data
from tepal.letter._phone import phone
from tepal.reading import Reading
from tepal.words import Words


def text_reply(reading: Reading, advice: Advice, *, entries: Sequence[Entry], flora: Flora, words: Words) -> str:
    """The letter's few lines for the telephone, without making its pages."""
    return phone(letter_data(reading, advice, entries=entries, flora=flora), words)


def ask_for_photos(words: Words, *, answer_by: date | None = None, some_came: bool = False) -> str:
    """A text to send back: the three photos by which a pigweed is told, and by when an answer comes."""
    parts = [
        words.t("Thank you for what you sent.") if some_came else words.t("Thank you for letting us know."),
        words.t(
            "Three photos would help us to name the plant: 1. the whole plant; 2. the upper stem, close up; 3. a lower "
            "leaf with its stalk (petiole) folded back over the blade."
        ),
        words.t("Do not move or shake a plant with seed."),
        # Whoever takes the photos is nobody's crew: what could hurt them stands in the text itself.
        words.t("Take none beside traffic, in a field sprayed lately, or in thunder, and wear gloves."),
    ]
    if answer_by is not None:
        parts.append(words.t("You will hear from us by {day}.", day=words.day(answer_by)))
    return " ".join(parts)

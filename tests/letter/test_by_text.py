"""What goes back to a caller in the length of a text: the photos that would help, with what could hurt."""

from __future__ import annotations

from datetime import date

import pytest

from tepal.letter import ask_for_photos
from tepal.letter._phone import MOST
from tepal.words import Words


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_text_that_asks_for_photos_says_what_could_hurt_and_fits(language: str) -> None:
    told = ask_for_photos(Words(language=language), answer_by=date(2026, 6, 16), some_came=True)
    assert len(told) <= MOST
    for said in {
        "en": ("traffic", "sprayed", "thunder", "gloves"),
        "es": ("tránsito", "rociado", "truenos", "guantes"),
    }[language]:
        assert said in told

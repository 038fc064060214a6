"""What the clock had to assume, as sentences that can be turned into other languages."""

from __future__ import annotations

from datetime import date

from tepal.words import Words


class Note(str):
    """A sentence in English, with the message and the values that it was made of.

    >>> Note("The record holds no day of {year}.", year=2026)
    'The record holds no day of 2026.'
    """

    message: str
    values: dict[str, object]

    def __new__(cls, message: str, **values: object) -> Note:
        made = super().__new__(cls, message.format(**values))
        made.message, made.values = message, values
        return made

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, object]]:
        """So that a note is copied between processes with what it was made of."""
        return (self.message,), self.values

    def text(self, words: Words) -> str:
        """The sentence in the language of `words`, its days as people say them."""
        told = {
            name: words.day(value, year=True) if isinstance(value, date) else value
            for name, value in self.values.items()
        }
        return words.t(self.message, **told)

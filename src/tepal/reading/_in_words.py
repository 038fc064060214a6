"""A reading for the screen: the sentence that answers first, figures after."""

from __future__ import annotations

from tepal.reading import _line_words, _window_words
from tepal.reading import _sentences as say
from tepal.reading._records import Reading
from tepal.words import Words


def in_words(reading: Reading, words: Words) -> list[str]:
    """Lines for a terminal, in the order in which a person would ask."""
    place = reading.place
    where = [text for text in (place.county and words.t("{county} County", county=place.county), place.state) if text]
    area = [] if place.hectares is None else [words.area(1e4 * place.hectares)]
    lines = [", ".join([place.name, *where, *area]) + ". " + words.day(reading.as_of, year=True) + ".", ""]
    lines.append(say.who(reading, words))
    many = say.how_many(reading, words)
    if many:
        lines.append(many)
    if reading.facts["season_over"] is True and reading.facts["seen_any"]:
        lines.append(_window_words.frost(words))
    lines += _part(
        words.t("What closes when"),
        [_window_words.window(item, reading, words) for item in _window_words.shown(reading)],
    )
    lines += _part(words.t("What was done"), [_line_words.done(line, words) for line in reading.done])
    lines += _part(words.t("What is not known"), [_line_words.unknown(item, words) for item in reading.unknowns])
    lines += _part(words.t("Worth knowing"), [_line_words.warning(line, words) for line in reading.warnings])
    return lines


def _part(title: str, lines: list[str]) -> list[str]:
    return ["", title, *(f"  {line}" for line in lines)] if lines else []

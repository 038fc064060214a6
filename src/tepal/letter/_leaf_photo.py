"""A photo of a leaf with what was measured drawn on it, small enough for a letter and with nothing else in it."""

from __future__ import annotations

from typing import Any

from tepal.letter._data import LeafPhoto
from tepal.tables import Refused
from tepal.words import Words

_LONG_SIDE = 900


def leaf_photo(source: Any, words: Words) -> LeafPhoto:
    """The photo of a plucked leaf, measured and drawn anew: no place, time or camera of the original is in it.

    Raises
    ------
    Refused
        If it cannot be read, or no leaf on it can be measured.
    """
    from tepal.leaf import drawn_jpeg, in_numbers

    jpeg, found = drawn_jpeg(source, words, long_side=_LONG_SIDE)
    if found.refused is not None:
        what, _, step = found.refused.partition(". ")
        raise Refused(what, where="photo of a leaf", rule="A letter shows a leaf that was measured.", step=step)
    return LeafPhoto(jpeg, lambda words: in_numbers(found, words))

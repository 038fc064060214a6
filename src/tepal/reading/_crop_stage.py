"""How far a crop is, from a stage as people write it: V and R stages, BBCH numbers, leaves, a few words."""

from __future__ import annotations

import re

_BBCH = re.compile(r"\bBBCH\s*(\d{1,2})\b", re.IGNORECASE)
_V = re.compile(r"\bV\s?(\d{1,2}|[ECT])\b", re.IGNORECASE)
_R = re.compile(r"\bR\s?([1-8])\b", re.IGNORECASE)
_LEAVES = re.compile(r"\b(\d{1,2})[\s-]*(?:true[\s-]*)?lea(?:f|ves)\b", re.IGNORECASE)
# Principal growth stages of the BBCH scale, by the word that people use. The first that stands in the text counts.
_WORDS = (
    ("before", None),  # "before first bloom" tells what is not yet
    ("pre-", None),
    ("ripe", 85),
    ("pod", 71),
    ("boll", 71),
    ("peg", 69),
    ("bloom", 60),
    ("flower", 60),
    ("tassel", 55),
    ("head", 51),
    ("square", 51),
    ("bud", 51),
    ("boot", 41),
    ("rows closed", 39),
    ("joint", 31),
    ("tiller", 21),
)


def bbch(told: str | None) -> int | None:
    """A crop stage on the BBCH scale (0 to 99); None where the words are not understood.

    V stages count leaves, as the scale does up to nine (BBCH monograph, 2nd ed. 2001); reproductive ones begin with the
    first flower, 60.

    >>> bbch("V3"), bbch("R1"), bbch("BBCH 14"), bbch("5 leaf"), bbch("knee high")
    (13, 60, 14, 15, None)
    """
    if told is None:
        return None
    if found := _BBCH.search(told):
        return int(found[1])
    if found := _R.search(told):
        return 60 if found[1] == "1" else 60 + 4 * int(found[1])
    if found := _V.search(told):
        letter = found[1].upper()
        return {"E": 9, "C": 10, "T": 55}[letter] if letter in "ECT" else 10 + min(int(letter), 9)
    words = told.casefold()
    for word, stage in _WORDS:
        if word in words:
            return stage
    found = _LEAVES.search(told)
    return None if found is None else 10 + min(int(found[1]), 9)

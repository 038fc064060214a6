"""Names that are nearly the same: a slip of the fingers, or two sites."""

from __future__ import annotations

from collections import Counter

_LONG = 8  # two letters may differ in a name of so many signs, else one
_SHORTEST = 4
# Words that people tell neighboring fields apart by: one for another is no slip.
_TELL_APART = tuple(
    frozenset(words.split())
    for words in (
        "north south east west northeast northwest southeast southwest n s e w ne nw se sw",
        "upper lower middle top bottom back front left right near far inside outside",
        "old new big little long short large small",
        "first second third fourth one two three four five six seven eight nine ten",
        "ten twenty thirty forty fifty sixty seventy eighty ninety hundred",
    )
)


def nearly_same(one: str, two: str) -> bool:
    """Do two names differ by a letter or two, as by a slip? Not where a number or a word like "north" differs."""
    words = [name.casefold().replace("_", " ").replace("-", " ").split() for name in (one, two)]
    here, there = ("".join(sign for sign in "".join(part) if sign.isalnum()) for part in words)
    if here == there or min(len(here), len(there)) < _SHORTEST:
        return here == there and bool(here)
    if [sign for sign in here if sign.isdigit()] != [sign for sign in there if sign.isdigit()]:
        return False
    only = [list((Counter(a) - Counter(b)).elements()) for a, b in (words, words[::-1])]
    if any(any(word in kinds for word in only[0]) and any(word in kinds for word in only[1]) for kinds in _TELL_APART):
        return False
    # A single letter at the end names the part of a field: Home A and Home B.
    if any(len(word) == 1 for part in only for word in part):
        return False
    return _slips(here, there) <= (2 if min(len(here), len(there)) >= _LONG else 1)


def _slips(one: str, two: str) -> int:
    """Letters put in, left out, changed or swapped with the next (optimal string alignment)."""
    if abs(len(one) - len(two)) > 2:
        return 3
    before: list[int] = []
    row = list(range(len(two) + 1))
    for i, a in enumerate(one, start=1):
        older, before, row = before, row, [i]
        for j, b in enumerate(two, start=1):
            best = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == two[j - 2] and b == one[i - 2]:
                best = min(best, older[j - 2] + 1)
            row.append(best)
    return row[-1]

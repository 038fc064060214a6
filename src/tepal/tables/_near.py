"""The name that was probably meant: only one that is really near, so that a hint never misleads."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

# A share of common letters in order. Below it a hint is oftener wrong than right: "roots" is not "ocrea".
_NEAR = 0.78
_LONGEST = 80
_SHORTEST_START = 4
_MOST = 4


def near(name: object, known: Iterable[str]) -> str | None:
    """The known name that `name` is the start of or comes near to; None where none does, or two do alike.

    Case, spaces and hyphens do not matter.

    >>> near("Nodal spins", ["nodal_spines", "stem_ridges"])
    'nodal_spines'
    >>> near("spikes", ["nodal_spines", "stem_ridges"])
    """
    found = nearest(name, known)
    return found[0] if len(found) == 1 else None


def nearest(name: object, known: Iterable[str]) -> tuple[str, ...]:
    """The known names that `name` may mean: those that it begins, else the one it comes near to, or several alike.

    >>> nearest("stem hair", ["stem_hair_upper", "stem_hair_main", "stem_ridges"])
    ('stem_hair_upper', 'stem_hair_main')
    """
    wanted = _folded(str(name)[:_LONGEST])
    folded = {_folded(item): item for item in known}
    if wanted in folded:
        return (folded[wanted],)
    starts = [item for start, item in folded.items() if len(wanted) >= _SHORTEST_START and start.startswith(wanted)]
    if starts:
        return tuple(starts)
    scores = {item: SequenceMatcher(None, wanted, start).ratio() for start, item in folded.items()}
    best = max(scores.values(), default=0.0)
    return () if best < _NEAR else tuple(item for item, score in scores.items() if score == best)


def meant(name: object, known: Iterable[str], otherwise: str) -> str:
    """What a refusal of `name` says to do next: the names it may mean, at most four; `otherwise` where there are none.

    >>> meant("stem_hair", ["stem_hair_upper", "stem_hair_main"], "Choose one.")
    'Did you mean stem_hair_upper or stem_hair_main?'
    """
    found = nearest(name, known)[:_MOST]
    if not found:
        return otherwise
    return f"Did you mean {' or '.join(filter(None, (', '.join(found[:-1]), found[-1])))}?"


def _folded(text: str) -> str:
    return "_".join(text.casefold().replace("-", " ").replace("_", " ").split())

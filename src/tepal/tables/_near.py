"""The name that was probably meant: only one that is really near, so that a hint never misleads."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

# A share of common letters in order. Below it a hint is oftener wrong than right: "roots" is not "ocrea".
_NEAR = 0.78
_LONGEST = 80
_SHORTEST_START = 4


def near(name: object, known: Iterable[str]) -> str | None:
    """The known name that `name` is the start of or comes near to; None where none does, or two do alike.

    Case, spaces and hyphens do not matter.

    >>> near("Nodal spins", ["nodal_spines", "stem_ridges"])
    'nodal_spines'
    >>> near("spikes", ["nodal_spines", "stem_ridges"])
    """
    wanted = _folded(str(name)[:_LONGEST])
    folded = {_folded(item): item for item in known}
    if wanted in folded:
        return folded[wanted]
    starts = [item for start, item in folded.items() if len(wanted) >= _SHORTEST_START and start.startswith(wanted)]
    if starts:
        return starts[0] if len(starts) == 1 else None
    scores = sorted(((SequenceMatcher(None, wanted, start).ratio(), item) for start, item in folded.items()))
    if not scores or scores[-1][0] < _NEAR or (len(scores) > 1 and scores[-2][0] == scores[-1][0]):
        return None
    return scores[-1][1]


def _folded(text: str) -> str:
    return "_".join(text.casefold().replace("-", " ").replace("_", " ").split())

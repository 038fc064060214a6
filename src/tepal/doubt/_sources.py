"""Where a number comes from: source keys, the weakest basis among them, the entries behind it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

Basis = Literal["measured", "flora_range", "fact_sheet", "review", "judgement"]
# From the firmest to the weakest.
BASES: tuple[Basis, ...] = get_args(Basis)


def weakest_basis(bases: Iterable[Basis]) -> Basis | None:
    """The weakest of several bases, None where there is none.

    >>> weakest_basis(["measured", "judgement", "review"])
    'judgement'
    """
    return max(bases, key=BASES.index, default=None)


@dataclass(frozen=True, slots=True)
class Provenance:
    """What stands behind a figure: keys of the citation table, weakest basis, ids of ledger entries."""

    sources: tuple[str, ...] = ()
    basis: Basis | None = None
    entries: tuple[str, ...] = ()

    def __or__(self, other: Provenance) -> Provenance:
        """Both together; order of first mention is kept, so that outputs stay the same from run to run."""
        return Provenance(
            tuple(dict.fromkeys(self.sources + other.sources)),
            weakest_basis(basis for basis in (self.basis, other.basis) if basis is not None),
            tuple(dict.fromkeys(self.entries + other.entries)),
        )

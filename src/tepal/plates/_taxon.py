"""Drawings of a taxon, put together from what most of its plants show."""

from __future__ import annotations

from collections.abc import Iterator

from tepal.flora import Flora
from tepal.plates._draw import Plate
from tepal.tables import Refused
from tepal.words import Words

PARTS = ("plant", "leaf", "head", "stem", "seedling")


def draw_taxon(flora: Flora, code: str, part: str = "plant", *, words: Words | None = None) -> Plate:
    """A taxon's whole plant in flower, or its lower leaf with the stalk, flower head, stem, or seedling.

    Raises
    ------
    Refused
        For a code or a part that is not known, or a look that the tables do not tell of this taxon.
    """
    known = flora.taxon(code)
    raise Refused(
        f"no drawing of the {part} of {known.code}",
        where="command line",
        rule=(words or Words()).t("Whole plants are not drawn yet."),
        step="Ask for a character.",
    )


def draw_taxon_all(flora: Flora, code: str, *, words: Words | None = None) -> Iterator[Plate]:
    """All parts of a taxon that the tables tell enough of."""
    for part in PARTS:
        yield draw_taxon(flora, code, part, words=words)

"""One photo of a plucked leaf → petiole, blade, outline, with errors; refuses what it cannot measure."""

from tepal.leaf._card import card_pdf
from tepal.leaf._draw import draw, drawn_jpeg, in_numbers
from tepal.leaf._looks import WhichLeaf, looks, named_leaf
from tepal.leaf._measure import measure, measure_all
from tepal.leaf._photo import open_picture
from tepal.leaf._result import LeafMeasure

__all__ = [
    "LeafMeasure",
    "WhichLeaf",
    "card_pdf",
    "draw",
    "drawn_jpeg",
    "in_numbers",
    "looks",
    "measure",
    "measure_all",
    "named_leaf",
    "open_picture",
]

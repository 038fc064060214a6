"""Drawings of every character and state, and of whole plants, made from shapes by code: SVG with text beside it.

Floor 2. What is drawn how stands in the weed group's `plates.toml`; a new group needs tables only.
"""

from tepal.plates._bare import bare
from tepal.plates._draw import LEVELS, Plate, character_of, draw, draw_all, levels_of, names, states
from tepal.plates._taxon import PARTS, draw_taxon, draw_taxon_all, parts_of

__all__ = [
    "LEVELS",
    "PARTS",
    "Plate",
    "bare",
    "character_of",
    "draw",
    "draw_all",
    "draw_taxon",
    "draw_taxon_all",
    "levels_of",
    "names",
    "parts_of",
    "states",
]

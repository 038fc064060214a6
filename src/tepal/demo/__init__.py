"""Larkmoor County, invented: made anew from a seed, through the same files and rooms as a real one. Floor 7.

The `_world_…` modules make what is truly there and what people saw of it. They import no room that has to find it
again.
"""

from tepal.demo._county import SEED, County, Visit, lines, make, write_files

__all__ = ["SEED", "County", "Visit", "lines", "make", "write_files"]

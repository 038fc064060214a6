"""Seeds that follow from what is asked, so that the same question gets the same draws."""

from __future__ import annotations

import hashlib

import numpy as np


def generator_for(*parts: object) -> np.random.Generator:
    """A generator seeded by the text of `parts` (for a reading: its room and the site).

    >>> float(generator_for("a", 1).random()) == float(generator_for("a", 1).random())
    True
    >>> float(generator_for("a", 1).random()) == float(generator_for("a", 2).random())
    False
    """
    return np.random.Generator(np.random.PCG64(seed_for(*parts)))


def seed_for(*parts: object) -> int:
    """The seed itself, of 128 bits, for who needs another kind of generator."""
    # The separator cannot occur in a part's text by accident: ("ab", "c") and ("a", "bc") must differ.
    text = "\x1f".join(str(part) for part in parts)
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=16).digest(), "big")

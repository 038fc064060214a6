"""Where each draw comes from: every value and every process has its own stream, whatever else is done in the field."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tepal.doubt import seed_for


def _same(name: str) -> str:  # noqa: ARG001 - one stream for all
    return "a"


@dataclass(frozen=True, slots=True)
class Luck:
    """Generators for a block of replicates, named by what they are for: the same name gives the same draws.

    Programmes that are compared share the seed, and so the doubt and the seasons; they differ only by what is done.
    `stream` names which of two independent sets of draws a value takes: the sensitivity exchanges one at a time.
    """

    seed: int
    block: int
    size: int
    stream: Callable[[str], str] = _same

    def of(self, name: str, *more: object) -> np.random.Generator:
        """The generator for a value, or for a process in a year."""
        # The quickest of numpy's: most of the time is spent in drawing.
        return np.random.Generator(
            np.random.SFC64(seed_for("years", self.seed, self.stream(name), self.block, name, *more))
        )

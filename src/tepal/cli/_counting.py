"""A line on the terminal that says how much of long work is done; nothing where nobody looks."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from tepal.words import Words

_EVERY_S = 0.2


@contextmanager
def counting(words: Words) -> Iterator[Callable[[int], None]]:
    """A function that is told how many more bytes are done."""
    done, shown = 0, time.monotonic()
    seen = sys.stderr.isatty()

    def more(count: int) -> None:
        nonlocal done, shown
        done += count
        if seen and time.monotonic() - shown > _EVERY_S:
            shown = time.monotonic()
            print(f"\r{words.t('{n} MB so far', n=words.number(done / 1e6, 0))} ", end="", file=sys.stderr, flush=True)

    try:
        yield more
    finally:
        if seen:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)

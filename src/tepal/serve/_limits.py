"""How often: a device or an address that asks too much waits."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from tepal.serve._problems import Problem

_MOST_KEYS = 10_000


class Often:
    """So many at once, and so many a second in the long run, for each key (a token bucket)."""

    def __init__(self, burst: float, per_second: float, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._burst, self._rate, self._clock = burst, per_second, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def take(self, key: str) -> None:
        """Count one.

        Raises
        ------
        Problem
            429 with Retry-After, where there is none left.
        """
        with self._lock:
            now = self._clock()
            left, since = self._left.pop(key, (self._burst, now))
            left = min(self._burst, left + (now - since) * self._rate)
            enough = left >= 1
            self._left[key] = (left - 1 if enough else left, now)
            # The keys asked longest ago go first: by then they are full again.
            while len(self._left) > _MOST_KEYS:
                self._left.popitem(last=False)
        if not enough:
            wait = max(1, round((1 - left) / self._rate))
            raise Problem(429, headers={"Retry-After": str(wait)})

    def give_back(self, key: str) -> None:
        """What was counted was none of those that are to be few."""
        with self._lock:
            left, since = self._left.get(key, (self._burst, self._clock()))
            self._left[key] = (min(self._burst, left + 1), since)


class Limits:
    """The buckets of one server. They are kept in memory: an office runs one server."""

    def __init__(self) -> None:
        self.device = Often(1200, 20)
        self.joining = Often(10, 1 / 60)
        self.unknown = Often(60, 1)

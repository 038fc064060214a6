"""What the pages ask for readings: the last one made, whether it still holds, and that it be made anew if not."""

from __future__ import annotations

import asyncio
import hashlib
import logging
import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

from tepal import __version__
from tepal.flora import Flora
from tepal.ledger import Ledger
from tepal.serve.desk._cache import Brief, Cache, Key
from tepal.serve.desk._concerns import Concerns
from tepal.serve.desk._reckoner import NotMade, Progress, Reckoner, Told, Turn, Wanted, flora_with
from tepal.serve.desk._told import FORM
from tepal.tables import Refused

T = TypeVar("T")
_log = logging.getLogger(__name__)
_EVERY_S = 3.0
# A reading that broke for a reason of the machine is tried again after so long.
_AGAIN_S = 60.0
# Days that are held in memory at once: today, and a few that people look back at.
_DAYS_HELD = 4
# So many pages that were opened last are made anew before the others: somebody works with them.
_OPENED = 20


@dataclass(frozen=True, slots=True)
class Shown:
    """A reading as a page shows it: the last one made (None: not one yet), and whether it holds as it stands."""

    site: str
    brief: Brief | None
    holds: bool
    refused: Refused | None = None

    @property
    def told(self) -> dict[str, Any]:
        """What the list needs; empty where there is no reading yet."""
        return {} if self.brief is None else self.brief.told


class Readings:
    """All readings of one ledger. `start` makes them and follows the ledger until `close`; before that pages show what
    was kept. `now` and `today` are the office's clock and its day.
    """

    def __init__(
        self, ledger: Ledger, *, now: Callable[[], datetime], today: Callable[[], date], law: Path | None = None
    ) -> None:
        self.ledger, self.now, self.today = ledger, now, today
        self._law = None if law is None else str(law)
        self._cache, self._concerns = Cache(ledger), Concerns(ledger)
        self._reckoner = Reckoner(ledger.where, self._law, self._made)
        self._held: dict[date, dict[str, Brief]] = {}
        self._refused: dict[tuple[str, date], tuple[int, float, Refused]] = {}
        self._count = 0
        self._opened: OrderedDict[str, None] = OrderedDict()
        self._lock = threading.RLock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        # A law table is told by what it says: the same file, changed, is another.
        law_hash = hashlib.sha256(law.read_bytes()).hexdigest()[:16] if law else "-"
        self._settings = f"{FORM}:{law_hash}"

    @property
    def flora(self) -> Flora:
        """The published tables, with the office's own law."""
        return flora_with(self._law)

    # ------------------------------------------------------------------------------------------------------- asking

    def all(self, as_of: date, sites: frozenset[str] | None = None) -> list[Shown]:
        """The reading of every site on record (or of `sites`); what does not hold any more is asked for."""
        self._concerns.look()
        held = self._of_day(as_of)
        known = self._concerns.sites()
        return [self._shown(site, as_of, held.get(site)) for site in known if sites is None or site in sites]

    def of(self, site: str, as_of: date, *, opened: bool = True) -> Shown:
        """The reading of one site. Where it is `opened`, somebody waits for it: it is made anew before all others."""
        self._concerns.look()
        if opened:
            with self._lock:
                self._opened[site] = None
                self._opened.move_to_end(site)
                while len(self._opened) > _OPENED:
                    self._opened.popitem(last=False)
        return self._shown(site, as_of, self._of_day(as_of).get(site), first=opened)

    def page(self, shown: Shown) -> dict[str, Any] | None:
        """What the site's own page needs; None where there is none yet."""
        return None if shown.brief is None else self._cache.page(shown.brief)

    @property
    def progress(self) -> Progress:
        return self._reckoner.progress

    def known(self, site: str) -> bool:
        """Whether an entry names the site."""
        self._concerns.look()
        return site in self._concerns.sites()

    def briefs(self, as_of: date) -> tuple[int, dict[str, Brief]]:
        """What is kept of each site for a day, whether it holds or not, and a number that grows with each one made."""
        return self._count, self._of_day(as_of)

    def position(self, site: str, as_of: date) -> int:
        """The place in the ledger of what concerns a site last."""
        self._concerns.look()
        brief = self._of_day(as_of).get(site)
        return self._concerns.of(site, None if brief is None else brief.told.get("station"))

    async def run(self, work: Callable[..., T], *given: Any) -> T:
        """Have something made by a worker, and wait for it without holding anybody up."""
        return await asyncio.wrap_future(self._reckoner.submit(work, *given))

    def _of_day(self, as_of: date) -> dict[str, Brief]:
        with self._lock:
            held = self._held.get(as_of)
            if held is None:
                held = self._held[as_of] = self._cache.briefs(as_of)
                while len(self._held) > _DAYS_HELD:
                    oldest = next(day for day in self._held if day != as_of)
                    del self._held[oldest]
            return held

    def _shown(self, site: str, as_of: date, brief: Brief | None, *, first: bool = False) -> Shown:
        key = self._key(site, brief)
        holds = brief is not None and brief.key == key and brief.as_of == as_of
        position, until, refusal = self._refused.get((site, as_of), (-1, 0.0, None))
        if refusal is not None and position >= key.position and time.monotonic() < until:
            # What broke on the machine says nothing against the last reading; what is not on record has none.
            broke = isinstance(refusal, NotMade)
            return Shown(site, brief if broke else None, holds=not broke, refused=refusal)
        if not holds:
            self._reckoner.want(Wanted(site, as_of, key.position), turn=self._turn(site, brief), first=first)
        return Shown(site, brief, holds)

    def _turn(self, site: str, brief: Brief | None) -> Turn:
        """What was opened last goes first, then what has no reading at all, then what has to be done soonest."""
        with self._lock:
            opened = site in self._opened
        if brief is None or opened:
            return (0,) if opened else (1, 0)
        by = brief.told.get("by")
        return (1, date.max.toordinal() if by is None else date.fromisoformat(by).toordinal())

    def _key(self, site: str, brief: Brief | None) -> Key:
        station = None if brief is None else brief.told.get("station")
        return Key(self._concerns.of(site, station), self.flora.tables_hash, self._settings, __version__)

    # ------------------------------------------------------------------------------------------------------- making

    def _made(self, wanted: Wanted, answer: Told | Refused) -> None:
        if isinstance(answer, Refused):
            with self._lock:
                until = time.monotonic() + _AGAIN_S if isinstance(answer, NotMade) else math.inf
                self._refused[wanted.site, wanted.as_of] = (wanted.position, until, answer)
            return
        told, page = answer
        # The station is known only now: of the place up to which this one was made, the part that concerns it.
        position = min(wanted.position, self._concerns.of(wanted.site, told.get("station")))
        key = Key(position, self.flora.tables_hash, self._settings, __version__)
        brief = Brief(wanted.site, wanted.as_of, key, self.now(), told)
        self._cache.put([(brief, page)])
        with self._lock:
            self._refused.pop((wanted.site, wanted.as_of), None)
            if wanted.as_of in self._held:
                self._held[wanted.as_of] = self._held[wanted.as_of] | {wanted.site: brief}
            self._count += 1

    def start(self, workers: int = 1) -> None:
        """Follow the ledger: what an entry, weather, or a new day makes stale is made anew without being asked for.

        `workers`: processes that make readings; with 0 they are made in a thread of this one.
        """
        self._reckoner.start(workers)
        if self._thread is None:
            self._thread = threading.Thread(target=self._follow, name="tepal-readings", daemon=True)
            self._thread.start()

    def _follow(self) -> None:
        seen: tuple[int, date] | None = None
        while True:
            try:
                now = (self._concerns.look(), self.today())
                if now != seen or self._refused:
                    seen = now
                    self.all(now[1])
            except Exception:  # the store may be away for a while: what follows it must not end
                _log.exception("the ledger could not be followed; tried again")
            if self._stop.wait(_EVERY_S):
                return

    def settled(self, as_of: date, *, seconds: float) -> bool:
        """Wait until every reading of a day holds; False where that took longer."""
        end = threading.Event()
        for _ in range(int(seconds * 20)):
            if all(shown.holds for shown in self.all(as_of)) and not self.progress.busy:
                return True
            end.wait(0.05)
        return False

    def close(self) -> None:
        """Stop following and making."""
        self._stop.set()
        self._reckoner.close()

"""Readings made in the background, in processes of their own, so that no page waits for one."""

from __future__ import annotations

import heapq
import logging
import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.flora import Flora

T = TypeVar("T")
_log = logging.getLogger(__name__)
Told = tuple[dict[str, Any], dict[str, Any]]
Turn = tuple[int, ...]
"""When a reading is made among those that wait: the smallest first."""
_LOOKS_UP_EVERY_S = 2.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """A reading to be made: of a site, on a day, from what had arrived up to a position."""

    site: str
    as_of: date
    position: int


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the background is: readings waiting, being made, and made or refused since it was last idle."""

    waiting: int
    making: int
    made: int

    @property
    def busy(self) -> bool:
        return self.waiting + self.making > 0


@lru_cache(maxsize=2)
def flora_with(law: str | None) -> Flora:
    """The tables with the office's own law, read once a process."""
    from tepal.flora import load, replace_law

    return load() if law is None else replace_law(load(), Path(law))


def reckon(ledger: str, law: str | None, wanted: Wanted) -> Told:
    """Make one reading from the ledger at `ledger`: what a worker does.

    Raises
    ------
    Refused
        If the site is not on record by that day.
    """
    from tepal import advice as advising
    from tepal import reading as readings
    from tepal.ledger import Ledger
    from tepal.serve.desk._told import told

    flora = flora_with(law)
    with Ledger.open(ledger) as book:
        evidence = readings.gather(book, wanted.site, as_of=wanted.as_of, known_to=wanted.position)
    made = readings.compose(evidence, site=wanted.site, as_of=wanted.as_of, flora=flora)
    return told(made, advising.advise(made, flora=flora), evidence.standing.entries, flora)


class Reckoner:
    """A queue of readings to make, each in its turn; `done` is called with each, from the queue's thread.

    Nothing is made before `start`: until then what is wanted is only noted, and `submit` does its work on the spot.
    """

    def __init__(self, ledger: str, law: str | None, done: Callable[[Wanted, Told | Refused], None]) -> None:
        self._ledger, self._law, self._done = ledger, law, done
        self._workers = 0
        self._pool: ProcessPoolExecutor | None = None
        self._waiting: dict[tuple[str, date], tuple[Turn, Wanted]] = {}
        self._wishes = 0
        self._making: dict[Future[Told], Wanted] = {}
        # From being taken off the queue until it is kept: nobody need wish for it again.
        self._in_hand: set[Wanted] = set()
        self._made = 0
        self._wake = threading.Condition()
        self._thread: threading.Thread | None = None
        self._closed = False

    def start(self, workers: int) -> None:
        """Begin, in that many processes; with 0 readings are made in the queue's own thread."""
        with self._wake:
            if self._thread is None:
                self._workers = workers
                self._thread = threading.Thread(target=self._run, name="tepal-reckoner", daemon=True)
                self._thread.start()

    def want(self, wanted: Wanted, *, turn: Turn = (1,), first: bool = False) -> None:
        """Ask for a reading; what is asked for `first` (somebody looks at its page) goes before all others."""
        with self._wake:
            key = (wanted.site, wanted.as_of)
            if self._closed or wanted in self._in_hand:
                return
            self._wishes += 1
            wished: Turn = (-1, -self._wishes) if first else (*turn, self._wishes)
            earlier, same = self._waiting.get(key, (wished, None))
            # Whoever looked at the page goes on waiting for it, whatever has come in since.
            self._waiting[key] = (min(wished, earlier), wanted)
            if same is None:
                self._wake.notify()

    def submit(self, work: Callable[..., T], *given: Any) -> Future[T]:
        """Have something else made by a worker; where there are none, here and now."""
        if self._workers:
            try:
                return self._workers_pool().submit(work, *given)
            except BrokenProcessPool:
                self._pool = None
                return self._workers_pool().submit(work, *given)
        future: Future[T] = Future()
        try:
            future.set_result(work(*given))
        except Exception as problem:
            future.set_exception(problem)
        return future

    def _workers_pool(self) -> ProcessPoolExecutor:
        with self._wake:
            if self._pool is None:
                # Spawned: a fork would copy the server's threads and open connections.
                self._pool = ProcessPoolExecutor(
                    self._workers,
                    mp_context=multiprocessing.get_context("spawn"),
                    initializer=end_with,
                    initargs=(os.getpid(),),
                )
            return self._pool

    @property
    def progress(self) -> Progress:
        with self._wake:
            return Progress(len(self._waiting), len(self._in_hand), self._made)

    def close(self) -> None:
        """Make nothing more. What is being made is not waited for: it will be asked for again."""
        with self._wake:
            self._closed = True
            self._waiting.clear()
            self._wake.notify()
        if self._thread is not None:
            self._thread.join(timeout=10)
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _run(self) -> None:
        while True:
            with self._wake:
                while not self._closed and not self._waiting and not self._making:
                    self._made = 0
                    self._wake.wait()
                if self._closed:
                    return
                ready = self._next()
            for wanted in ready:
                self._start(wanted)
            if self._making:
                # New wishes are looked at between two readings; one takes a second or a few.
                finished, _ = wait(self._making, timeout=1.0, return_when=FIRST_COMPLETED)
                for future in finished:
                    self._finish(future)

    def _next(self) -> list[Wanted]:
        # One more than there are workers lies ready, so that none is idle while an answer is kept.
        room = max(self._workers, 1) + (1 if self._workers else 0) - len(self._making)
        keys = heapq.nsmallest(max(room, 0), self._waiting, key=lambda key: self._waiting[key][0])
        taken = [self._waiting.pop(key)[1] for key in keys]
        self._in_hand.update(taken)
        return taken

    def _start(self, wanted: Wanted) -> None:
        self._making[self.submit(reckon, self._ledger, self._law, wanted)] = wanted

    def _finish(self, future: Future[Told]) -> None:
        wanted = self._making.pop(future)
        try:
            answer: Told | Refused = future.result()
        except Refused as refusal:
            answer = refusal
        except BrokenProcessPool:
            # A worker was killed (out of memory, most likely): the next wish gets a new pool.
            self._pool = None
            answer = _failed("the process that made it ended")
        except Exception as problem:  # whatever a reading breaks on, the pages go on
            _log.exception("reading of one site failed")
            answer = _failed(type(problem).__name__)
        try:
            self._done(wanted, answer)
        except Exception:
            _log.exception("a reading could not be kept")
        with self._wake:
            self._in_hand.discard(wanted)
            self._made += 1


def end_with(server: int) -> None:
    """Let this worker end when its server is gone: one whose server was killed would wait for ever, in 90 MB."""

    def watch() -> None:
        while os.getppid() == server:
            time.sleep(_LOOKS_UP_EVERY_S)
        os._exit(1)

    threading.Thread(target=watch, name="tepal-server-there", daemon=True).start()


class NotMade(Refused):
    """A reading that could not be made for a reason that lies in the machine: it is tried again after a while."""


def _failed(what: str) -> NotMade:
    return NotMade(
        f"the reading could not be made: {what}",
        where="desk",
        rule="Every site on record has a reading.",
        step="It is tried again by itself; if that does not help, see what `tepal reading SITE` says.",
    )

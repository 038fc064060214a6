"""Who carries out the blocks: this process, several on this machine, or a cluster. The answer is the same."""

from __future__ import annotations

import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from multiprocessing import get_context
from typing import Any, Protocol, TypeVar

from tepal.tables import Refused

Job = TypeVar("Job")
Done = TypeVar("Done")
_PATIENCE_S = 10
# Jobs that another process has been given and not yet given back: one that it does, one that it need not wait for.
_AHEAD = 2


class Runs(Protocol):
    """Carries out a function on jobs and gives the answers in the order of the jobs."""

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]: ...


class InTurn:
    """One after the other, here."""

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        return map(function, jobs)


class Processes:
    """On several processes of this machine, of which this one is one: it works from the first moment on, while the
    others still start."""

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        waiting = deque(enumerate(jobs))
        done: dict[int, Done] = {}
        if self.workers < 2 or len(waiting) < 2:
            return map(function, (job for _, job in waiting))
        others = min(self.workers, len(waiting)) - 1
        away: dict[Future[Done], int] = {}
        with ProcessPoolExecutor(others, mp_context=get_context(_start_method())) as pool:
            while waiting or away:
                while waiting and len(away) < _AHEAD * others:
                    at, job = waiting.popleft()
                    away[pool.submit(function, job)] = at
                if waiting:
                    at, job = waiting.popleft()
                    done[at] = function(job)
                    back = [future for future in away if future.done()]
                else:
                    back = list(wait(away, return_when=FIRST_COMPLETED).done)
                for future in back:
                    done[away.pop(future)] = future.result()
        return iter([done[at] for at in range(len(done))])


def _start_method() -> str:
    """A copy of this process is there at once; a new interpreter takes as long as a fifth of a usual projection.

    A copy can inherit a lock that another thread holds, and would wait for it for ever: where there are other threads,
    as in a server, and where the system's own libraries are known to keep some (macOS), a new interpreter is started.
    """
    alone = sys.platform == "linux" and threading.active_count() == 1
    return "fork" if alone else "spawn"


class Cluster:
    """On a cluster of `distributed`, whose scheduler listens at an address; others make up for a worker that dies."""

    def __init__(self, address: str) -> None:
        self.address = address

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        with self._client() as client:
            futures: list[Any] = client.map(function, list(jobs), pure=False, retries=3)
            for future in futures:
                yield future.result()

    def _client(self) -> Any:
        try:
            from distributed import Client
        except ImportError:
            raise Refused("`distributed` is not installed", where="command line", rule="A cluster is reached by it.",
                          step="Install it, or use --workers.") from None  # fmt: skip
        try:
            return Client(self.address, timeout=_PATIENCE_S)  # type: ignore[no-untyped-call]
        except (OSError, ValueError, TimeoutError):
            raise Refused(f"no cluster answers at {self.address}", where="command line",
                          rule="A scheduler listens there.",
                          step="Start it with `dask scheduler`, or correct the address.") from None  # fmt: skip

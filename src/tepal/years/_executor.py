"""Who carries out the blocks: this process, several on this machine, or a cluster. The answer is the same."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any, Protocol, TypeVar

from tepal.tables import Refused

Job = TypeVar("Job")
Done = TypeVar("Done")
_PATIENCE_S = 10


class Runs(Protocol):
    """Carries out a function on jobs and gives the answers in the order of the jobs."""

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]: ...


class InTurn:
    """One after the other, here."""

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        return map(function, jobs)


class Processes:
    """On several processes of this machine."""

    def __init__(self, workers: int) -> None:
        self.workers = workers

    def map(self, function: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
        # A new interpreter for each worker: a forked one can inherit locks of number libraries.
        with ProcessPoolExecutor(self.workers, mp_context=get_context("spawn")) as pool:
            yield from pool.map(function, jobs)


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

"""`tepal years`: what the next seasons hold under one or several programmes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.years import Runs

_MOST_YEARS, _MOST_REPLICATES = 60, 100_000


def years(
    programmes: Annotated[tuple[Path, ...], Parameter(negative=())],
    /,
    *,
    horizon: Annotated[int, Parameter(name="--years")] = 10,
    replicates: int = 1000,
    seed: int = 1,
    workers: int = 1,
    cluster: str | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """What the next seasons hold under one or several programmes: seed, plants, resistance, yield, money.

    Parameters
    ----------
    programmes: tuple[Path, ...]
        Programmes as TOML files; all are run with the same luck, so that they differ only by what is done.
    horizon: int
        Seasons ahead.
    replicates: int
        How often each programme is played through, each time with other values and other seasons.
    seed: int
        The same seed gives the same answer.
    workers: int
        Processes of this machine to share the work.
    cluster: str
        Address of a running cluster's scheduler that is to do the work, such as tcp://127.0.0.1:8786.
    json_output: bool
        Print one JSON object.
    """
    from tepal.flora import load
    from tepal.programme import read_programme
    from tepal.words import Words
    from tepal.years import project, sentences, to_json

    _within("--years", horizon, _MOST_YEARS)
    _within("--replicates", replicates, _MOST_REPLICATES)
    read = [read_programme(path) for path in programmes]
    done = project(read, flora=load(), years=horizon, replicates=replicates, seed=seed, runs=_runs(workers, cluster))
    if json_output:
        _out.emit({"programmes": [to_json(projection) for projection in done]})
        return _out.DONE
    words = Words()
    for projection in done:
        for sentence in sentences(projection, words):
            _out.say(sentence)
        _out.say()
    return _out.DONE


def _within(name: str, value: int, most: int) -> None:
    if not 1 <= value <= most:
        raise Refused(
            f"{name} {value}", where="command line", rule=f"It lies between 1 and {most}.", step="Correct it."
        )


def _runs(workers: int, cluster: str | None) -> Runs:
    from tepal.years import Cluster, InTurn, Processes

    if cluster is not None:
        return Cluster(cluster)
    _within("--workers", workers, 64)
    return Processes(workers) if workers > 1 else InTurn()

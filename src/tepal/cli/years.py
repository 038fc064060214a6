"""`tepal years`: what the next seasons hold under one or several programmes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.years import Runs

_MOST_YEARS, _MOST_REPLICATES, _MOST_WORKERS = 60, 100_000, 64
_MATTERING_REPLICATES = 1000


def years(
    programmes: Annotated[tuple[str, ...], Parameter(negative=())],
    /,
    *,
    horizon: Annotated[int, Parameter(name="--years")] = 10,
    replicates: int = 1000,
    seed: int = 1,
    discount: float = 0.0,
    what_matters: Annotated[bool, Parameter(negative=())] = False,
    workers: int = 1,
    cluster: str | None = None,
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """What the next seasons hold under one or several programmes: seed, plants, resistance, yield, money.

    Parameters
    ----------
    programmes: tuple[str, ...]
        Programmes as TOML files; all are run with the same luck, so that they differ only by what is done.
    horizon: int
        Seasons ahead.
    replicates: int
        How often each programme is played through, each time with other values and other seasons.
    seed: int
        The same seed gives the same answer.
    discount: float
        How much less money counts with each later year, as a share: 0.05 is 5 %.
    what_matters: bool
        Say also which values bring most of the doubt about the seed left.
    workers: int
        Processes of this machine to share the work.
    cluster: str
        Address of a running cluster's scheduler that is to do the work, such as tcp://127.0.0.1:8786.
    units: str
        Units of the sentences; JSON is always SI.
    json_output: bool
        Print one JSON object.
    """
    from tepal import years as room
    from tepal.flora import load
    from tepal.programme import read_programme
    from tepal.words import Words

    _within("--years", horizon, 1, _MOST_YEARS)
    _within("--replicates", replicates, 1, _MOST_REPLICATES)
    _within("--discount", discount, 0, 1)
    words, flora, runs = Words(units=units), load(), _runs(workers, cluster)
    read = [read_programme(Path(path)) for path in programmes]
    done = room.project(read, flora=flora, years=horizon, replicates=replicates, seed=seed, runs=runs)
    matters = [
        room.what_matters(each, flora=flora, years=horizon, replicates=min(replicates, _MATTERING_REPLICATES),
                          seed=seed, runs=runs)
        if what_matters else () for each in read
    ]  # fmt: skip
    notes = [room.notes(each, flora=flora, words=words) for each in read]
    if json_output:
        told = [room.to_json(projection, discount=discount) for projection in done]
        for each, found, said in zip(told, matters, notes, strict=True):
            each["notes"] = said
            if what_matters:
                each["matters"] = [{"name": m.name, "first": m.first, "total": m.total} for m in found]
        _out.emit({"programmes": told})
        return _out.DONE
    for projection, found, said in zip(done, matters, notes, strict=True):
        for sentence in (*room.sentences(projection, words, discount=discount), *said):
            _out.say(sentence)
        if what_matters:
            _out.say(room.mattering(found, words))
        _out.say()
    for sentence in room.compared(done, words, discount=discount):
        _out.say(sentence)
    return _out.DONE


def _within(name: str, value: float, least: float, most: float) -> None:
    if not least <= value <= most:
        raise Refused(
            f"{name} {value}", where="command line", rule=f"It lies between {least} and {most}.", step="Correct it."
        )


def _runs(workers: int, cluster: str | None) -> Runs:
    from tepal.years import Cluster, InTurn, Processes

    if cluster is not None:
        return Cluster(cluster)
    _within("--workers", workers, 1, _MOST_WORKERS)
    return Processes(workers) if workers > 1 else InTurn()

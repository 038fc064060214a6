"""`tepal years`: what the next seasons hold under one or several programmes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.words import Words
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
    draft: Annotated[bool, Parameter(negative=())] = False,
    ledger: str | None = None,
    as_of: str | None = None,
    out: Path | None = None,
    language: Literal["en", "es"] = "en",
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """What the next seasons hold under one or several programmes: seed, plants, resistance, yield, money.

    Parameters
    ----------
    programmes: tuple[str, ...]
        Programmes as TOML files; all are run with the same luck, so that they differ only by what is done. With
        --draft: one site, by id or name.
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
    draft: bool
        Write down a programme from the site's own record instead: its crops, sprayings, pulling, counts.
    ledger: str
        The ledger: a file, or postgresql://… (with --draft).
    as_of: str
        With --draft: count what happened up to this date (YYYY-MM-DD); else the day of the page. Today if not given.
    out: Path
        Folder for a page and a PDF; with --draft the file to write.
    language: str
        Language of the sentences and the page.
    units: str
        Units of the sentences; JSON is always SI.
    json_output: bool
        Print one JSON object.
    """
    from datetime import date

    from tepal import years as room
    from tepal.flora import load
    from tepal.programme import read_programme
    from tepal.tables import parse_date
    from tepal.words import Words

    _within("--years", horizon, 1, _MOST_YEARS)
    _within("--replicates", replicates, 1, _MOST_REPLICATES)
    _within("--discount", discount, 0, 1)
    words, flora = Words(language, units), load()
    if draft:
        return _drafted(programmes, ledger, as_of, out, words, json_output=json_output)
    if ledger is not None:
        raise Refused("--ledger without --draft", where="command line", rule="Only a draft is made from a ledger.",
                      step="Add --draft.")  # fmt: skip
    day = date.today() if as_of is None else parse_date(as_of, "--as-of")
    runs = _runs(workers, cluster)
    read = [read_programme(Path(path), taxa=flora.taxa) for path in programmes]
    done = room.project(read, flora=flora, years=horizon, replicates=replicates, seed=seed, runs=runs)
    matters = [
        room.what_matters(each, flora=flora, years=horizon, replicates=min(replicates, _MATTERING_REPLICATES),
                          seed=seed, runs=runs)
        if what_matters else () for each in read
    ]  # fmt: skip
    notes = [room.notes(each, flora=flora, words=words) for each in read]
    files = None
    if out is not None:
        from tepal import letter

        page = letter.outlook(done, flora=flora, words=words, day=day, discount=discount, matters=matters, notes=notes)
        files = letter.save_outlook(page, out)
    if json_output:
        told = [room.to_json(projection, discount=discount) for projection in done]
        for each, found, said in zip(told, matters, notes, strict=True):
            each["notes"] = said
            if what_matters:
                each["matters"] = [{"name": m.name, "first": m.first, "total": m.total} for m in found]
        _out.emit({"programmes": told} | ({} if files is None else {"pdf": str(files[0]), "html": str(files[1])}))
        return _out.DONE
    for projection, found, said in zip(done, matters, notes, strict=True):
        for sentence in (*room.sentences(projection, words, discount=discount), *said):
            _out.say(sentence)
        if what_matters:
            _out.say(room.mattering(found, words))
        _out.say()
    for sentence in room.compared(done, words, discount=discount):
        _out.say(sentence)
    if files is not None:
        _out.say(words.t("The page: {pdf}, {page}", pdf=files[0], page=files[1]))
    return _out.DONE


def _drafted(
    sites: tuple[str, ...], ledger: str | None, as_of: str | None, out: Path | None, words: Words, *,
    json_output: bool,
) -> int:  # fmt: skip
    from datetime import date

    from tepal import reading as readings
    from tepal.cli._years_draft import drafted
    from tepal.flora import load
    from tepal.ledger import Ledger
    from tepal.tables import parse_date

    if ledger is None or len(sites) != 1:
        raise Refused("--draft without --ledger" if ledger is None else f"--draft with {len(sites)} sites",
                      where="command line", rule="A draft is of one site of a ledger.",
                      step="Write tepal years SITE --draft --ledger L.")  # fmt: skip
    flora, day = load(), date.today() if as_of is None else parse_date(as_of, "--as-of")
    with Ledger.open(ledger) as book:
        found = readings.read(book, sites[0], as_of=day, flora=flora)
        text = drafted(book, found, flora=flora, words=words)
    if out is not None:
        _write(out, text)
    if json_output:
        _out.emit({"draft": text, "file": None if out is None else str(out)})
    else:
        _out.say(text.rstrip() if out is None else words.t("The draft: {file}", file=out))
    return _out.DONE


def _write(path: Path, text: str) -> None:
    """Whole or not at all; what is there is not overwritten: somebody may have corrected it."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise Refused("the file is there already", where=str(path), rule="A draft overwrites nothing.",
                      step="Name another, or take the old one away.") from None  # fmt: skip
    except OSError as problem:
        raise Refused(f"the file cannot be written: {problem.strerror or problem}", where=str(path),
                      rule="A file in a folder that is there.", step="Name another.") from None  # fmt: skip


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

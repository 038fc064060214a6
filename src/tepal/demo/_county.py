"""The demo county written out as files, taken in like any others, and read: the same road as for a real county."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from tepal import advice as advising
from tepal import letter as letters
from tepal import reading as readings
from tepal.demo._world_stories import tell_all
from tepal.demo._world_story import STATION, YEAR, Story
from tepal.demo._world_weather import make_weather
from tepal.flora import Flora, load
from tepal.ledger import Defaults, Ledger, take
from tepal.tables import Refused
from tepal.words import Words

SEED = 20260401
FIRST_YEAR = YEAR - 25
_MARK = ".made-by-tepal-demo"
_SIGNER = letters.Signer("", "County extension educator")
_OFFICE = "Larkmoor County Extension (an invented county)"


@dataclass(frozen=True, slots=True)
class Visit:
    """One site of the demo: its reading in a few words, and where its letters lie.

    `reading` is what they stand on. `pdf`, `html` and `text` are the tenant's, the full letter; `others` are the files
    of other readers' letters. `sent_back`: what went back by telephone the day a report came in, before there was an
    answer.
    """

    site: str
    name: str
    as_of: date
    who: str
    how_many: str | None
    closes_next: str | None
    pdf: Path
    html: Path
    text: str
    reading: readings.Reading
    others: tuple[Path, ...] = ()
    sent_back: str | None = None


@dataclass(frozen=True, slots=True)
class County:
    """What `make` made: the ledger, the folder of letters, the truth (for comparing), one visit a site."""

    ledger: Path
    letters: Path
    truth: Path
    visits: tuple[Visit, ...]


def make(
    folder: Path, *, words: Words | None = None, seed: int = SEED, progress: Callable[[str], None] | None = None
) -> County:
    """Make the county in a folder: files, a ledger taken from them, readings, letters. Same seed, same bytes.

    Raises
    ------
    Refused
        If the folder holds something that this did not make.
    """
    words, tell = words or Words(), progress or (lambda _: None)
    _clear(folder)
    flora = load()
    tell("Making the weather of 26 years and what stands in the county.")
    files, stories = write_files(folder / "files", flora, seed=seed)
    tell("Taking the files into a ledger.")
    ledger = folder / "larkmoor.ledger"
    taken = take(files, ledger, defaults=Defaults(station=STATION))
    if taken.refused:
        raise taken.refused[0]
    truth = folder / "truth.json"
    truth.write_text(json.dumps({story.site: story.truth for story in stories}, indent=1) + "\n")
    visits = []
    with Ledger.open(ledger) as book:
        for story in stories:
            tell(f"Reading {story.site}.")
            visits.append(_visit(book, story, folder / "letters", flora, words))
    return County(ledger, folder / "letters", truth, tuple(visits))


def write_files(folder: Path, flora: Flora, *, seed: int = SEED) -> tuple[list[Path], list[Story]]:
    """The county as plain files, in the order in which an office would take them in."""
    weather_rng, story_rng = np.random.default_rng(seed).spawn(2)
    weather = make_weather(weather_rng, first_year=FIRST_YEAR, last_year=YEAR)
    stories = tell_all(story_rng, weather, flora)
    folder.mkdir(parents=True)
    files = [folder / "larkmoor-depot-weather.csv"]
    files[0].write_text(weather.csv(date(YEAR, 10, 31)))
    for story in stories:
        for name, content in story.photos.items():
            files.append(folder / name)
            files[-1].write_bytes(content)
        files.append(folder / f"{story.site}.jsonl")
        files[-1].write_text("".join(json.dumps(entry) + "\n" for entry in story.entries))
    return files, stories


def _visit(book: Ledger, story: Story, folder: Path, flora: Flora, words: Words) -> Visit:
    reading = readings.read(book, story.site, as_of=story.as_of, flora=flora)
    advice = advising.advise(reading, flora=flora)
    entries = book.standing(story.site, story.as_of, reading.known_to).entries
    made: dict[str, letters.Letter] = {}
    files: dict[str, tuple[Path, ...]] = {}
    for reader in (reader for reader in letters.READERS if reader in story.readers):
        made[reader] = letters.write(
            reading, advice, entries=entries, flora=flora, words=words, signer=_SIGNER, office=_OFFICE, reader=reader
        )
        files[reader] = _save(made[reader], folder, story, reader)
    closing = readings.closes_next(reading)
    return Visit(
        site=story.site,
        name=reading.name,
        as_of=story.as_of,
        who=readings.who(reading, words),
        how_many=readings.how_many(reading, words),
        closes_next=None if closing is None else readings.window_in_words(closing[0], reading, words),
        pdf=files["tenant"][0],
        html=files["tenant"][1],
        text=made["tenant"].text,
        reading=reading,
        others=tuple(path for reader, paths in files.items() if reader != "tenant" for path in paths),
        sent_back=_sent_back(story, folder, words),
    )


def _save(letter: letters.Letter, folder: Path, story: Story, reader: letters.Reader) -> tuple[Path, ...]:
    pdf, page = letters.save(letter, folder, story.site, story.as_of, reader=reader)
    text = pdf.with_suffix(".txt")
    text.write_text(letter.text + "\n")
    return pdf, page, text


def _sent_back(story: Story, folder: Path, words: Words) -> str | None:
    """The text that answered the first report at once, where the story has one: which photos would help."""
    if story.asked is None:
        return None
    first = next(entry["body"] for entry in story.entries if entry["kind"] == "report")
    promised = date.fromisoformat(first["answer_by"])
    text = letters.ask_for_photos(words, answer_by=promised, some_came=bool(first.get("photos")))
    (folder / f"{story.site}-{story.asked}-sent-back.txt").write_text(text + "\n")
    return text


def _clear(folder: Path) -> None:
    """Make the folder, or empty it where an earlier demo made it; anything else is left alone."""
    if folder.exists() and (not folder.is_dir() or (any(folder.iterdir()) and not (folder / _MARK).exists())):
        raise Refused(
            f"{folder} is in use",
            where="demo",
            rule="The demo writes into a new folder, or one that it made itself.",
            step="Name another folder: tepal demo DIR.",
        )
    try:
        if folder.exists():
            shutil.rmtree(folder)
        folder.mkdir(parents=True)
        (folder / _MARK).write_text("This folder may be deleted; `tepal demo` makes it again.\n")
    except OSError as problem:
        raise Refused(
            f"{folder} cannot be made: {problem.strerror or problem}",
            where="demo",
            rule="The demo writes into a folder that can be made and written to.",
            step="Name another folder: tepal demo DIR.",
        ) from None


def lines(county: County) -> Sequence[str]:
    """A short paragraph a site: who, how sure, how many, what closes next; then where the letters lie."""
    out: list[str] = []
    for visit in county.visits:
        told = [visit.who, visit.how_many, visit.closes_next and f"Next: {visit.closes_next}"]
        out.append(f"{visit.name}, {visit.as_of}: " + " ".join(part for part in told if part))
    return [*out, f"The letters: {county.letters}", f"The ledger: {county.ledger}"]

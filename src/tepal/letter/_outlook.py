"""Programmes side by side, as a page and a PDF: what is done, what it leads to, what it costs, what is least known."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any

from tepal.flora import Flora
from tepal.letter._fonts import embedded
from tepal.letter._ink import INK, MADDER, NIGHT, PAPER, RULE, SOFT, WASH
from tepal.letter._outlook_charts import NARROW, WIDE, Plate, money_plate, seed_plate, sites_plate
from tepal.letter._outlook_strips import Strip, strips
from tepal.letter._runs import clip, dated
from tepal.letter._setting import set_pdf
from tepal.tables import Refused, write_whole
from tepal.words import Words
from tepal.years import Matter, Projection, compared, mattering, sentences, stands_on

_TEMPLATES = "tepal.letter"
_SOURCE_SIGNS = 56


@dataclass(frozen=True, slots=True)
class Told:
    """One programme: its strips, its three sentences, and what its figures do not say."""

    name: str
    plant: str
    strips: tuple[Strip, ...]
    sentences: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    title: str
    caption: str
    plate: Plate
    narrow: Plate  # the same for a phone


@dataclass(frozen=True, slots=True)
class Outlook:
    """The page, set twice from the same texts and plates."""

    pdf: bytes
    html: str


@dataclass(frozen=True, slots=True)
class _Sheet:
    language: str
    paper: str
    title: str
    date: str
    answer: tuple[str, ...]
    done_head: str
    told: tuple[Told, ...]
    ahead_head: str
    figures: tuple[Figure, ...]
    care_head: str
    care: tuple[str, ...]
    stands_head: str
    stands: tuple[str, ...]
    sources_head: str
    sources: tuple[str, ...]
    page: str


def outlook(
    done: Sequence[Projection], *, flora: Flora, words: Words, day: date, discount: float = 0.0,
    matters: Sequence[Sequence[Matter]] = (), notes: Sequence[Sequence[str]] = (),
) -> Outlook:  # fmt: skip
    """What programmes lead to. `matters` and `notes` belong to the programmes in their order, or are left out.

    Nothing is named but what the programmes' files name.
    """
    sheet = _sheet(done, flora, words, day, discount=discount, matters=matters, notes=notes)
    return Outlook(_pdf(sheet, day), _html(sheet))


def save_outlook(made: Outlook, folder: Path) -> tuple[Path, Path]:
    """Write `outlook.pdf` and `outlook.html` into a folder, each whole or not at all.

    Raises
    ------
    Refused
        If the folder cannot be made or written to.
    """
    paths = folder / "outlook.pdf", folder / "outlook.html"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in zip(paths, (made.pdf, made.html.encode()), strict=True):
            write_whole(path, content)
    except OSError as problem:
        raise Refused(f"the page cannot be written: {problem.strerror or problem}", where=str(folder),
                      rule="A folder that can be written to is needed.",
                      step="Name another with --out.") from None  # fmt: skip
    return paths


def _sheet(
    done: Sequence[Projection], flora: Flora, words: Words, day: date, *, discount: float,
    matters: Sequence[Sequence[Matter]], notes: Sequence[Sequence[str]],
) -> _Sheet:  # fmt: skip
    many, years = len(done) > 1, done[0].years
    told = []
    for at, projection in enumerate(done):
        said = tuple(notes[at]) if notes else ()
        if matters and matters[at]:
            said = (mattering(matters[at], words), *said)
        taxon = flora.taxon(projection.programme.taxon)
        told.append(Told(projection.name, f"{words.t(taxon.english_name)}, {taxon.scientific_name}",
                         strips(projection.programme, years, words),
                         sentences(projection, words, discount=discount, named=False), said))  # fmt: skip
    title = (
        words.t("What the next {n} years hold: programmes side by side", n=years) if many
        else words.t("What the next {n} years hold", n=years)
    )  # fmt: skip
    return _Sheet(
        language=words.language,
        paper="us-letter" if words.units == "us" else "a4",
        title=title,
        date=dated(words, day),
        answer=compared(done, words, discount=discount) if many else told[0].sentences[:1],
        done_head=words.t("What is done"),
        told=tuple(told),
        ahead_head=words.t("What it leads to"),
        figures=_figures(done, words, discount),
        care_head=words.t("Before anything is sprayed, pulled or cut"),
        care=_care(words),
        stands_head=words.t("What this stands on"),
        stands=_stands(done, words),
        sources_head=words.t("Sources of the numbers"),
        sources=tuple(_citations(done, flora)),
        page=words.t("Page {n} of {all}", n="{n}", all="{all}"),
    )


def _figures(done: Sequence[Projection], words: Words, discount: float) -> tuple[Figure, ...]:
    per = words.t("seeds per square foot") if words.units == "us" else words.t("seeds per square metre")
    found = [
        Figure(words.t("Seed in the ground"),
               words.t("In {unit}, every line ten times the one below; at the lowest there is next to none. The band "
                       "holds 90 of 100 futures, the heavy line is their middle, the dashed line the start.", unit=per),
               seed_plate(done, words), seed_plate(done, words, NARROW)),
    ]  # fmt: skip
    if any(p.tracks.escapes for p in done):
        found.append(Figure(
            words.t("Sites of action"),
            words.t("Of the plants coming up, those that each group would miss: the middle of all futures. Where the "
                    "dashed line is crossed a group has failed. Groups are WSSA numbers."),
            sites_plate(done, words), sites_plate(done, words, NARROW)))  # fmt: skip
    money, slim = (money_plate(done, words, discount, wide) for wide in (WIDE, NARROW))
    if money is not None and slim is not None:
        priced = any(p.tracks.lost is not None for p in done)
        what = words.t("work and lost crop") if priced else words.t("work alone: lost crop is not priced")
        land = words.t("acre") if words.units == "us" else words.t("hectare")
        found.append(Figure(
            words.t("Money against seed"),
            words.t("Across: money per {land} over all years ({what}). Up: seed left against the start. Thin lines "
                    "hold 90 of 100 futures.", land=land, what=what), money, slim))  # fmt: skip
    return tuple(found)


def _care(words: Words) -> tuple[str, ...]:
    return (
        words.t("The label is the law. What may be sprayed in this crop, on plants of which height, when and how "
                "often is for the label, the state and a licensed applicator to say; nothing here allows it."),
        words.t("Nobody goes in before the label's re-entry time has passed. Who pulls needs water, shade and "
                "gloves, and stops in great heat."),
        words.t("Machines are stopped, and cannot start, before anybody reaches into them."),
    )  # fmt: skip


def _stands(done: Sequence[Projection], words: Words) -> tuple[str, ...]:
    return (
        words.t("Each programme was played through {n} times, each time with other seasons and with every value drawn "
                "anew from what is published or told; all programmes met the same seasons. What differs between them "
                "is surer than the level of any one.", n=words.number(done[0].replicates)),
        words.t("Many values are judgement and are drawn widely. There is no weather and no patch in it: it is a way "
                "of comparing, not a forecast of one field."),
    )  # fmt: skip


def _citations(done: Sequence[Projection], flora: Flora) -> list[str]:
    keys = sorted({key for p in done for key in stands_on(p.programme, flora=flora)})
    return [flora.sources[key].citation if key in flora.sources else key for key in keys]


def _pdf(sheet: _Sheet, day: date) -> bytes:
    given: Mapping[str, Any] = asdict(sheet) | {
        "colours": {"ink": INK, "soft": SOFT, "rule": RULE, "accent": MADDER},
        # On paper a line each is enough to find them; the page has them whole.
        "sources": [clip(text, _SOURCE_SIGNS) for text in sheet.sources],
    }
    inputs = {"data": json.dumps(given, ensure_ascii=False, separators=(",", ":"))}
    return set_pdf(files(_TEMPLATES).joinpath("outlook.typ").read_bytes(), inputs, day)


def _html(sheet: _Sheet) -> str:
    from html import escape

    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    def inline(plate: Plate) -> Markup:
        # Our own drawing, whose texts its writer has escaped.
        start = plate.svg.index(">")
        return Markup(f'{plate.svg[:start]} role="img" aria-label="{escape(plate.alt)}"{plate.svg[start:]}')

    engine = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = engine.from_string(files(_TEMPLATES).joinpath("outlook.html.j2").read_text(encoding="utf-8"))
    return template.render(s=sheet, inline=inline, fonts=embedded(), ink=INK, soft=SOFT, paper=PAPER, rule=RULE,
                           wash=WASH, night=NIGHT)  # fmt: skip

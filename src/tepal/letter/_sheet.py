"""A `LetterData` in one language: every line of the letter, ready to be set by any of its three forms."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass

from tepal.letter._data import Closing, LetterData, Task
from tepal.letter._runs import Line, Run, capital, clip, dated, line, sentences, with_names
from tepal.letter._when import OF_THE_CROP, by_when, event, is_soon
from tepal.letter._who import how_many, title, who
from tepal.words import Words

_MOST_LINES = 5
_LEADS = 120


@dataclass(frozen=True, slots=True)
class Step:
    """One numbered thing to do."""

    by: str
    lead: str
    text: Line
    why: Line
    first: bool
    soon: bool


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with lines below it."""

    head: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A small table: its caption, the heads of its columns, its rows."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as base64 of a JPEG, its heading, and in words what it shows."""

    head: str
    jpeg: str
    says: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """All words of one letter."""

    language: str
    paper: str
    title: str
    office: str
    date: str
    to: str
    place: tuple[str, ...]
    greeting: str
    opening: tuple[Line, ...]
    parts: tuple[Section, ...]
    todo_head: str
    todo: tuple[Step, ...]
    dont_head: str
    dont: tuple[Step, ...]
    dont_more: Section
    care_note: str
    care: Section
    decides: Section
    visit: Section
    answer_for: str
    signed: bool
    signer: str
    role: str
    why_head: str
    why_not_head: str
    sources_more: str
    names: tuple[str, ...]
    botanical: str
    behind_head: str
    leaf: Picture | None
    grids: tuple[Grid, ...]
    behind: tuple[Section, ...]
    sources_head: str
    sources: tuple[str, ...]
    record: str
    page: str


def sheet(data: LetterData, words: Words) -> Sheet:
    """Every line of the letter."""
    names = [p.scientific for p in data.plants]

    def marked(*parts: str | Run) -> Line:
        return with_names(line(*parts), names)

    opening = (who(data, words), how_many(data, words), by_when(data, words))
    return Sheet(
        language=words.language,
        paper="us-letter" if words.units == "us" else "a4",
        title=title(data, words),
        office=data.office or (data.place[0] if data.place else ""),
        date=dated(words, data.as_of),
        to=data.to,
        place=_place(data, words),
        greeting=data.greeting,
        opening=tuple(with_names(p, names) for p in opening if p),
        parts=tuple(
            Section(part.head(words), tuple(marked(capital(said(words))) for said in part.lines)) for part in data.parts
        ),
        todo_head=words.t("What to do, first things first"),
        todo=tuple(_step(task, data, words, names, first=i == 0) for i, task in enumerate(data.tasks)),
        dont_head=words.t("What not to do"),
        dont=tuple(_step(task, data, words, names, first=False) for task in data.do_nots[:_MOST_LINES]),
        dont_more=Section(
            words.t("What else not to do"),
            tuple(marked(capital(task.text(words))) for task in data.do_nots[_MOST_LINES:]),
        ),
        care_note=words.t("Before anyone starts, read “Take care” on the next page."),
        care=Section(
            words.t("Take care"),
            # All of them: whoever reads one step of a letter must find beside it what can hurt.
            tuple(marked(text) for text in dict.fromkeys(said(words) for said in data.cautions)),
        ),
        decides=Section(
            words.t("Who decides"),
            (
                line(
                    words.t("The label is the law."),
                    words.t("Local rules and a licensed applicator decide what may be sprayed here, and when."),
                    words.t("This letter gives advice only."),
                ),
            ),
        ),
        visit=_visit(data, words),
        answer_for=words.t("The person who signs answers for this letter."),
        signed=bool(data.signer.name),
        signer=data.signer.name or words.t("Name"),
        role=data.signer.role or words.t("Role"),
        why_head=words.t("Why each step"),
        why_not_head=words.t("Why not"),
        sources_more=words.t("All sources are named in the record."),
        botanical=words.t("Botanical name"),
        names=tuple(name for name in names if name),
        behind_head=words.t("What stands behind this letter"),
        leaf=None
        if data.leaf is None
        else Picture(
            words.t("A leaf from here, measured"), b64encode(data.leaf.jpeg).decode("ascii"), data.leaf.says(words)
        ),
        grids=tuple(grid for grid in (_names(data, words), _days(data, words)) if grid.rows),
        behind=tuple(section for section in _behind(data, words, names) if section.lines),
        sources_head=words.t("Sources"),
        sources=data.record.sources,
        record=words.t(
            "Reckoned from what was on record for {date}, up to entry {known_to}. Tables {tables}. Tepal {version}.",
            date=dated(words, data.as_of), known_to=data.record.known_to, tables=data.record.tables[:8],
            version=data.record.version,
        ),
        page=words.t("Page {n} of {all}"),
    )  # fmt: skip


def by_words(task: Task, data: LetterData, words: Words) -> str:
    """The day of a task as it stands before its text."""
    if task.by is None:
        return ""
    if task.by <= data.as_of:
        return words.t("At once:")
    return words.t("By {day}:", day=words.day(task.by))


def _step(task: Task, data: LetterData, words: Words, names: list[str], *, first: bool) -> Step:
    soon = is_soon(task.by, data.as_of) or (task.by is not None and task.by < data.as_of)
    told = capital(task.text(words))
    # A long text is led by its first sentence; a short one leads as a whole.
    lead = told if len(told) <= _LEADS else sentences(told)[0]
    barred = task.not_before(words) if task.not_before else ""
    text = with_names(line(told[len(lead) :].strip(), Run(barred, "strong") if barred else ""), names)
    why = with_names(line(task.why(words) if task.why else ""), names)
    return Step(by_words(task, data, words), lead, text, why, first, soon)


def _place(data: LetterData, words: Words) -> tuple[str, ...]:
    area = words.area(data.hectares * 1e4) if data.hectares else ""
    first = f"{clip(data.site, 60)}, {area}" if area else clip(data.site, 60)
    return (first, *(clip(text, 80) for text in (data.place if data.office else data.place[1:]) if text))


def _visit(data: LetterData, words: Words) -> Section:
    if data.visit.on is None and data.visit.what is None:
        return Section(words.t("If you see more of them"), (line(words.t("Tell this office at once.")),))
    more = words.t("If you see more of these plants, tell this office at once.")
    what = capital(data.visit.what(words)) if data.visit.what else ""
    if data.visit.on is None:
        again = ""
    elif data.visit.on > data.as_of:
        again = words.t("Someone should look here again by {day}.", day=words.day(data.visit.on))
    else:
        again = words.t("Someone should look here again at once.")
    # The advice knows by when someone should look, not who has the time: that is for the two of them to settle.
    return Section(words.t("Looking again"), (line(again, what or words.t("Settle with this office who does."), more),))


def _names(data: LetterData, words: Words) -> Grid:
    rows = []
    # Where none was seen there is no plant to name, and how likely hidden ones are is not the table's to say.
    if data.looks.seen in ("none", "nobody") or not data.plants or not data.names_shown:
        return Grid("", (), ())
    for p in sorted(data.plants, key=lambda p: (-p.p_any, p.code))[:6]:
        chance = words.t("proved") if p.proved else _in_hundred(p.p_any, words)
        rows.append((capital(words.t(p.english)), p.scientific, chance, _in_hundred(p.share, words)))
    # Two chances of unlike kinds stand side by side: the first do not add up to 100, the second do.
    chance = words.t("Chance it was looked at") if data.looks.plants else words.t("Chance of one here")
    heads = (words.t("Plant"), words.t("Botanical name"), chance, words.t("Expected share of all"))
    return Grid(words.t("Which plant"), heads, tuple(rows))


def _in_hundred(p: float, words: Words) -> str:
    if p <= 0.005:
        return words.t("under 1 in 100")
    if p >= 0.995:
        return words.t("over 99 in 100")
    return words.t("{n} in 100", n=round(100 * p))


def _days(data: LetterData, words: Words) -> Grid:
    never = words.t("may not come")

    def row(c: object) -> str:
        return never if c is None else words.day_month(c)  # type: ignore[arg-type]

    # Where two plants have their dates here, each row says whose it is.
    several = len({c.english for c in data.closings}) > 1 or any(c.supposed for c in data.closings)

    def what(c: Closing) -> str:
        if c.name in OF_THE_CROP:
            return event(c, words)
        plant = capital(words.t(c.english) if c.english else words.t("pigweeds"))
        if c.supposed:
            plant = words.t("If it is {plant}", plant=words.t(c.english))
        return words.t("{plant}: {event}", plant=plant, event=event(c, words)) if several else event(c, words)

    def days(c: Closing) -> tuple[str, str, str]:
        # A usual day of the crop is no forecast: it has no early and no late one.
        if c.name in OF_THE_CROP:
            return "", words.t("about {day}", day=row(c.q50)), ""
        return row(c.q10), row(c.q50), row(c.q90)

    rows = tuple(
        (what(c), *days(c))
        for c in sorted(
            (c for c in data.closings if c.q10 or c.q50), key=lambda c: (c.q10 or c.q50 or data.as_of.max, c.name)
        )
    )
    heads = (words.t("What happens"), words.t("Early"), words.t("Middle"), words.t("Late"))
    return Grid(
        words.t("What happens when (1 chance in 10 before the early day, 1 in 10 after the late day)"), heads, rows
    )


def _behind(data: LetterData, words: Words, names: list[str]) -> tuple[Section, ...]:
    done = tuple(
        line(Run(words.day_month(d.on) + ":", "strong"), d.text(words))
        for d in sorted(data.done, key=lambda d: d.on)[-_MOST_LINES:]
    )
    unknown = tuple(line(capital(said(words))) for said in data.unknowns[:_MOST_LINES])
    fails = tuple(
        line(Run(f"{i}.", "strong"), capital(task.fails(words)))
        for i, task in enumerate(data.tasks, 1)
        if task.fails is not None and task.fails(words)
    )
    return (
        Section(words.t("What was done here"), done),
        Section(words.t("What we do not know"), unknown),
        Section(words.t("What makes a step fail"), tuple(with_names(f, names) for f in fails)),
    )

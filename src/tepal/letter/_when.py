"""The windows that close, as sentences; those within seven days stand in the accent."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from tepal.letter._data import Closing, LetterData
from tepal.letter._runs import Line, Run, line
from tepal.reading import frost
from tepal.words import Words

SOON = timedelta(days=7)
_MOST = 2
# An early date lets a window be named that most futures never reach; below this it is not worth a sentence.
_HAPPENED = 0.5
_MAYBE = 0.05
_SURELY = 0.9
# The crop's usual days, one date each.
OF_THE_CROP = ("crop_stage", "cross_rows", "harvest")
# New seedlings are no window that closes.
_OPENS = "next_flush"


def is_soon(day: date | None, as_of: date) -> bool:
    """Whether a day lies within the seven days after the letter's date, that day and the seventh included."""
    return day is not None and as_of <= day <= as_of + SOON


def by_when(data: LetterData, words: Words) -> Line:
    """The paragraph on what closes when: at most two windows, the next first."""
    if data.season_over:
        return line(frost(words)) if data.looks.seen not in ("none", "nobody") else line()
    # Without plants there is nothing that could grow too tall; only what comes up next matters.
    wanted = ("next_flush",) if data.looks.seen in ("none", "nobody") else tuple(_AHEAD)
    # Of two taxa the likelier one leads; the table on the second page has both.
    first = data.closings[0].english if data.closings else ""
    open_ = [
        c for c in data.closings if c.english == first and c.name in wanted and (c.q10 is not None or c.past >= _MAYBE)
    ]
    # Where seed can grow already, that flowers are open is no news.
    if any(c.name == "viable_seed" and c.past >= _HAPPENED for c in open_):
        open_ = [c for c in open_ if c.name != "flowers"]
    ordered = sorted(open_, key=lambda c: (c.act_by or c.q10 or data.as_of, c.name))
    parts: list[str | Run] = []
    if ordered and ordered[0].supposed:
        parts.append(
            words.t("No plant has a name yet; what follows holds if it is {plant}.", plant=words.t(ordered[0].english))
        )
    for closing in ordered[:_MOST]:
        parts += sentences(closing, data.as_of, words, organic=data.organic)
    return line(*parts)


def sentences(closing: Closing, as_of: date, words: Words, *, organic: bool = False) -> list[str | Run]:
    """One window: what is over, or by when it may be, and the day to act by.

    On `organic` ground nobody sprays, and the height at which that stops being of use is a height like any other.
    """
    name = f"organic_{closing.name}" if organic and closing.name == "height_10_cm" else closing.name
    if closing.past >= _HAPPENED:
        told = _PAST[name](words)
        if closing.past >= _SURELY:
            return [Run(told, "strong")]
        return [words.t("Likely, {chance}: {what}", chance=words.chance(closing.past), what=told[0].lower() + told[1:])]
    if closing.q10 is None:
        return []
    parts = []
    early = max(closing.q10, as_of)
    told = _AHEAD[name](words, words.day(early))
    parts.append(Run(told, "accent") if is_soon(early, as_of) and closing.name != _OPENS else told)
    if closing.q50 is not None and closing.q50 > early:
        parts.append(
            words.t(
                "In half of the seasons like this one that has happened by {day}.", day=words.day_month(closing.q50)
            )
        )
    if closing.past >= _MAYBE:
        parts.append(words.t("It may have happened already: {chance}.", chance=words.chance(closing.past)))
    if closing.act_by is not None and closing.act_by >= as_of and closing.act_by != early:
        told = words.t("So act by {day}.", day=words.day(closing.act_by))
        parts.append(Run(told, "accent" if is_soon(closing.act_by, as_of) else "strong"))
    return parts


def event(closing: Closing, words: Words) -> str:
    """The window's name in a table."""
    return {
        "height_10_cm": words.t("Plants pass {height}", height=words.length(0.1)),
        "flowers": words.t("First flowers"),
        "viable_seed": words.t("First live seed"),
        "next_flush": words.t("Next seedlings"),
        "regrowth": words.t("Cut plants flower again"),
        "cultivate": words.t("Last cultivation"),
        "crop_stage": words.t("Most labels end sprays over the crop"),
        "cross_rows": words.t("Rows can be crossed until"),
        "harvest": words.t("Crop ripe"),
        "emerges_10": words.t("One seedling in ten is up"),
        "emerges_50": words.t("Half of the seedlings are up"),
        "emerges_90": words.t("Nine seedlings in ten are up"),
    }.get(closing.name, closing.name.replace("_", " "))


def _height_ahead(words: Words, day: str) -> str:
    return words.t(
        "The tallest plants may pass {height} as early as {day}. Above that, do not count on spraying.",
        height=words.length(0.1), day=day,
    )  # fmt: skip


_AHEAD: dict[str, Callable[[Words, str], str]] = {
    "height_10_cm": _height_ahead,
    "organic_height_10_cm": lambda words, day: words.t(
        "The tallest plants may pass {height} as early as {day}.", height=words.length(0.1), day=day
    ),
    "flowers": lambda words, day: words.t("The first flowers may open as early as {day}.", day=day),
    "viable_seed": lambda words, day: words.t("Live seed may be there as early as {day}.", day=day),
    "next_flush": lambda words, day: words.t("The next seedlings may come up as early as {day}.", day=day),
    "regrowth": lambda words, day: words.t("Plants that were cut may flower again as early as {day}.", day=day),
    "cultivate": lambda words, day: words.t(
        "They, or the crop, may be too tall for a cultivator as early as {day}.", day=day
    ),
}
_PAST: dict[str, Callable[[Words], str]] = {
    "height_10_cm": lambda words: words.t(
        "The tallest plants have passed {height}: too tall to count on spraying.", height=words.length(0.1)
    ),
    "organic_height_10_cm": lambda words: words.t("The tallest plants have passed {height}.", height=words.length(0.1)),
    "flowers": lambda words: words.t("The earliest plants are in flower."),
    "viable_seed": lambda words: words.t("Some plants carry live seed by now. Handle every seed head as if it did."),
    "next_flush": lambda words: words.t("New seedlings are coming up by now."),
    "regrowth": lambda words: words.t("Plants that were cut are flowering again by now."),
    "cultivate": lambda words: words.t("They, or the crop, are too tall for a cultivator."),
}

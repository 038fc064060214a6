"""The clock's answer in sentences: what stands there now, what closes when, and what had to be assumed."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tepal.clock import Event, Forecast, Regrowth, Window
    from tepal.flora import CropRow
    from tepal.words import Words


# Nobody cultivates or sprays what frost has killed.
_OF_LIVING_PLANTS = ("cultivate", "spray", "next_flush")


def sentences(
    found: Forecast, closing: Sequence[Window], words: Words, *, name: str, crop: CropRow | None = None
) -> list[str]:
    """The whole answer but the cut plants', in the order in which a person would ask."""
    said = words.t("{name}, as of {day}.", name=name[0].upper() + name[1:], day=words.day(found.as_of, year=True))
    lines = [said]
    if found.agreement < 1:
        lines.append(
            words.t(
                "What was seen is hardly possible for its date by the published figures. It was believed all the same: "
                "check the day, the height and the plant."
            )
        )
    lines += _now(found, words)
    if found.event("killing_frost").share_past(found.as_of) > 0.5:
        closing = [window for window in closing if window.name not in _OF_LIVING_PLANTS]
    for window in closing:
        if window.name == "pull":
            lines.append(_when(words.t("A tenth of the plants are in flower"), found.event("flowers"), found, words))
        if _worth_a_line(window, found):
            lines.append(_window(window, found, words, crop))
    return [*lines, *_filled(found, words), *(note.text(words) for note in found.notes)]


def cut_plants(found: Forecast, again: Regrowth, words: Words, *, on: date, height_cm: float) -> list[str]:
    """What plants cut on a day do."""
    ten = round(10 * float(np.median(again.survives)))
    low, high = (round(10 * float(q)) for q in np.quantile(again.survives, (0.1, 0.9)))
    lines = [
        words.t(
            "Plants cut at {height} on {day}: of ten, about {count} live; it may be {low} or {high}.",
            height=words.length(height_cm / 100), day=words.day_month(on), count=ten, low=low, high=high,
        )
    ]  # fmt: skip
    for what, days in (
        (words.t("They flower again"), again.flowers),
        (words.t("They carry seed that can grow"), again.viable_seed),
    ):
        lines.append(_when(what, _event(days, again.start), found, words))
    if again.return_by is not None:
        lines.append(words.t("Be back at them by {day}.", day=words.day(again.return_by)))
    return lines


def _event(days: np.ndarray, start: date) -> Event:
    from tepal.clock import Event

    return Event("", days, start)


def _now(found: Forecast, words: Words) -> list[str]:
    up = float(np.median(found.share_up(found.as_of)))
    lines = [_still_to_come(up, words)]
    low, tall, high = np.quantile(found.height_on(found.as_of), (0.1, 0.5, 0.9)) / 100
    frozen = found.event("killing_frost").share_past(found.as_of)
    if frozen > 0.5:
        lines.append(words.t("Frost has killed them, {chance}.", chance=words.chance(frozen)))
    if up <= 0.01 or tall <= 0:
        return lines
    lines.append(
        words.t(
            "The tallest stand about {tall}; four times in five between {low} and {high}.",
            tall=words.length(tall), low=words.length(low), high=words.length(high),
        )
    )  # fmt: skip
    past = [
        _of_ten(float(np.median(found.share_reached(event, found.as_of))), what, words)
        for event, what in (
            ("height_10_cm", words.t("over {height}", height=words.length(0.1))),
            ("flowers", words.t("in flower")),
            ("viable_seed", words.t("with seed that can grow")),
        )
    ]
    lines.append(words.t("Of ten plants up, {shares}.", shares=words.listing(past)))
    return lines


def _of_ten(share: float, what: str, words: Words) -> str:
    ten = round(10 * share)
    if ten == 0:
        return words.t("none is {what}", what=what) if share < 0.005 else words.t("hardly any is {what}", what=what)
    return words.plural("about {n} is {what}", "about {n} are {what}", ten, n=ten, what=what)


def _still_to_come(up: float, words: Words) -> str:
    ten = round(10 * (1 - up))
    if ten == 10:
        return words.t("Hardly any of this season's seedlings are up yet.")
    if ten == 0:
        return words.t("Nearly all of this season's seedlings are up.")
    numbers = (
        words.t("one"), words.t("two"), words.t("three"), words.t("four"), words.t("five"), words.t("six"),
        words.t("seven"), words.t("eight"), words.t("nine"),
    )  # fmt: skip
    return words.plural(
        "Of ten seedlings, {n} is still to come.", "Of ten seedlings, {n} are still to come.", ten, n=numbers[ten - 1]
    )


def _worth_a_line(window: Window, found: Forecast) -> bool:
    if window.name == "cut_again":
        return False
    if window.name in ("crop_stage", "cross_rows", "harvest"):
        day = window.day.quantile(0.5)
        return day is not None and day >= found.as_of
    return window.name != "next_flush" or float(np.median(found.share_up(found.as_of))) < 0.9


def _window(window: Window, found: Forecast, words: Words, crop: CropRow | None) -> str:
    day = window.day.quantile(0.5)
    if window.name == "cross_rows" and day is not None and crop is not None:
        return words.t(
            "The {crop} can be crossed on foot until about {day} ({stage}).", crop=words.t(crop.crop),
            day=words.day_month(day), stage=words.t(crop.cross_stage),
        )  # fmt: skip
    if window.name == "crop_stage" and day is not None and crop is not None:
        return words.t(
            "Most labels end sprays over the {crop} about {day} ({stage}); the label in hand governs.",
            crop=words.t(crop.crop), day=words.day_month(day), stage=words.t(crop.spray_stage),
        )  # fmt: skip
    if window.name == "harvest" and day is not None and crop is not None:
        return words.t("The {crop} is ripe about {day}.", crop=words.t(crop.crop), day=words.day_month(day))
    early = window.day.quantile(0.1)
    begun = early is not None and early <= found.as_of
    past = day is not None and day <= found.as_of
    if window.name == "cultivate":
        tall = words.length(0.08)
        if crop is None or crop.cultivate_days is None:
            until = words.t("The tallest outgrow a cultivator ({height})", height=tall)
        else:
            until = words.t(
                "The tallest, or the {crop}, outgrow a cultivator (weeds at {height})",
                crop=words.t(crop.crop),
                height=tall,
            )
        if past:
            then = words.t("A cultivator no longer gets them all.")
        elif begun:
            then = words.t("Cultivate now, on dry ground.")
        else:
            then = words.t("Cultivate before the first of these dates, on dry ground.")
    elif window.name == "spray":
        until = words.t("The tallest outgrow any spraying ({height})", height=words.length(0.1))
        then = words.t("Spray none taller; the label governs.")
    elif window.name == "pull":
        until = words.t("A tenth of the plants carry seed that can grow")
        soon = words.t("Pull before the first of these dates.")
        then = words.t("Bag what is pulled: it may carry seed.") if begun else soon
    else:
        until, then = words.t("The next seedlings worth a walk are up"), ""
    return f"{_when(until, window.day, found, words)} {then}".rstrip()


def _when(what: str, event: Event, found: Forecast, words: Words) -> str:
    early, middle, late = (event.quantile(p) for p in (0.1, 0.5, 0.9))
    if early is None:
        return words.t("{what}: not this year, nine chances in ten.", what=what)
    if late is not None and late <= found.as_of:
        return words.t("{what}: that was {span}.", what=what, span=words.days_between(early, late))
    if middle is None:
        return words.t(
            "{what}: more likely not this year, but it may be as early as {day}.", what=what, day=words.day(early)
        )
    until = words.day_month(late) if late is not None else words.t("not at all this year")
    if middle <= found.as_of:
        return words.t(
            "{what}: probably since {day}; it may be {early} or {until}.", what=what, day=words.day_month(middle),
            early=words.day_month(early), until=until,
        )  # fmt: skip
    return words.t(
        "{what} near {day}; it may be {early} or {until}.", what=what, day=words.day(middle),
        early=words.day_month(early), until=until,
    )  # fmt: skip


def _filled(found: Forecast, words: Words) -> list[str]:
    """Missing days: those of this season by name, those of past years counted."""
    now = [day for day in found.filled if day.year == found.start.year]
    past = len(found.filled) - len(now)
    lines = []
    if now:
        days = [words.day_month(day) for day in now[:5]]
        if len(now) > 5:
            days.append(words.t("{count} more", count=len(now) - 5))
        lines.append(words.t("Missing days filled from their neighbors: {days}.", days=words.listing(days)))
    if past:
        lines.append(
            words.plural(
                "{n} missing day of past years was filled in the same way.",
                "{n} missing days of past years were filled in the same way.", past, n=past,
            )
        )  # fmt: skip
    return lines

"""What closes when, in plain sentences."""

from __future__ import annotations

from datetime import date

from tepal.reading._records import Reading, Window
from tepal.reading._sentences import called, capital, looked_at
from tepal.words import Words

# The crop's usual days, which no weed closes.
_OF_THE_CROP = ("crop_stage", "cross_rows", "harvest")
# From this chance on that it has happened nobody is told of an early date any more.
_SURELY = 0.9


def frost(words: Words) -> str:
    """What to know once frost has ended the season."""
    return words.t("By now frost has more likely than not killed this year's plants. It does not kill their seed.")


def window(item: Window, reading: Reading, words: Words) -> str:
    """One window as a sentence; past ones say so, windows that never close this season too."""
    if item.name in _OF_THE_CROP and item.q50 is not None:
        return _of_the_crop(item.name, item.q50, reading, words)
    # One of several that nobody can tell apart has no dates of its own.
    own = item.taxon in reading.taxa and item.taxon not in reading.alike
    supposed = own and not looked_at(item.taxon, reading)
    taxon = called(reading.taxa[item.taxon], words) if own and not supposed else words.t("pigweed")
    event = {
        "height_10_cm": words.t("the tallest {taxon} plants pass {height}", taxon=taxon, height=words.length(0.1)),
        "flowers": words.t("a tenth of the {taxon} plants are in flower", taxon=taxon),
        "viable_seed": words.t("a tenth of the {taxon} plants have seed that can grow", taxon=taxon),
        "next_flush": words.t("the next {taxon} seedlings come up", taxon=taxon),
        "regrowth": words.t("cut {taxon} plants flower again", taxon=taxon),
        "cultivate": words.t(
            "the tallest {taxon} plants outgrow a cultivator ({height}), or the crop does",
            taxon=taxon,
            height=words.length(0.08),
        ),
        "emerges_90": words.t("nine in ten of this year's {taxon} plants are up", taxon=taxon),
    }.get(item.name, item.name)
    if supposed:
        # No look speaks for it: its dates are those of the kind that is usual in the region.
        event = words.t("if it is {taxon}, {event}", taxon=called(reading.taxa[item.taxon], words), event=event)
    if item.q10 is None and item.closes == "flush" and not supposed and item.share_past < _SURELY:
        return words.t(
            "Nearly all of this year's {taxon} seedlings are up; a few may still come into late summer.", taxon=taxon
        )
    return _dated(capital(event), item, words)


def _of_the_crop(name: str, day: date, reading: Reading, words: Words) -> str:
    """A usual day of the crop: no forecast, so it has one date."""
    crop, on = words.t(str(reading.facts["crop"] or "")), words.day_month(day)
    if name == "harvest":
        return words.t("The {crop} is ripe about {day}.", crop=crop, day=on)
    if name == "crop_stage":
        return words.t("Most labels end sprays over the {crop} about {day}.", crop=crop, day=on)
    return words.t("The {crop} can be crossed on foot until about {day}.", crop=crop, day=on)


def _dated(event: str, item: Window, words: Words) -> str:
    if item.share_past >= _SURELY:
        return words.t("{event}: that has almost surely happened already.", event=event)
    if item.q50 is None and item.q10 is None:
        return words.t("{event}: not this season, as far as can be told.", event=event)
    early = item.q10 or item.q50
    assert early is not None
    if item.share_past >= 0.1:
        return words.t(
            "{event}: that may have happened already ({chance}).",
            event=event,
            chance=words.chance(item.share_past),
        )
    late = item.q90
    if late is None:
        return words.t("{event}: from about {day}, or not at all this season.", event=event, day=words.day_month(early))
    return words.t("{event}: {span}.", event=event, span=words.days_between(early, late))


def shown(reading: Reading) -> tuple[Window, ...]:
    """The windows worth a sentence: where none was seen only when to look again, and none once frost has ended all."""
    if reading.facts["season_over"] is True:
        return ()
    if reading.facts["none_seen"]:
        return tuple(item for item in reading.windows if item.closes == "flush")
    return reading.windows


def closes_next(reading: Reading) -> tuple[Window, date] | None:
    """The window whose early date comes next, with that date: what a dated list of the county would show."""
    coming = [
        (item, item.q10)
        for item in shown(reading)
        if item.q10 is not None
        and item.q10 >= reading.as_of
        and item.share_past < 0.5
        and item.name not in _OF_THE_CROP
    ]
    return min(coming, key=lambda pair: pair[1], default=None)

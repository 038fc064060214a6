"""What a person should know of a programme that its figures do not say."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from tepal.flora import Flora
from tepal.programme import Programme
from tepal.words import Words
from tepal.years._flushes import day_of_year, flushes_of
from tepal.years._kills import GOOD_HEIGHT_CM
from tepal.years._loci import followed
from tepal.years._luck import Luck
from tepal.years._money import unpaid_hours, unpriced
from tepal.years._values import Published, Values


def notes(programme: Programme, *, flora: Flora, words: Words) -> tuple[str, ...]:
    """Sentences on what is not priced, pulled late, sprayed tall or past the years of a rotation."""
    out = []
    for crop in unpriced(programme):
        out.append(words.t("Lost {crop} is not priced: both its price and its yield without weeds must be told.",
                           crop=words.t(crop)))  # fmt: skip
    if unpaid_hours(programme):
        out.append(words.t("Hours of pulling cost nothing here: no wage is told."))
    _, left = followed(programme, Values(Published.of(flora, programme.taxon), programme, Luck(0, 0, 200)))
    if left:
        out.append(words.t("Resistance to group {groups} is left out: six genes at most are followed. Tell of those "
                           "that matter here.", groups=words.listing(left)))  # fmt: skip
    out += _pulled_late(programme, flora, words)
    tall = [
        post.height_cm.high
        for season in programme.season
        for post in season.post
        if post.height_cm is not None and post.height_cm.high > GOOD_HEIGHT_CM
    ]
    if tall:
        out.append(words.t("A spray meets plants of {height}. None taller than {good} is advised; the label may allow "
                           "less.", height=words.length(max(tall) / 100),
                           good=words.length(GOOD_HEIGHT_CM / 100)))  # fmt: skip
    return tuple(out)


def _pulled_late(programme: Programme, flora: Flora, words: Words) -> list[str]:
    """Where a day of pulling lies behind the day by which first seed is ripe in one replicate of ten."""
    values = Values(Published.of(flora, programme.taxon), programme, Luck(0, 0, 200))
    out = []
    for season in programme.season:
        ripe = flushes_of(season, values).middle[:, 0] + values.published("days_to_ripe_seed")
        early = int(np.quantile(ripe, 0.1))
        for pull in season.pull:
            if pull.when not in ("before seed", "after seed") and day_of_year(pull.when) > early:
                on, first = (date(2001, 1, 1) + timedelta(days=n - 1) for n in (day_of_year(pull.when), early))
                out.append(words.t("Plants pulled on {day} are reckoned to bear no seed, as the programme says; seed "
                                   "of the first ones can be ripe from {first} on. Bag them, or write \"after seed\".",
                                   day=words.day_month(on), first=words.day_month(first)))  # fmt: skip
    return list(dict.fromkeys(out))

"""What a projection means, in the three sentences that matter."""

from __future__ import annotations

import numpy as np

from tepal.words import Words
from tepal.years._records import Projection


def sentences(projection: Projection, words: Words) -> tuple[str, ...]:
    """Whether the seedbank holds, which site of action fails first, and what it costs."""
    return (_holds(projection, words), *_fails(projection, words), _costs(projection, words))


def _holds(projection: Projection, words: Words) -> str:
    tracks = projection.tracks
    start, end = float(np.median(tracks.start_m2)), float(np.median(tracks.seedbank_m2[:, -1]))
    chance = words.chance(projection.holds)
    change = end / start if start > 0 else np.inf
    if change < 0.5:
        course = words.t("the seed in the ground falls to about {share} of what it is now",
                         share=words.t("{n} %", n=words.number(100 * change, 1)))  # fmt: skip
    elif change <= 2:
        course = words.t("the seed in the ground stays about as it is")
    else:
        course = words.t("the seed in the ground grows about {n}-fold", n=words.about(change))
    return words.t("{name}: in {years} years {course}; that it holds has {chance}.", name=projection.name,
                   years=projection.years, course=course, chance=chance)  # fmt: skip


def _fails(projection: Projection, words: Words) -> tuple[str, ...]:
    out = []
    first = {group: projection.fails(group) for group in projection.tracks.escapes}
    for group, (early, middle, late) in sorted(first.items(), key=lambda item: item[1][1] or 999):
        if early is None:
            continue
        if early == 1 and middle == 1 and late == 1:
            out.append(words.t("Group {group} no longer controls half of these plants.", group=group))
        elif middle is None:
            out.append(words.t("Group {group} may fail from year {early} on; more likely it lasts beyond year {years}.",
                               group=group, early=early, years=projection.years))  # fmt: skip
        else:
            until = words.t("year {n}", n=late) if late else words.t("beyond year {n}", n=projection.years)
            out.append(words.t("Group {group} fails about year {middle} (year {early} to {until}).",
                               group=group, middle=middle, early=early, until=until))  # fmt: skip
    return tuple(out) or (
        words.t("No site of action that is used here is likely to fail in {years} years.", years=projection.years),
    )


def _costs(projection: Projection, words: Words) -> str:
    spent = np.quantile(projection.tracks.cost.mean(axis=1), 0.5)
    low, middle, high = np.quantile(projection.tracks.yield_loss[:, -1], (0.05, 0.5, 0.95))
    return words.t(
        "It costs about {spent} a hectare and year; of the last year's crop {middle} % is lost ({low} to {high} %).",
        spent=words.about(spent), middle=words.number(100 * middle, 0), low=words.number(100 * low, 0),
        high=words.number(100 * high, 0),
    )  # fmt: skip

"""What a projection means: the three sentences that matter, what sets two programmes apart, what is least known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from tepal.words import Words, message
from tepal.years._amounts_told import land_unit, money, yields
from tepal.years._matters import SEASONS, Matter
from tepal.years._records import Projection

# What each value is called where people read of it. A value that is missing here is told by its own name.
_CALLED = {
    SEASONS: message("how the seasons turn out, and chance"),
    "seeds_alone": message("how many seeds a plant bears"),
    "seed_eaten": message("how much new seed is eaten"),
    "crowding_area": message("how plants crowd each other"),
    "seed_survives_year": message("how long seed lives in the ground"),
    "seed_emerges": message("how much of the seed comes up"),
    "seedbank": message("how much seed is in the ground now"),
    "counted": message("how many plants there are now"),
    "deep share": message("how much seed lies deep"),
    "emergence_middle_day": message("when plants come up"),
    "emergence_width_days": message("over how many weeks plants come up"),
    "seed_kept_out": message("how much seed the harvest keeps out"),
    "seed_brought": message("how much seed the machine brings"),
    "days_to_10_cm": message("how fast plants grow"),
    "days_to_ripe_seed": message("when seed is ripe"),
    "resisted_kills": message("how many resistant plants a spray still kills"),
    "post_kills": message("how well sprays over plants kill"),
    "residual_kills": message("how well residuals kill"),
    "residual_lasts_days": message("how long residuals last"),
    "seedlings_live": message("how many seedlings live"),
    "seedlings_live_fall": message("how many late seedlings live"),
    "size_halving_days": message("how small late plants stay"),
    "year_to_year": message("how much years differ"),
    "first_allele_share": message("how common resistance is now"),
    "resistance_dominance": message("what one copy of a resistant gene is worth"),
    "resistance_cost": message("what resistance costs the plants"),
    "pull": message("how many plants the crew finds"),
    "cut_survives": message("how many cut plants live"),
    "regrowth_seed": message("how much seed cut plants bear"),
    "cultivation_kills": message("how many plants cultivation kills"),
    "cover_stops": message("how much a cover crop stops"),
    "pollen_from_outside": message("how much pollen comes from outside"),
    "crop_up_days": message("when the crop comes up"),
    "post_height": message("how tall plants are when they are sprayed"),
}
_WORTH_TELLING = 0.01


def sentences(
    projection: Projection, words: Words, *, discount: float = 0.0, named: bool = True
) -> tuple[str, str, str]:
    """Whether the seedbank holds, which site of action fails first, and what it costs; `named` as it is called."""
    holds = _holds(projection, words)
    if named:
        holds = words.t("{name}: {sentence}", name=projection.name, sentence=holds[:1].lower() + holds[1:])
    return (holds, _fails(projection, words), _costs(projection, words, discount))


def _holds(projection: Projection, words: Words) -> str:
    start = float(np.median(projection.tracks.start_m2))
    end = float(np.median(projection.tracks.seedbank_m2[:, -1]))
    chance = words.chance(projection.holds)
    change = end / start if start > 0 else np.inf
    if end == 0:
        course = words.t("no seed is left in the ground")
    elif change < 0.5:
        course = words.t("the seed in the ground falls to about {share} of what it is now",
                         share=_percent(change, words))  # fmt: skip
    elif change <= 2:
        course = words.t("the seed in the ground stays about as it is")
    elif np.isfinite(change):
        course = words.t("the seed in the ground grows about {n}-fold", n=words.about(change))
    else:
        course = words.t("seed comes into the ground")
    return words.t("In {years} years {course}. That it ends no higher than now has {chance}.", years=projection.years,
                   course=course, chance=chance)  # fmt: skip


def _fails(projection: Projection, words: Words) -> str:
    gone, out = [], []
    first = {group: projection.fails(group) for group in projection.tracks.escapes}
    for group, (early, middle, late) in sorted(first.items(), key=lambda item: item[1][1] or 999):
        if early is None:
            continue
        if middle == 1 and late == 1:
            gone.append(group)
        elif middle is None:
            out.append(words.t("Group {group} may fail from year {early} on; more likely it lasts beyond year {years}.",
                               group=group, early=early, years=projection.years))  # fmt: skip
        else:
            until = words.t("year {n}", n=late) if late else words.t("beyond year {n}", n=projection.years)
            out.append(words.t("Group {group} fails about year {middle} (year {early} to {until}).",
                               group=group, middle=middle, early=early, until=until))  # fmt: skip
    if gone:
        listed = words.listing(gone, last="or")
        out.insert(0, words.t("Group {groups} already misses half of these plants or more.", groups=listed))
    if not out:
        return words.t("No site of action is likely to fail in {years} years.", years=projection.years)
    return " ".join(out)


def _costs(projection: Projection, words: Words, discount: float) -> str:
    tracks = projection.tracks
    currency = projection.programme.money.currency
    work = float(np.median(tracks.cost.mean(axis=1)))
    cost = words.t("The work costs about {money} {land} each year.", money=money(work, currency, words),
                   land=land_unit(words)) if work else words.t("No costs of the work are told.")  # fmt: skip
    low, middle, high = np.quantile(tracks.yield_loss[:, -1], (0.05, 0.5, 0.95))
    ends = [_percent(float(share), words) for share in (low, high)]
    loss = (
        words.t("Of the last year's crop {middle} is lost ({low} to {high}).", middle=_percent(middle, words),
                low=ends[0], high=ends[1])
        if ends[0] != ends[1] else words.t("Of the last year's crop {middle} is lost.", middle=ends[0])
    )  # fmt: skip
    parts = [cost, loss]
    crop = projection.programme.season_of(projection.years).crop
    if tracks.yield_t_ha is not None and not np.isnan(tracks.yield_t_ha[:, -1]).any():
        parts[1] += " " + words.t("That leaves {yields}.",
                                  yields=yields(float(np.median(tracks.yield_t_ha[:, -1])), crop, words))  # fmt: skip
    if tracks.lost is not None:
        low, middle, high = np.quantile(projection.spent(discount), (0.05, 0.5, 0.95))
        told = {
            "middle": money(float(middle), currency, words), "low": money(float(low), currency, words),
            "high": money(float(high), currency, words), "land": land_unit(words), "years": projection.years,
        }  # fmt: skip
        if discount:
            told["rate"] = _percent(discount, words)
            parts.append(words.t("Work and lost crop of {years} years together: {middle} {land} ({low} to {high}), "
                                 "each later year counted {rate} less.", **told))  # fmt: skip
        else:
            parts.append(words.t("Work and lost crop of {years} years together: {middle} {land} ({low} to {high}).",
                                 **told))  # fmt: skip
    return " ".join(parts)


def _percent(share: float, words: Words) -> str:
    percent = 100 * share
    if 0 < percent < 0.1:
        return words.t("under {n} %", n="0.1")
    return words.t("{n} %", n=words.number(percent, 0) if percent >= 10 else words.about(round(percent, 1)))


def compared(projections: Sequence[Projection], words: Words, *, discount: float = 0.0) -> tuple[str, ...]:
    """Each programme beside the first, with the same luck: in how many futures it leaves less seed, and its price."""
    first, *others = projections
    return tuple(_beside(first, other, words, discount) for other in others)


def _beside(first: Projection, other: Projection, words: Words, discount: float) -> str:
    less = _share_below(other.tracks.seedbank_m2[:, -1], first.tracks.seedbank_m2[:, -1])
    apart = words.t("Beside “{first}”, with the same luck, “{other}” leaves less seed in {n} of 100 futures.",
                    first=first.name, other=other.name, n=_of_hundred(less, words))  # fmt: skip
    if first.programme.money.currency != other.programme.money.currency:
        return apart
    if (first.tracks.lost is None) != (other.tracks.lost is None):
        return apart
    more = float(np.median(other.spent(discount) - first.spent(discount)))
    told = {
        "money": money(abs(more), first.programme.money.currency, words),
        "land": land_unit(words), "years": first.years,
    }  # fmt: skip
    priced = first.tracks.lost is not None
    if more > 0 and priced:
        cost = words.t("Lost crop counted, it costs {money} {land} more over {years} years.", **told)
    elif more > 0:
        cost = words.t("Its work costs {money} {land} more over {years} years; lost crop is not priced.", **told)
    elif more < 0 and priced:
        cost = words.t("Lost crop counted, it saves {money} {land} over {years} years.", **told)
    elif more < 0:
        cost = words.t("Its work costs {money} {land} less over {years} years; lost crop is not priced.", **told)
    else:
        return apart
    return f"{apart} {cost}"


def _of_hundred(share: float, words: Words) -> str:
    """How many of 100; never all or none of them unless it is so."""
    if 0.995 <= share < 1:
        return words.t("more than 99")
    if 0 < share < 0.005:
        return words.t("fewer than 1")
    return words.number(round(100 * share))


def _share_below(one: npt.NDArray[np.float64], other: npt.NDArray[np.float64]) -> float:
    return float(np.mean(one < other))


def mattering(matters: Sequence[Matter], words: Words) -> str:
    """The three values that matter most, in one sentence."""
    top = [matter for matter in matters if matter.total >= _WORTH_TELLING][:3]
    if not top:
        return words.t("All is known exactly: nothing is in doubt but chance.")
    told = [
        words.t("{what} ({share} of the doubt)", what=called(matter.name, words),
                share=_percent(min(matter.total, 1.0), words))
        for matter in top
    ]  # fmt: skip
    return words.t("What matters most for the seed left, and is least known: {values}.", values=words.listing(told))


def called(name: str, words: Words) -> str:
    """A value in words."""
    return words.t(_CALLED[name]) if name in _CALLED else name.replace("_", " ")

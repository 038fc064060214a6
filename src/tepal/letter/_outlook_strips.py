"""A season of a programme as one written strip: what is done, in the order of the year, and what it costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from tepal.letter._runs import capital
from tepal.programme import Amount, Programme, Season
from tepal.words import Words, message
from tepal.years import land_unit, money

_CROPS = {
    "corn": message("corn"), "soybean": message("soybean"), "cotton": message("cotton"),
    "sorghum": message("sorghum"), "peanut": message("peanut"), "oat": message("oat"),
    "alfalfa": message("alfalfa"), "fallow": message("fallow"),
}  # fmt: skip
_HARVESTS = {
    "mill": message("a mill crushes seed at harvest"), "chaff line": message("chaff is laid in a line at harvest"),
    "bale": message("chaff is baled at harvest"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Strip:
    """`years`: which seasons it is for. `crop` is its lead, `text` the rest."""

    years: str
    crop: str
    text: str
    cost: str


def strips(programme: Programme, years: int, words: Words) -> tuple[Strip, ...]:
    """One for each season that the programme tells, as far as the years go."""
    told = programme.season[:years]
    every = len(programme.season)
    return tuple(
        Strip(_which(at, every, years, words), capital(words.t(_CROPS[season.crop])),
              " ".join(_sentences(programme, season, words)), _cost(programme, season, words))
        for at, season in enumerate(told)
    )  # fmt: skip


def _which(at: int, every: int, years: int, words: Words) -> str:
    if every == 1:
        return words.t("Each year") if years > 1 else words.t("Year {n}", n=1)
    again = range(at + 1, years + 1, every)
    if len(again) == 1:
        return words.t("Year {n}", n=again[0])
    if len(again) <= 3:
        return words.t("Years {n}", n=words.listing([str(year) for year in again]))
    return words.t("Years {first}, {second}, {third}…", first=again[0], second=again[1], third=again[2])


def _sentences(programme: Programme, season: Season, words: Words) -> Iterator[str]:
    yield from _before(programme, season, words)
    yield from _sprayed(season, words)
    yield from _worked(season, words)
    yield from _harvested(season, words)
    if not (season.residual or season.post or season.pull or season.cut or season.cultivate):
        yield words.t("Nothing else is done against them.")


def _before(programme: Programme, season: Season, words: Words) -> Iterator[str]:
    sown = []
    if season.planted is not None and season.crop != "fallow":
        sown.append(words.t("planted {day}", day=_day(season.planted, words)))
    if season.crop not in ("fallow", "alfalfa", "oat"):
        row = programme.field.row_cm if season.row_cm is None else season.row_cm
        sown.append(words.t("rows of {width}", width=words.length(row / 100)))
    if sown:
        yield capital(", ".join(sown)) + "."
    if season.cover_crop_t_ha is not None and season.cover_crop_t_ha.high > 0:
        yield words.t("A cover crop before it.")
    if season.inversion:
        yield words.t("Ploughed deep once before planting.")


def _sprayed(season: Season, words: Words) -> Iterator[str]:
    for residual in season.residual:
        yield words.t("Residual of {groups} {when}.", groups=_groups(residual.groups, words),
                      when=_when(residual.days_after_planting, words))  # fmt: skip
    for post in season.post:
        on = (
            words.t("On plants of {height}", height=_amount(post.height_cm, words)) if post.height_cm is not None
            else words.t("On plants that are up")
        )  # fmt: skip
        when = "" if post.days_after_planting is None else f", {_when(post.days_after_planting, words)}"
        yield f"{on}{when}: {_groups(post.groups, words)}."


def _worked(season: Season, words: Words) -> Iterator[str]:
    for done in season.cultivate:
        yield words.t("Cultivated {when}.", when=_when(done.days_after_planting, words))
    for cut in season.cut:
        when = words.t("at flowering") if cut.when == "flowering" else _day(cut.when, words)
        yield words.t("Cut at {height}, {when}.", height=_amount(cut.height_cm, words), when=when)
    for pull in season.pull:
        if pull.share.high == 0:
            continue
        when = (
            words.t("before seed") if pull.when == "before seed" else words.t("after seed has fallen")
            if pull.when == "after seed" else _day(pull.when, words)
        )  # fmt: skip
        yield words.t("Pulled by hand {when}: {n} of 100 plants.", when=when, n=_percent(pull.share, words))


def _harvested(season: Season, words: Words) -> Iterator[str]:
    harvest = season.harvest
    if harvest.seed_control != "none":
        yield capital(words.t(_HARVESTS[harvest.seed_control])) + "."
    elif harvest.seed_kept_out is not None and harvest.seed_kept_out.high > 0:
        yield words.t("{n} of 100 seeds are kept out at harvest.", n=_percent(harvest.seed_kept_out, words))
    if harvest.order == "last":
        yield words.t("Harvested last.")
    elif harvest.order == "after infested":
        yield words.t("Harvested after infested fields, by a machine that was not cleaned.")


def _cost(programme: Programme, season: Season, words: Words) -> str:
    wage = programme.money.wage_hour
    total = sum(
        _middle(tactic.cost_ha)
        for tactic in (*season.residual, *season.post, *season.pull, *season.cut, *season.cultivate, season.harvest)
    )
    if wage is not None:
        total += sum(_middle(pull.hours_ha) * _middle(wage) for pull in season.pull if pull.hours_ha is not None)
    if total == 0:
        return ""
    return words.t("{money} {land}", money=money(total, programme.money.currency, words), land=land_unit(words))


def _middle(amount: Amount) -> float:
    return (amount.low + amount.high) / 2


def _percent(share: Amount, words: Words) -> str:
    return words.between(round(100 * share.low), round(100 * share.high))


def _amount(height_cm: Amount, words: Words) -> str:
    if height_cm.high == 0:
        return words.t("the ground")
    low, high = (words.length(value / 100) for value in (height_cm.low, height_cm.high))
    return high if low == high else words.t("{low} to {high}", low=low, high=high)


def _groups(groups: tuple[str, ...], words: Words) -> str:
    if len(groups) == 1:
        return words.t("group {n}", n=groups[0])
    return words.t("groups {n}", n=words.listing(list(groups)))


def _when(days: int, words: Words) -> str:
    if days == 0:
        return words.t("at planting")
    if days < 0:
        return words.plural("{count} day before planting", "{count} days before planting", -days)
    return words.plural("{count} day after planting", "{count} days after planting", days)


def _day(month_day: str, words: Words) -> str:
    return words.day_month(date(2001, int(month_day[:2]), int(month_day[3:])))

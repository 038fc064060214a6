"""The answer: which plant, how sure, how many; or that none was seen, or that nobody has looked."""

from __future__ import annotations

from tepal.letter._data import LetterData, Plant
from tepal.letter._runs import Line, Run, capital, clip, line
from tepal.reading import only_where
from tepal.words import Words, message

# Below this a possibility is left to the second page, unless nothing else is there to say.
_WORTH_SAYING = 0.03
_MOST_SITE = 60
# From here on the name of most plants is settled; another can only stand among them.
_SETTLED = 0.95
# From here on a name read off photos is told as the answer.
_SHOWN = 0.8
_ACRE_M2 = 4046.8564224


def title(data: LetterData, words: Words, *, chance: bool = False) -> str:
    """The sentence that answers, above all others; `chance`: with the chance beside the word for it."""
    site, seen = clip(data.site, _MOST_SITE), data.looks.seen
    if seen == "none":
        return words.t("We saw no {plants} at {site}.", plants=_hunted_names(data, words), site=site)
    if seen == "nobody":
        return words.t("Nobody has looked at {site} yet this year.", site=site)
    top = leading(data, words)
    if top is None or (seen == "report" and (not data.looks.plants or top.p_any < _SHOWN)):
        return (
            words.t("Pigweeds were reported at {site}. We have not looked yet.", site=site)
            if seen == "report"
            else words.t("Pigweeds at {site}, not yet told apart.", site=site)
        )
    name = capital(words.t(top.english))
    if top.proved:
        return words.t("{plant} at {site}, proved by a laboratory.", plant=name, site=site)
    sure = words.sureness(top.p_any)
    if chance:
        sure = words.t("{sure} ({chance})", sure=sure, chance=words.chance(top.p_any))
    told = words.t("{plant} at {site}, {sure}", plant=name, site=site, sure=sure)
    # Nobody of the office has been there; photos may all the same show which plant it is.
    return words.t("{told}, by the photos. We have not been there.", told=told) if seen == "report" else f"{told}."


def leading(data: LetterData, words: Words) -> Plant | None:
    """The plant the letter is about: a proved or likely hunted one first, else the likeliest other; None = unclear."""
    hunted = sorted((p for p in data.plants if p.hunted), key=lambda p: (-p.proved, -p.p_any, p.code))
    if hunted and (hunted[0].proved or hunted[0].p_any >= 0.5):
        return hunted[0]
    if data.alike:
        names = words.listing([words.t(name) for name in data.alike], last="or")
        return Plant("", names, "", False, data.alike_share, data.alike_share)
    others = sorted((p for p in data.plants if not p.hunted), key=lambda p: (-p.p_any, -p.share, p.code))
    return others[0] if others and others[0].p_any >= 0.5 else None


def who(data: LetterData, words: Words) -> Line:
    """The paragraph on how it is known and how sure."""
    if data.looks.told is not None:
        return line(data.looks.told(words))
    return {"none": _none, "report": _report, "plants": _plants}[data.looks.seen](data, words)


def how_many(data: LetterData, words: Words) -> Line:
    """The paragraph on how many; empty where nothing was seen."""
    if data.looks.seen in ("none", "nobody"):
        return ()
    count = data.count
    if count is None:
        return line(words.t("Nobody has counted them yet."))
    low, high = words.about(count.q05), words.about(count.q95)
    if low == high:
        first = words.plural("We counted {count} plant.", "We counted {count} plants.", round(count.q50))
    else:
        first = words.t(
            "We reckon about {middle} {what} stand there. There could be as few as {low} or as many as {high}.",
            what=words.t("plants") if count.hunted_only else words.t("pigweeds of all kinds"),
            middle=words.about(count.q50), low=low, high=high,
        )  # fmt: skip
    part = "" if count.of_hectares is None else only_where(count.of_hectares, words)
    return line(first, _density(count.per_m2, words), part)


def _plants(data: LetterData, words: Words) -> Line:
    looks, top = data.looks, leading(data, words)
    parts: list[str | Run] = []
    if looks.plants:
        n = words.plural("{count} plant", "{count} plants", looks.plants)
        day = words.t("on {day}", day=words.day(looks.on)) if looks.on else ""
        parts.append(words.t("We looked closely at {plants} {day}.", plants=n, day=day).replace(" .", "."))
    if top is None:
        parts.append(
            words.t("It is a pigweed, but what we saw does not tell which.")
            if looks.plants == 1
            else words.t("They are pigweeds, but what we saw does not tell which.")
        )
    elif top.proved:
        parts.append(words.t("A laboratory named it: {plant}.", plant=_full(top, words)))
    else:
        told = {
            "sure": words.sureness(top.p_any),
            "plant": _full(top, words),
            "chance": words.chance(top.p_any),
        }
        parts.append(
            words.t("It is {sure} {plant}: {chance}.", **told)
            if looks.plants == 1
            else words.t("They are {sure} {plant}: {chance}.", **told)
        )
    rest = [p for p in data.plants if p.hunted and p is not top]
    for plant in sorted(rest, key=lambda p: -p.p_any):
        name, chance = words.t(plant.english), words.chance(plant.p_any)
        if plant.proved or plant.p_any >= 0.5:
            parts.append(words.t("{plant} stands there too: {chance}.", plant=capital(name), chance=chance))
        elif top is None or not top.hunted:
            parts.append(words.t("That {plant} is among them: {chance}.", plant=name, chance=chance))
        elif plant.p_any >= _WORTH_SAYING:
            parts.append(
                words.t("Some may be {plant}: {chance}.", plant=name, chance=chance)
                if top.proved or top.p_any >= _SETTLED
                else words.t("It could still be {plant}: {chance}.", plant=name, chance=chance)
            )
    if data.alike and top is not None and not top.hunted:
        parts.append(words.t("Before they flower these cannot be told apart."))
    if top is not None and not top.hunted:
        parts.append(words.t("It is not the one we hunt. Still control it."))
    if data.first_find and top is not None and top.hunted:
        known = words.t("It is the first known in this county.") if top.proved else words.t(
            "It would be the first known in this county."
        )  # fmt: skip
        parts.append(Run(known, "strong"))
    return line(*parts)


def _none(data: LetterData, words: Words) -> Line:
    looks = data.looks
    parts: list[str | Run] = []
    if looks.on and looks.walked_m > 0:
        parts.append(
            words.t("We walked {length} there on {day}.", length=words.length(looks.walked_m), day=words.day(looks.on))
        )
    elif looks.on:
        parts.append(words.t("We looked there on {day}.", day=words.day(looks.on)))
    parts.append(words.t("You may still have some in the part we did not see."))
    if looks.seen_share is not None:
        parts.append(
            words.t("Had ten plants stood there, we would have seen about {n}.", n=round(10 * looks.seen_share))
        )
    if looks.p_missed is not None:
        parts.append(
            Run(words.t("That leaves {chance} that some stand there.", chance=words.chance(looks.p_missed)), "strong")
        )
    parts.append(words.t("This holds until the next seedlings come up."))
    return line(*parts)


def _report(data: LetterData, words: Words) -> Line:
    looks = data.looks
    parts: list[str | Run] = []
    if looks.on:
        how = {"call": words.t("by telephone"), "text": words.t("by text"), "visit": words.t("at the office"),
               "letter": words.t("by letter")}.get(looks.how, "")  # fmt: skip
        told = words.t("We were told of them {how} on {day}.", how=how, day=words.day(looks.on))
        parts.append(" ".join(told.split()))
    likely = sorted((p for p in data.plants if p.p_any >= 0.1), key=lambda p: (-p.p_any, p.code))[:3]
    if likely:
        by = words.t("By the photos") if looks.plants else words.t("By what we were told")
        names = words.listing([words.t(p.english) for p in likely], last="or")
    if likely and (len(likely) == 1 or likely[0].p_any >= _SHOWN):
        sure, chance = words.sureness(likely[0].p_any), words.chance(likely[0].p_any)
        plant = _full(likely[0], words)
        parts.append(words.t("{by} it is {sure} {plant}: {chance}.", by=by, sure=sure, plant=plant, chance=chance))
        # Where nearly all are settled, another can only stand among them: two chances of one plant would not add up.
        text = (
            message("Some may be {plant}: {chance}.")
            if looks.plants > 1 and likely[0].p_any >= _SETTLED
            else message("It could still be {plant}: {chance}.")
        )
        parts += [words.t(text, plant=words.t(p.english), chance=words.chance(p.p_any)) for p in likely[1:] if p.hunted]
    elif likely:
        parts.append(words.t("{by} they may be {plants}.", by=by, plants=names))
        top = likely[0]
        parts.append(
            words.t("Likeliest is {plant}: {chance}.", plant=words.t(top.english), chance=words.chance(top.p_any))
        )
    parts.append(
        Run(words.t("Treat this letter as a first guess until someone has stood beside the plants."), "strong")
    )
    return line(*parts)


def _density(per_m2: float | None, words: Words) -> str:
    """Plants per area; empty below one an acre, where the figure says less than the number of plants."""
    if per_m2 is None or per_m2 * _ACRE_M2 < 1:
        return ""
    return words.t("That is {density}.", density=words.density(per_m2))


def _full(plant: Plant, words: Words) -> str:
    """The English name with the scientific one in brackets."""
    if not plant.scientific:
        return words.t(plant.english)
    return words.t("{english} ({scientific})", english=words.t(plant.english), scientific=plant.scientific)


def _hunted_names(data: LetterData, words: Words) -> str:
    names = [words.t(p.english) for p in data.plants if p.hunted]
    return words.listing(names, last="or") if names else words.t("pigweeds")

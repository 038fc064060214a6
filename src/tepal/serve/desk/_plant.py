"""One plant that was looked at: what it is and how surely, the words for and against, its drawing, its photos."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from tepal import plant as naming
from tepal.flora import BASIS_WORDS, STAGE_WORDS, Flora
from tepal.ledger import Entry, Plant, event_date
from tepal.plates import bare, draw, draw_taxon, parts_of
from tepal.reading import stage_of
from tepal.serve.desk._links import Links
from tepal.serve.desk._render import drawing
from tepal.tables import Refused
from tepal.words import Words

_NEITHER = 1.2
_STRONG, _WEAK = 8.0, 2.0


@dataclass(frozen=True, slots=True)
class Look:
    """What one look says: the look in words, how strongly and for which name, on what that stands."""

    text: str
    says: str
    basis: str
    picture: Any = None


@dataclass(frozen=True, slots=True)
class PlantView:
    """The page of a plant."""

    title: str
    site_name: str
    site: str
    sentence: str
    settles: str
    looked: str
    scientific: str
    picture: Any
    picture_says: str
    one: str
    other: str
    speaks_for: tuple[Look, ...]
    speaks_against: tuple[Look, ...]
    speaks_for_neither: tuple[Look, ...]
    before: str
    after: str
    figures: tuple[tuple[str, str], ...]
    photos: tuple[tuple[str, str, str], ...]  # small, large, with its leaf measured
    leaf_measured: bool
    sources: tuple[str, ...]
    proved: str = ""


def plant_view(
    entry: Entry, *, site_name: str, region: str | None, flora: Flora, words: Words, links: Links, proved: str = ""
) -> PlantView:
    """The page of a plant's entry. `region`: where its site lies, for the odds before any look; `proved`: the code that
    a laboratory gave this very plant."""
    body = entry.body
    assert isinstance(body, Plant)
    call = naming.identify(dict(body.looks), stage=stage_of(body), region=region, flora=flora)
    best = proved or call.best
    found = naming.why(call, flora)
    one, other = (naming.name_in_words(code, flora, words) for code in (found.one, found.other))
    looks = [(push.factor, _look(push, (one, other), body.looks, flora, words)) for push in found.pushes]
    picture, says = _portrait(best, call.likely_stage, flora, words)
    keys = dict.fromkeys(key for push in found.pushes for key in push.sources)
    return PlantView(
        title=words.t("A plant of {day}", day=words.day_month(event_date(entry)) + f", {event_date(entry).year}"),
        site_name=site_name,
        site=links.site(entry.site or ""),
        sentence=naming.sentence(call, flora, words),
        settles=naming.what_settles_it(call, flora, words),
        looked=_looked(body, words),
        scientific=_scientific(best, flora),
        picture=picture,
        picture_says=says,
        one=_capital(one),
        other=_capital(other),
        speaks_for=tuple(look for factor, look in looks if factor >= _NEITHER),
        speaks_against=tuple(look for factor, look in looks if factor <= 1 / _NEITHER),
        speaks_for_neither=tuple(look for factor, look in looks if 1 / _NEITHER < factor < _NEITHER),
        before=_odds(found.before, one, other, words),
        after=_odds(found.after, one, other, words),
        figures=_figures(call, flora, words),
        photos=tuple((links.photo(photo), links.photo(photo, 1600), links.leaf(photo)) for photo in body.photos),
        leaf_measured=any(character.startswith("petiole_blade_ratio_") for character in body.looks),
        sources=tuple(flora.sources[key].citation for key in keys if key in flora.sources),
        proved=""
        if not proved
        else words.t("A laboratory says: {name}.", name=naming.name_in_words(proved, flora, words)),
    )


def _look(push: naming.Push, names: tuple[str, str], looks: Mapping[str, Any], flora: Flora, words: Words) -> Look:
    times = max(push.factor, 1 / push.factor)
    name = names[0] if push.factor >= 1 else names[1]
    if times < _NEITHER:
        says = words.t("Speaks for neither.")
    elif times >= _STRONG:
        says = words.t(
            "Speaks strongly for {name}: {n} times likelier in it.", name=name, n=words.about(min(times, 1e6))
        )
    elif times >= _WEAK:
        says = words.t("Speaks for {name}: {n} times likelier in it.", name=name, n=words.about(times))
    else:
        says = words.t("Speaks a little for {name}.", name=name)
    text = naming.look_in_words(push.character, push.value, flora, words)
    basis = words.t(BASIS_WORDS[push.basis]) if push.basis else words.t("not told of either")
    return Look(_capital(text), says, basis, _picture_of(push.character, looks.get(push.character), flora, words))


def _picture_of(character: str, value: Any, flora: Flora, words: Words) -> Any:
    state = value if isinstance(value, str) else None
    told = flora.characters.get(character)
    if told is None or (told.states and state not in told.states):
        return None
    try:
        plate = draw(flora, character, state if told.states else None, words=words)
    except Refused:
        return None
    # What is written on a plate is what most plants have, not what this one had.
    return drawing(bare(plate.svg))


def _portrait(code: str, stage: str, flora: Flora, words: Words) -> tuple[Any, str]:
    """The whole plant as most of its kind are; a seedling while it is one."""
    first = next((part for part in code.split("x") if part in flora.taxa), None)
    if first is None:
        return None, ""
    wanted = "seedling" if stage in ("cotyledon", "seedling_2-4_leaf") else "plant"
    parts = parts_of(flora, first)
    if not parts:
        return None, ""
    try:
        plate = draw_taxon(flora, first, wanted if wanted in parts else parts[0], words=words)
    except Refused:
        return None, ""
    return drawing(plate.svg), plate.title


def _scientific(code: str, flora: Flora) -> str:
    names = [flora.taxa[part].scientific_name.partition(" (")[0] for part in code.split("x") if part in flora.taxa]
    return " × ".join(names)


def _looked(body: Plant, words: Words) -> str:
    stage = words.t(STAGE_WORDS[body.stage]) if body.stage in STAGE_WORDS else words.t("stage not known")
    seen = words.t("looked at on a photo") if body.seen_by == "photo" else words.t("looked at where it stood")
    parts = [stage[:1].upper() + stage[1:], seen]
    if body.height_cm is not None:
        parts.append(words.t("{height} tall", height=words.length(body.height_cm / 100)))
    if body.count > 1:
        parts.append(words.t("{n} such plants", n=words.number(body.count)))
    return ", ".join(parts) + "."


def _figures(call: naming.Call, flora: Flora, words: Words) -> tuple[tuple[str, str], ...]:
    ranked = sorted(zip(call.taxa, call.posterior.tolist(), strict=True), key=lambda pair: -pair[1])
    return tuple(
        (_capital(naming.name_in_words(code, flora, words)), words.chance(p)) for code, p in ranked if p >= 0.01
    )


def _odds(odds: float, one: str, other: str, words: Words) -> str:
    n = words.about(min(max(odds, 1 / odds), 1e6))
    if odds >= 1:
        return words.t("{n} to 1 for {one} against {other}", n=n, one=one, other=other)
    return words.t("{n} to 1 for {one} against {other}", n=n, one=other, other=one)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

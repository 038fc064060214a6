"""A plate for a character and a state, as the flora's plates.toml says; and the list of all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median

from tepal.flora import STAGES, Character, Flora, Measure
from tepal.plates import _figures
from tepal.plates._sheet import HIGH, WIDE, Sheet
from tepal.tables import Refused, meant
from tepal.words import Words

# A measured character has no states: it is drawn as of the taxon with the least, the middle and the greatest mean.
LEVELS = ("low", "usual", "high")
_MM = {"mm": 1.0, "cm": 10.0}


@dataclass(frozen=True, slots=True)
class Plate:
    """A drawing as an SVG document, `wide` by `high` units, with its title and text for those who do not see it.

    `name` is unique among the plates of a flora and safe as a file name. `value` is what a measured plate shows, in
    `unit`; `scale_mm` the length in mm that 100 units of width stand for, None where the drawing is not to scale.
    """

    name: str
    character: str
    state: str
    title: str
    alt: str
    svg: str
    value: float | None
    unit: str
    scale_mm: float | None
    wide: int = WIDE
    high: int = HIGH


def names(flora: Flora) -> Iterator[tuple[str, str]]:
    """Every (character, state) that there is to draw; `low`, `usual` and `high` are the states of measured ones."""
    for name, character in flora.characters.items():
        for state in states(character):
            yield name, state


def states(character: Character) -> tuple[str, ...]:
    """The states of a character's plates."""
    return character.states or LEVELS


def draw(flora: Flora, character: str, state: str | None = None, *, words: Words | None = None) -> Plate:
    """The plate of a character's state.

    Parameters
    ----------
    flora
        The weed group; its plates.toml says how each character is drawn.
    character, state
        As in the tables. For a measured character `low`, `usual` or `high`; `usual` if not given.
    words
        Language and units of the few words on the plate; English and US units if not given.

    Raises
    ------
    Refused
        For a character or a state that the flora has not, or one that plates.toml does not say how to draw.
    """
    words = words or Words()
    what = character_of(flora, character)
    state = _state(what, state)
    row = flora.plates.get(character)
    if row is None or (what.states and state not in row.by_state):
        raise Refused(
            f"no drawing of {character}={state}",
            where=f"plates.toml of {flora.group}",
            rule="Each character and state has its settings there.",
            step=f"Add [character.{character}] with states.{state}.",
        )
    settings = {**row.settings, **row.by_state.get(state, {})}
    sheet, value = Sheet(words), None
    if not what.states:
        levels = levels_of(flora, character)
        value = levels[LEVELS.index(state)]
        factor = _MM.get(what.unit, 1.0)
        settings[row.takes] = factor * value
        if "largest" in _figures.settings_of(row.figure):
            settings["largest"] = factor * levels[-1]
        sheet.footer = _figure_words(words, flora, what, value)
    _figures.run(row.figure, sheet, settings, where=f"plates.toml, [character.{character}]")
    title = words.t(what.state_words[state]) if what.states else words.t(what.label)
    shown = title
    if value is not None:
        unit = words.t(flora.units[what.unit] or " ").strip()
        shown = words.t(
            "what to measure: {what}, here about {n}", what=title, n=f"{words.number(value)} {unit}".strip()
        )
    return plate_of(sheet, character, state, title=title, shown=shown, value=value, unit=what.unit)


def plate_of(
    sheet: Sheet,
    character: str,
    state: str,
    *,
    title: str,
    shown: str,
    value: float | None = None,
    unit: str = "",
) -> Plate:
    """The finished sheet with its text for those who do not see it: what is `shown`, and the scale bar."""
    words = sheet.words
    alt = words.t("Drawing: {what}.", what=shown)
    if bar := sheet.bar():
        alt += " " + words.t("The scale bar is {length} long.", length=bar[1])
    return Plate(
        name=f"{character}-{state}",
        character=character,
        state=state,
        title=title,
        alt=alt,
        svg=sheet.svg(title, alt),
        value=value,
        unit=unit,
        scale_mm=None if sheet.per_mm is None else WIDE / sheet.per_mm,
    )


def draw_all(flora: Flora, *, words: Words | None = None) -> Iterator[Plate]:
    """Every plate of the flora's characters, in the order of the tables."""
    for character, state in names(flora):
        yield draw(flora, character, state, words=words)


def levels_of(flora: Flora, character: str) -> tuple[float, float, float]:
    """The least, the middle and the greatest of the taxa's means, at the stage at which most taxa are told."""
    told = [measure for measure in flora.measures.values() if measure.character == character]
    # Look-alikes count only where nothing is told of the group itself.
    own = [measure for measure in told if flora.taxa[measure.code].pigweed] or told
    stages: dict[str, list[Measure]] = {}
    for measure in own:
        stages.setdefault(measure.stage, []).append(measure)
    if not stages:
        raise Refused(
            f"no measure of {character}",
            where=f"measures.csv of {flora.group}",
            rule="A measured character is drawn from its published sizes.",
            step="Add a row there, or drop the character.",
        )
    # Of stages told equally well the later one: a grown plant is what most people measure.
    stage = max(stages, key=lambda name: (len(stages[name]), (*STAGES, "any").index(name)))
    means = sorted(measure.mean for measure in stages[stage])
    return means[0], median(means), means[-1]


def _figure_words(words: Words, flora: Flora, what: Character, value: float) -> str:
    unit = words.t(flora.units[what.unit] or " ").strip()
    if what.unit == "ratio":
        return words.t("a ÷ b: about {n}", n=words.number(value))
    if what.unit == "cm" and words.units == "us":
        return words.t("about {n} cm ({inches} in)", n=words.number(value), inches=words.number(round(value / 2.54, 1)))
    if what.unit in _MM:
        return words.t("about {n} {unit}", n=words.number(value), unit=what.unit)
    # Only what fits below the drawing; the text beside it has the whole unit.
    return words.t("about {n} {unit}", n=words.number(value), unit=unit if len(unit) < 12 else "").strip()


def character_of(flora: Flora, name: str) -> Character:
    """The character of a name; refused with the nearest names when unknown."""
    if name in flora.characters:
        return flora.characters[name]
    raise Refused(
        f"no character {name!r}",
        where="command line",
        rule=f"{len(flora.characters)} characters are drawn.",
        step=meant(name, flora.characters, "`tepal plant --characters` lists them; without a name all are drawn."),
    )


def _state(what: Character, state: str | None) -> str:
    if state is None and not what.states:
        return "usual"
    known = states(what)
    if state in known:
        return str(state)
    raise Refused(
        f"{what.name}={state}" if state else f"no state of {what.name}",
        where="command line",
        rule=f"The states of {what.name} are {', '.join(known)}.",
        step="Choose one of them.",
    )

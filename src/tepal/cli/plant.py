"""`tepal plant`: which pigweed a plant is, how sure, and which look matters next."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from tepal.cli import _out, _plant_place
from tepal.cli._plant_json import call_json, why_json
from tepal.cli._plant_lines import name_file
from tepal.tables import Refused

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.plant import Call, Specimen
    from tepal.words import Words


def plant(
    *looks: str,
    stage: str | None = None,
    region: str | None = None,
    prior: Path | None = None,
    found: Path | None = None,
    checked: str | None = None,
    from_file: Annotated[Path | None, Parameter(name="--from")] = None,
    leaf: Path | None = None,
    which_leaf: Literal["lower", "middle", "upper", "seedling"] | None = None,
    stand: Annotated[bool, Parameter(negative=())] = False,
    why: Annotated[bool, Parameter(negative=())] = False,
    characters: Annotated[bool, Parameter(negative=())] = False,
    compile_to: Annotated[Path | None, Parameter(name="--compile")] = None,
    language: Literal["en", "es"] = "en",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Name a plant from what is seen on it: the probabilities, whether that is enough, and the look that matters next.

    On a terminal and without looks it asks: one drawing and one question at a time, answered by one key. `tepal plant
    --characters --stage vegetative` lists what can be looked at, the states to choose from, and the tools.

    Parameters
    ----------
    looks: str
        CHARACTER=STATE, CHARACTER=NUMBER in the table's unit, or several of either with commas between for several
        leaves of the plant. `cannot_tell` is an answer too.
    stage: str
        cotyledon, seedling_2-4_leaf, vegetative, reproductive, mature_seed, or unknown.
    region: str
        SE, CB, UM, SP or NE: where the plant grows. Without it, the mean of these.
    prior: Path
        A table of `code,weight` that takes the place of the region's weights.
    found: Path
        A table of what was found at the place or nearby, `code,by` (laboratory or eye) and, where they are known,
        `years` ago, `metres` away, `plants`: added to the region's weights, the less the older and the farther.
    checked: str
        RIGHT,WRONG: how many of your answers a drill or a laboratory found right, and how many wrong.
    from_file: Path
        Name many plants: one JSON object a line, with `id`, `stage`, `region`, `looks`. One JSON object a line comes
        out.
    stand: bool
        With --from, the plants being taken from one stand without choosing: a last line tells the shares of taxa, the
        chance of at least one Palmer amaranth or waterhemp, and how many more plants to look at.
    leaf: Path
        A photo of one leaf, plucked with its petiole: measured as by `tepal leaf`. What is said by hand stands.
    which_leaf: str
        Which leaf the photo shows: lower, middle, upper or seedling.
    why: bool
        Say look by look how much it moved the odds between the two leading names, and on what it stands.
    characters: bool
        List what can be looked at, at the given stage or at every stage.
    compile_to: Path
        Write the tables, texts, drawings and 500 golden cases to a folder, for the phone and other implementations.
    language: str
        en or es.
    json_output: bool
        Print one JSON object.
    """
    from tepal.flora import load
    from tepal.words import Words

    flora, words = load(), Words(language)
    if compile_to is not None:
        return _compile(compile_to, flora, json_output=json_output)
    if characters:
        return _list_characters(flora, words, stage, json_output=json_output)
    weights = _weights(prior, found, flora, region)
    who = _plant_place.reader(checked)
    if stand and from_file is None:
        raise Refused(
            "--stand without --from",
            where="command line",
            rule="A stand is told from many plants, a line each.",
            step="Give the plants in a file with --from.",
        )
    if from_file is not None:
        if looks or leaf is not None:
            raise Refused(
                f"looks on the line ({looks[0] if looks else leaf!s}) and --from",
                where="command line",
                rule="Plants come from the line or from the file.",
                step="Drop one of the two.",
            )
        named: list[Specimen] = []
        code = name_file(from_file, flora, stage, region, weights, who, named)
        if stand:
            _out.emit(_plant_place.stand(named, flora, who))
        return code
    if not looks and leaf is None and not json_output:
        from tepal.cli._guide import guide, is_possible
        from tepal.cli._guide_session import Session

        if is_possible():
            return guide(Session(flora, region, weights, stage, who), words)
        if stage is None and region is None and prior is None:
            raise Refused(
                "no looks",
                where="command line",
                rule="Questions are asked on a terminal only.",
                step="Give looks, such as nodal_spines=absent; `tepal plant --characters` lists them. Or --from FILE.",
            )
    from tepal.plant import identify

    answers, stage = _seen(looks, leaf, which_leaf, stage, flora, None if json_output else words)
    call = identify(answers, stage=stage or "unknown", region=region, prior=weights, flora=flora, reader=who)
    if json_output:
        _out.emit({"id": None, **call_json(call, flora), **({"why": why_json(call, flora)} if why else {})})
    else:
        _tell(call, flora, words, why=why)
    return _out.DONE


def _seen(  # noqa: PLR0917 - what was said on the line, in its order
    looks: tuple[str, ...],
    leaf: Path | None,
    which_leaf: str | None,
    stage: str | None,
    flora: Flora,
    words: Words | None,
) -> tuple[dict[str, Any], str | None]:
    """Looks by hand and, with `leaf`, by photo; and the stage. The photo's measure is told where there are words."""
    answers = _looks(looks, flora)
    if leaf is None:
        return answers, stage
    from tepal.cli._plant_leaf import with_leaf
    from tepal.leaf import in_numbers

    answers, stage, measured = with_leaf(leaf, which_leaf, stage, answers)
    if words is not None:
        _out.say(in_numbers(measured, words))
    return answers, stage


def _tell(call: Call, flora: Flora, words: Words, *, why: bool) -> None:
    from tepal.plant import figures, look_again, reasons, sentence, what_settles_it, why_in_words

    _out.say(sentence(call, flora, words))
    for line in look_again(call, flora, words):
        _out.say(line)
    _out.say(what_settles_it(call, flora, words))
    behind = why_in_words(call, flora, words) if why else reasons(call, flora, words)
    for line in (*behind, *figures(call, flora, words)):
        _out.say(f"  {line}")


def _compile(folder: Path, flora: Flora, *, json_output: bool) -> int:
    from tepal.cli._compile import compile_to

    paths = compile_to(folder, flora)
    if json_output:
        _out.emit({"files": [str(path) for path in paths]})
    else:
        for path in paths:
            _out.say(str(path))
    return _out.DONE


def _list_characters(flora: Flora, words: Words, stage: str | None, *, json_output: bool) -> int:
    from tepal.cli._characters import looks_at, tell_looks
    from tepal.flora import STAGES
    from tepal.plant import UNKNOWN
    from tepal.tables import meant

    if stage not in (None, UNKNOWN, *STAGES):
        raise Refused(
            f"no stage {str(stage)[:40]!r}",
            where="stage",
            rule=f"A stage is one of {', '.join(STAGES)}, or {UNKNOWN}.",
            step=meant(stage, STAGES, "Choose one."),
        )
    stages = [one for one in STAGES if stage in (None, UNKNOWN, one)]
    if json_output:
        _out.emit({"stages": {one: looks_at(flora, one) for one in stages}})
    else:
        for line in tell_looks(flora, stages, words):
            _out.say(line)
    return _out.DONE


def _looks(given: Iterable[str], flora: Flora) -> dict[str, Any]:
    answers: dict[str, list[Any]] = {}
    for text in given:
        name, equals, value = text.partition("=")
        name = name.strip()
        if not equals or not name or not value.strip():
            raise Refused(
                f"{text!r} is no look",
                where="command line",
                rule="A look is CHARACTER=STATE or CHARACTER=NUMBER.",
                step="Write it like nodal_spines=absent.",
            )
        character = flora.characters.get(name)
        numeric = character is not None and not character.states
        parts = [part.strip() for part in value.split(",")]
        answers.setdefault(name, []).extend(_number(name, part) if numeric else part for part in parts)
    return {name: parts[0] if len(parts) == 1 else parts for name, parts in answers.items()}


def _number(name: str, text: str) -> float | str:
    if text == "cannot_tell":
        return text
    try:
        # Python reads 1_0, a slip for 1.0, as ten.
        return float("" if "_" in text else text)
    except ValueError:
        raise Refused(
            f"{text!r} for {name}",
            where="command line",
            rule="It is a number with a decimal point.",
            step="Give the number without its unit.",
        ) from None


def _weights(prior: Path | None, found: Path | None, flora: Flora, region: str | None) -> dict[str, float] | None:
    if prior is not None and found is not None:
        raise Refused(
            "--prior and --found",
            where="command line",
            rule="Weights are given whole, or reckoned from what was found.",
            step="Drop one of the two.",
        )
    if found is not None:
        return _plant_place.local_weights(found, flora, region)
    return _prior(prior) if prior is not None else None


def _prior(path: Path) -> dict[str, float]:
    from tepal.tables import read_csv

    table = read_csv(path)
    table.need(("code", "weight"))
    weights: dict[str, float] = {}
    for row in table:
        code = row.text("code")
        if code in weights:
            raise Refused(
                f"{code} again", where=row.where("code"), rule="A code stands once.", step="Drop one of the two rows."
            )
        weights[code] = row.number("weight", low=0.0, high=1e12)
    return weights

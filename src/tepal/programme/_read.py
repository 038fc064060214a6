"""A programme's file to its record, or a refusal that names file, line and rule."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from tepal.programme._kinds import GROUPS_BEYOND
from tepal.programme._lines import line_of
from tepal.programme._records import METABOLIC_KEY, Metabolic, Programme
from tepal.tables import Refused, Where, read_bytes

_MAX_BYTES = 1_000_000


def read_programme(path: Path | str, *, taxa: Collection[str] | None = None) -> Programme:
    """Read a programme's file; without a `name` it is called as its file. `taxa`: codes that are known, if they are.

    Raises
    ------
    Refused
        If it cannot be read, is no TOML in UTF-8, has an unknown key, or a value breaks its rule.
    """
    path = Path(path)
    raw = read_bytes(path, most=_MAX_BYTES)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw[: problem.start].count(b"\n") + 1
        raise Refused("bytes that are no UTF-8", where=Where(path.name, line), rule="TOML is UTF-8 text.",
                      step="Save the file as UTF-8.") from None  # fmt: skip
    return read_programme_text(text, name=path.name, taxa=taxa)


def read_programme_text(text: str, *, name: str, taxa: Collection[str] | None = None) -> Programme:
    """Read a programme from text; `name` is its file's, for refusals and where the programme has none."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise Refused(
            f"no TOML: {_without_place(problem)}",
            where=Where(name, _place(problem, text)),
            rule="One key = value a line, tables in [brackets].",
            step="Correct the line.",
        ) from None
    except RecursionError:
        raise Refused(
            "brackets within brackets without end",
            where=name,
            rule="A programme is one level of tables.",
            step="Check the file.",
        ) from None
    data.setdefault("name", Path(name).stem or name)
    try:
        programme = Programme.model_validate(_apart(data))
    except ValidationError as problem:
        raise _refusal(problem, data, text, name) from None
    if taxa is not None and programme.taxon not in taxa:
        near = difflib.get_close_matches(programme.taxon, taxa, 1, 0.7)
        raise Refused(f"taxon = {programme.taxon!r}", where=Where(name, line_of(text, ["taxon"]), "taxon"),
                      rule=f"It is one of {', '.join(taxa)}.",
                      step=f"Did you mean {near[0]}?" if near else "Correct the value.")  # fmt: skip
    return programme


def _apart(data: dict[str, Any]) -> dict[str, Any]:
    """[resistance.metabolic] stands among the groups in the file; it is another kind of gene."""
    genes = data.get("resistance")
    if not isinstance(genes, dict) or GROUPS_BEYOND not in genes:
        return data
    rest = {key: each for key, each in genes.items() if key != GROUPS_BEYOND}
    return {**data, "resistance": rest, METABOLIC_KEY: genes[GROUPS_BEYOND]}


def _refusal(problem: ValidationError, data: dict[str, Any], text: str, name: str) -> Refused:
    errors = problem.errors(include_url=False)
    # A misspelled key also leaves the right one missing: the spelling is what has to be told.
    first = next((error for error in errors if error["type"] == "extra_forbidden"), errors[0])
    apart = {METABOLIC_KEY: tuple(METABOLIC_KEY.split("."))}
    loc = [part for each in first["loc"] for part in apart.get(str(each), (each,)) if _in_file(part)]
    named = [part for part in loc if isinstance(part, str)]
    where = Where(name, line_of(text, loc), named[-1] if named else None)
    shown = ".".join(str(part + 1) if isinstance(part, int) else part for part in loc) or "the programme"
    if first["type"] == "extra_forbidden":
        near = difflib.get_close_matches(str(loc[-1]), _keys(loc), 1, 0.7)
        return Refused(
            f"unknown key {shown}",
            where=where,
            rule=f"Here stand {', '.join(sorted(_keys(loc)))}.",
            step=f"Did you mean {near[0]}?" if near else "Take it out, or correct its name.",
        )
    if first["type"] == "missing":
        return Refused(f"no {shown}", where=where, rule=f"{loc[-1]} must be given.", step="Add it.")
    return Refused(
        f"{shown} = {value!r}" if (value := _value(data, loc)) is not None else f"{shown} as a whole",
        where=where,
        rule=_rule(first["msg"]),
        step="Correct the value.",
    )


def _in_file(part: str | int) -> bool:
    # Names of alternatives that the checker adds to a place stand in no file.
    return isinstance(part, int) or bool(re.fullmatch(r"[\w-]+", part))


def _keys(loc: list[str | int]) -> list[str]:
    """The keys that the table at `loc`'s parent may have."""
    model: type[BaseModel] = Programme
    if tuple(loc[:2]) == tuple(METABOLIC_KEY.split(".")):
        return list(Metabolic.model_fields)
    for part in loc[:-1]:
        if isinstance(part, int) or part not in model.model_fields:
            continue
        inner = _model_in(model.model_fields[part].annotation)
        if inner is not None:
            model = inner
    return [name for name, field in model.model_fields.items() if field.alias is None]


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def _value(data: Any, loc: list[str | int]) -> Any:
    for part in loc:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            break
    return None if isinstance(data, dict) else data


def _rule(message: str) -> str:
    text = message.removeprefix("Value error, ").replace("Input should be", "It should be")
    return text if text.endswith(".") else f"{text}."


def _place(problem: tomllib.TOMLDecodeError, text: str) -> int | None:
    found = re.search(r"line (\d+)", str(problem))
    return int(found[1]) if found else max(1, text.count("\n"))


def _without_place(problem: tomllib.TOMLDecodeError) -> str:
    return re.sub(r"\s*\(at [^)]*\)", "", str(problem))

"""Many plants from a file, a line each: what is wrong with a line is said in its place, and the rest goes on."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tepal.cli import _out
from tepal.tables import Refused, Where

if TYPE_CHECKING:
    from tepal.flora import Flora
    from tepal.plant import Reader, Specimen

    # Line number, id where it could be read, and the plant or why the line is no plant.
    Line = tuple[int, str | int | None, Specimen | Refused]

_TOGETHER = 500
_KEYS = ("id", "stage", "region", "looks")


def name_file(  # noqa: PLR0917
    path: Path,
    flora: Flora,
    stage: str | None,
    region: str | None,
    weights: Mapping[str, float] | None,
    who: Reader,
    named: list[Specimen],
) -> int:
    """Name the plants of a file, a line each; a bad line gives its id and an error and the rest goes on.

    The plants that could be named are added to `named`.
    """
    from tepal.plant import Specimen, identify

    # What was said on the command line is refused whole, before the first line.
    identify({}, stage=stage or "unknown", region=region, prior=weights, flora=flora)
    done: list[bool] = []
    seen: dict[str | int, int] = {}
    waiting: list[Line] = []
    for number, raw in _lines(path):
        name: str | int | None = None
        try:
            entry = _entry(raw)
            name = _id(entry)
            _checked_keys(entry)
            first = seen.setdefault(name, number)
            if first != number:
                raise Refused(
                    f"id {str(name)[:40]!r} again",
                    where="id",
                    rule=f"An id stands once; line {first} has it.",
                    step="Give each plant its own.",
                )
        except Refused as refusal:
            waiting.append((number, name, refusal))
        else:
            at = entry.get("stage", stage) or "unknown"
            # `looks` may be anything yet: naming checks it and says what is wrong.
            plant_ = Specimen(entry.get("looks"), at, entry.get("region", region), weights)  # type: ignore[arg-type]
            waiting.append((number, name, plant_))
        if len(waiting) == _TOGETHER:
            done.append(_name_lines(waiting, path, flora, who, named))
            waiting = []
    done.append(_name_lines(waiting, path, flora, who, named))
    if len(done) == 1 and not waiting:
        raise Refused("no plants", where=path.name, rule="One JSON object a line is needed.", step="Check the file.")
    return _out.DONE if all(done) else _out.IN_PART


def _name_lines(lines: list[Line], path: Path, flora: Flora, who: Reader, named: list[Specimen]) -> bool:
    """Name lines together, print them in their order; whether all could be named."""
    from tepal.plant import identify_many

    plants = [plant_ for _, _, plant_ in lines if not isinstance(plant_, Refused)]
    batch = identify_many(plants, flora=flora, reader=who, following=True)
    row = 0
    fine = True
    for number, name, plant_ in lines:
        refusal = plant_ if isinstance(plant_, Refused) else batch.refused.get(row)
        if refusal is not None:
            fine = False
            where = refusal.where.file
            place = Where(path.name, number, None if where == "line" else where)
            _out.emit({"id": name, "error": str(refusal.at(place))})
        else:
            named.append(plants[row])
            posterior = batch.posterior[row].tolist()
            _out.emit(
                {
                    "id": name,
                    "posterior": dict(zip(batch.taxa, posterior, strict=True)),
                    "enough": batch.enough[row],
                    "next": [look.character for look in batch.next[row]],
                    "best": batch.taxa[posterior.index(max(posterior))],
                }
            )
        row += not isinstance(plant_, Refused)
    return fine


def _lines(path: Path) -> Iterator[tuple[int, bytes]]:
    try:
        with path.open("rb") as file:
            for number, raw in enumerate(file, start=1):
                text = raw.removeprefix(b"\xef\xbb\xbf").strip() if number == 1 else raw.strip()
                if text:
                    yield number, text
    except OSError as problem:
        raise Refused(
            f"the file cannot be read: {problem.strerror or problem}",
            where=path.name,
            rule="A readable file is needed.",
            step="Check the name and the rights.",
        ) from None


def _entry(raw: bytes) -> dict[str, Any]:
    try:
        entry = json.loads(raw.decode("utf-8"), object_pairs_hook=_once)
    except (ValueError, RecursionError) as problem:
        # UnicodeDecodeError and JSONDecodeError are ValueErrors, as is a number of too many digits.
        raise Refused(
            f"no JSON: {str(problem)[:80]}", where="line", rule="One JSON object a line.", step="Correct the line."
        ) from None
    if not isinstance(entry, dict):
        raise Refused(
            f"{type(entry).__name__}, no object", where="line", rule="One JSON object a line.", step="Correct the line."
        )
    return entry


def _id(entry: Mapping[str, Any]) -> str | int:
    name = entry.get("id")
    if isinstance(name, bool) or not isinstance(name, (str, int)) or name == "":
        raise Refused(
            "no id" if name is None else f"id {name!r}",
            where="id",
            rule="A line has an id, a text or whole number.",
            step="Give each plant its own.",
        )
    return name


def _checked_keys(entry: Mapping[str, Any]) -> None:
    for key in entry:
        near = [] if key in _KEYS else get_close_matches(str(key).casefold(), _KEYS, n=1, cutoff=0.75)
        if near and near[0] not in entry:
            # Other keys are the file's own business; one that is nearly ours is a slip that would go unseen.
            raise Refused(
                f"key {key!r}", where=str(key), rule=f"Keys are {', '.join(_KEYS)}.", step=f"Did you mean {near[0]}?"
            )


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{twice!r} stands twice in one object")
    return found

"""`tepal plates`: drawings of what to look at, as SVG files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out


def plates(
    which: str | None = None,
    /,
    *,
    to: Path = Path(),
    taxon: str | None = None,
    tables: Path | None = None,
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Write drawings of what to look at on a plant: all of them, those of one character, or one state.

    Parameters
    ----------
    which: str
        A character (leaf_outline) or one of its states (leaf_outline=ovate; for a measured one low, usual or high).
    to: Path
        Folder for the files; made if it is not there. The folder you are in, if not given.
    taxon: str
        Code of a taxon: draws its plant, leaf, head, stem and seedling instead.
    tables: Path
        A folder of tables of another weed group; the pigweeds if not given.
    units: str
        us: scale bars in inches. metric: in centimeters.
    json_output: bool
        Print one JSON object a drawing.
    """
    from tepal import plates as drawing
    from tepal.flora import load
    from tepal.tables import Refused, write_whole
    from tepal.words import Words

    if which is not None and taxon is not None:
        raise Refused(
            "a character and --taxon",
            where="command line",
            rule="One question at a time.",
            step="Give the character, or --taxon CODE.",
        )
    flora, words = load() if tables is None else load(tables.name, folder=tables), Words(units=units)
    if taxon is not None:
        code = flora.taxon(taxon).code
        made = list(drawing.draw_taxon_all(flora, code, words=words))
    elif which is None:
        made = list(drawing.draw_all(flora, words=words))
    else:
        character, equals, state = which.partition("=")
        known = [state] if equals else drawing.states(drawing.character_of(flora, character))
        made = [drawing.draw(flora, character, one, words=words) for one in known]
    # Nothing is written before everything is drawn.
    try:
        to.mkdir(parents=True, exist_ok=True)
        for plate in made:
            write_whole(to / f"{plate.name}.svg", plate.svg.encode())
    except OSError as problem:
        raise Refused(
            f"cannot write there: {problem.strerror or problem}",
            where=str(to),
            rule="The drawings go into a folder that can be written.",
            step="Give another folder with --to.",
        ) from None
    for plate in made:
        if json_output:
            _out.emit(
                {
                    "file": str(to / f"{plate.name}.svg"),
                    "character": plate.character,
                    "state": plate.state,
                    "title": plate.title,
                    "alt": plate.alt,
                    "value": plate.value,
                    "unit": plate.unit,
                    "scale_mm": plate.scale_mm,
                }
            )
    if not json_output:
        _out.say(
            words.plural("{count} drawing, in {folder}.", "{count} drawings, in {folder}.", len(made), folder=str(to))
        )
    return _out.DONE

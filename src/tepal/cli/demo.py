"""`tepal demo`: the invented county, its ledger and its letters."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out


def demo(
    folder: Path = Path("larkmoor"),
    /,
    *,
    units: Literal["us", "metric"] = "us",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Make the demo county: eleven sites, their record, a reading and letters for each.

    Parameters
    ----------
    folder: Path
        Where to make it; a new folder, or one that an earlier demo made.
    units: str
        us or metric, for the letters and the lines.
    json_output: bool
        Print one JSON object.
    """
    from tepal import demo as county_room
    from tepal.words import Words

    progress = _out.warn if sys.stderr.isatty() and not json_output else None
    made = county_room.make(folder, words=Words(units=units), progress=progress)
    if json_output:
        sites = [
            {"site": v.site, "name": v.name, "as_of": v.as_of, "pdf": str(v.pdf), "html": str(v.html), "text": v.text}
            for v in made.visits
        ]
        _out.emit({"ledger": str(made.ledger), "letters": str(made.letters), "sites": sites})
        return _out.DONE
    for line in county_room.lines(made):
        _out.say(line)
        _out.say()
    return _out.DONE

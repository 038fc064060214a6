"""`tepal flora`: what is published of a taxon, and what stands on a source."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def flora(
    code: str | None = None,
    /,
    *,
    source: str | None = None,
    tables: Path | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """What is known of a taxon, or what stands on a source; without either, the list of taxa.

    Parameters
    ----------
    code: str
        Code of the taxon, for example AMAPA.
    source: str
        Key of a source; prints its citation and the facts that stand on it.
    tables: Path
        A folder of tables of another weed group; the pigweeds if not given.
    json_output: bool
        Print one JSON object.
    """
    from tepal.flora import list_facts, load, source_facts, taxon_facts, tell_list, tell_source, tell_taxon
    from tepal.tables import Refused
    from tepal.words import Words

    if code is not None and source is not None:
        raise Refused(
            "a code and a source",
            where="command line",
            rule="One question at a time.",
            step="Give the code of a taxon, or --source KEY.",
        )
    known = load() if tables is None else load(tables.name, folder=tables)
    words = Words()
    if code is not None:
        code = known.taxon(code).code
        facts, lines = taxon_facts(known, code), tell_taxon(known, code, words)
    elif source is not None:
        source = known.source(source).key
        facts, lines = source_facts(known, source), tell_source(known, source, words)
    else:
        facts, lines = list_facts(known), tell_list(known, words)
    if json_output:
        _out.emit(facts)
        return _out.DONE
    for line in lines:
        _out.say(line)
    return _out.DONE

"""`tepal amend ID`: a correction of an entry."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def amend(
    id: str,
    *,
    ledger: str,
    set: Annotated[list[str] | None, Parameter(negative=(), consume_multiple=True)] = None,
    body: str | None = None,
    by: str = "office",
    beside: Annotated[bool, Parameter(negative=())] = False,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Correct an entry. The old one stays in the record; the new one counts.

    An entry that has been corrected before is corrected from where it stands now, so that nothing is lost.

    Parameters
    ----------
    id: str
        The entry's id, as `tepal history` tells it.
    ledger: str
        The ledger: a file, or postgresql://…
    set: list[str]
        KEY=VALUE; several may be given. A dotted key reaches into a list (counts.0.count=5); KEY= takes a field away.
    body: str
        The whole new body as JSON, instead of --set.
    by: str
        Who corrects.
    beside: bool
        Do not replace an earlier correction: stand beside it, as a second opinion. Readings then name the dispute.
    json_output: bool
        Print one JSON object.
    """
    from json import loads

    from tepal.ledger import Ledger
    from tepal.ledger import amend as correct
    from tepal.tables import Refused

    whole = None
    if body is not None:
        if set:
            raise Refused("--set and --body", where="command line", rule="One of them.", step="Leave one out.")
        try:
            whole = loads(body)
        except (ValueError, RecursionError) as problem:
            raise Refused(
                f"torn JSON: {problem}", where="--body", rule="The body is one JSON object.", step="Correct it."
            ) from None
        if not isinstance(whole, dict):
            raise Refused("no JSON object", where="--body", rule="The body is one JSON object.", step="Correct it.")
    with Ledger.open(ledger) as book:
        made = correct(book, id, by=by, fields=set or (), body=whole, beside=beside)
    if json_output:
        _out.emit(
            {
                "added": 1,
                "id": made.made.id,
                "amends": made.corrects.id,
                "kind": made.made.kind,
                "site": made.made.site,
                "changed": made.changed,
            }
        )
    else:
        _out.say(f"Corrected: {', '.join(made.changed)}. The new entry is {made.made.id}; the old one stays on record.")
    return _out.DONE

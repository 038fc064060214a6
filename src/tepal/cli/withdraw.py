"""`tepal withdraw ID`: an entry taken back."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter

from tepal.cli import _out


def withdraw(
    id: str,
    *,
    ledger: str,
    reason: str | None = None,
    by: str = "office",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Take an entry back, with its corrections. It stays in the record and no longer counts.

    To bring it back, withdraw the withdrawal.

    Parameters
    ----------
    id: str
        The entry's id, as `tepal history` tells it.
    ledger: str
        The ledger: a file, or postgresql://…
    reason: str
        Why.
    by: str
        Who takes it back.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger
    from tepal.ledger import withdraw as take_back

    with Ledger.open(ledger) as book:
        made = take_back(book, id, by=by, reason=reason)
    if json_output:
        _out.emit(
            {
                "added": 1,
                "id": made.made.id,
                "withdraws": made.corrects.id,
                "kind": made.corrects.kind,
                "site": made.made.site,
                "restores": made.restores,
            }
        )
    elif made.restores:
        _out.say(f"The withdrawal is undone: what it took back counts again. To repeat it, withdraw {made.made.id}.")
    else:
        _out.say(f"Taken back: a {made.corrects.kind}. It stays on record; to bring it back, withdraw {made.made.id}.")
    return _out.DONE

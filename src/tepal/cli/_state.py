"""A state of the United States as people name it."""

from __future__ import annotations

from tepal.tables import Refused


def named_state(text: str | None) -> str | None:
    """The two letters of a state of the United States that `text` names; None of None.

    Raises
    ------
    Refused
        If it is none.
    """
    from tepal.ledger.formats import state_code

    code = None if text is None else state_code(text)
    if text is not None and code is None:
        raise Refused(
            f"state {text!r}",
            where="--state",
            rule="A state of the United States has two letters, as IA, or its name.",
            step="Correct it; leave it out elsewhere.",
        )
    return code

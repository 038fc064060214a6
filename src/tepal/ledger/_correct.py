"""Corrections by a person: an entry amended, or withdrawn, by a new one."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tepal.ledger._entry import Entry, body_plain, entry, event_date
from tepal.ledger._standing import settle
from tepal.ledger._store import Ledger
from tepal.tables import Refused, Where

_LINE = "command line"


@dataclass(frozen=True, slots=True)
class Corrected:
    """The new entry, and the entry that it corrects (which may be an amendment of the one that was named)."""

    made: Entry
    corrects: Entry
    changed: tuple[str, ...] = ()
    restores: bool = False


def amend(
    ledger: Ledger,
    id: str,
    *,
    by: str,
    fields: Sequence[str] = (),
    body: Mapping[str, Any] | None = None,
    beside: bool = False,
) -> Corrected:
    """Amend an entry: `fields` are ``key=value`` (a dotted key reaches into lists, no value takes the field away),
    or `body` is the whole new body.

    Where the entry has been amended, what stands in its place is amended, so that no earlier correction is lost; with
    `beside` the new amendment stands beside the earlier one, as a second opinion that the reading names.

    Raises
    ------
    Refused
        If there is no such entry, it is withdrawn, several amendments of it stand, or the new body breaks a rule.
    """
    named = _entry(ledger, id)
    if named.kind == "withdraw":
        raise Refused(
            f"{id} is a withdrawal", where=_LINE, rule="It has nothing to amend.", step="Withdraw it to undo it."
        )
    target = named if beside else _standing(ledger, named)
    old = body_plain(target.body)
    new = dict(body) if body is not None else _with_fields(target, fields)
    where = Where(_LINE, column="--body" if body is not None else "--set")
    made = entry(target.kind, new, by=by, site=target.site, amends=target.id, where=where)
    if event_date(made) != event_date(target) and made.body.on is None and target.body.on is None and body is None:
        # The day of what was seen came from the clock of the old entry; the new one is written later.
        new["on"] = old["on"] = event_date(target).isoformat()
        made = entry(target.kind, new, by=by, site=target.site, amends=target.id, where=where)
    after = body_plain(made.body)
    changed = tuple(key for key in {**old, **after} if old.get(key) != after.get(key))
    if not changed:
        raise Refused(
            "nothing is changed",
            where=_LINE,
            rule="An amendment says something else than its entry.",
            step="Give --set KEY=VALUE or --body JSON.",
        )
    _add(ledger, made)
    return Corrected(made, target, changed)


def withdraw(ledger: Ledger, id: str, *, by: str, reason: str | None = None) -> Corrected:
    """Withdraw an entry with its amendments; withdrawing a withdrawal lets it stand again.

    Raises
    ------
    Refused
        If there is no such entry, or it is withdrawn already.
    """
    target = _entry(ledger, id)
    if not _leaves(ledger, target):
        raise Refused(
            f"{id} is withdrawn already",
            where=_LINE,
            rule="An entry is withdrawn once.",
            step="To bring it back, withdraw its withdrawal; `tepal history` names it.",
        )
    made = entry(
        "withdraw", {"reason": reason} if reason else {}, by=by, site=target.site, amends=target.id, where=_LINE
    )
    _add(ledger, made)
    return Corrected(made, target, restores=target.kind == "withdraw")


def _entry(ledger: Ledger, id: str) -> Entry:
    found = ledger.get(id.strip().lower())
    if found is None:
        raise Refused(
            f"no entry {id!r}",
            where=_LINE,
            rule="An entry is named by its id.",
            step="`tepal history SITE` lists the ids.",
        )
    return found


def _leaves(ledger: Ledger, named: Entry) -> tuple[Entry, ...]:
    # Amendments stay with their site: the entries of that site are all that can bear on it.
    log = [one for one in ledger.entries(named.site) if one.site == named.site]
    leaves, _ = settle(log)
    return leaves[named.id]


def _standing(ledger: Ledger, named: Entry) -> Entry:
    leaves = _leaves(ledger, named)
    if not leaves:
        raise Refused(
            f"{named.id} is withdrawn",
            where=_LINE,
            rule="What is withdrawn is not amended.",
            step="Withdraw the withdrawal first, or make a new entry.",
        )
    if len(leaves) > 1:
        raise Refused(
            f"{len(leaves)} amendments of {named.id} stand side by side",
            where=_LINE,
            rule="It must be clear which of them is meant.",
            step=f"Name one of {', '.join(leaf.id for leaf in leaves)}, or withdraw those that are wrong.",
        )
    return leaves[0]


def _add(ledger: Ledger, made: Entry) -> None:
    added = ledger.add([made])
    if added.refused:
        raise added.refused[0].why


def _with_fields(target: Entry, fields: Sequence[str]) -> dict[str, Any]:
    """The body with each field set: as JSON where it is JSON and the field will have it, else as the text it is."""
    pairs = []
    for field in fields:
        key, equals, value = field.partition("=")
        if not equals or not key.strip():
            raise Refused(
                f"--set {field!r}",
                where=_LINE,
                rule="A change is written KEY=VALUE.",
                step="Write it so; KEY= takes the field away.",
            )
        pairs.append((key.strip(), value))
    body = body_plain(target.body)
    for key, value in pairs:
        tries = [_set(body, key, read) for read in _readings(value)]
        body = next((one for one in tries if _holds(target, one)), tries[0])
    return body


def _readings(value: str) -> list[Any]:
    try:
        as_json = [json.loads(value)]
    except (ValueError, RecursionError):
        as_json = []
    as_yes = {"yes": [True], "no": [False]}.get(value.strip().lower(), [])
    return [None] if value == "" else [*as_json, *as_yes, value]


def _holds(target: Entry, body: Mapping[str, Any]) -> bool:
    try:
        entry(target.kind, body, by=target.by, site=target.site, amends=target.amends, made_at=target.made_at)
    except Refused:
        return False
    return True


def _set(body: Mapping[str, Any], key: str, value: Any) -> dict[str, Any]:
    copy: dict[str, Any] = json.loads(json.dumps(body))
    here: Any = copy
    *path, last = key.split(".")
    for part in path:
        here = _step(here, part, key)
    if isinstance(here, list):
        _step(here, last, key)
        if value is None:
            del here[int(last)]
        else:
            here[int(last)] = value
    elif isinstance(here, dict):
        if value is None:
            here.pop(last, None)
        else:
            here[last] = value
    else:
        raise _no_such(key)
    return copy


def _step(here: Any, part: str, key: str) -> Any:
    if isinstance(here, list) and part.isdecimal() and int(part) < len(here):
        return here[int(part)]
    if isinstance(here, dict):
        return here.setdefault(part, {})
    raise _no_such(key)


def _no_such(key: str) -> Refused:
    return Refused(
        f"--set {key}=…",
        where=_LINE,
        rule="A dotted key names a field, then the place in a list, from 0.",
        step="Look at the entry with `tepal history SITE --json`.",
    )

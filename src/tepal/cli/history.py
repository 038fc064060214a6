"""`tepal history SITE`: every entry of a site, and what became of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.ledger import Told
    from tepal.words import Words


def history(
    site: str,
    *,
    ledger: str,
    known_to: int | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Tell everything that was entered of a site, in order of arrival: by whom, when, what, and what was corrected.

    Nothing is left out: amended and withdrawn entries are marked, and where two corrections of one entry stand side by
    side, both are shown.

    Parameters
    ----------
    site: str
        The site's id or name.
    ledger: str
        The ledger: a file, or postgresql://…
    known_to: int
        What had arrived up to this place in the ledger.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger, says, site_log
    from tepal.ledger import history as tell
    from tepal.words import Words

    words = Words()
    with Ledger.open(ledger) as book:
        found = book.find_site(site)
        told = tell(site_log(book, found.id, known_to=book.position(known_to)))
    if json_output:
        _out.emit(
            {
                "site": found.id,
                "name": found.name,
                "entries": [_plain(one, says(one.entry, words)) for one in told],
                "disputes": _disputes(told),
            }
        )
        return _out.DONE
    numbers = {one.entry.id: one.entry.seq or 0 for one in told}
    _out.say(
        words.t(
            "{name}: {n} in the record.", name=found.name, n=words.plural("{count} entry", "{count} entries", len(told))
        )
    )
    for one in told:
        _out.say()
        _out.say(_head(one, words))
        _out.say(f"   {says(one.entry, words)}")
        for line in _fate(one, numbers, words):
            _out.say(f"   {line}")
        _out.say(f"   {one.entry.id}")
    return _out.DONE


def _plain(one: Told, text: str) -> dict[str, Any]:
    from tepal.ledger import body_plain

    entry = one.entry
    return {
        "seq": entry.seq,
        "id": entry.id,
        "kind": entry.kind,
        "site": entry.site,
        "by": entry.by,
        "made_at": entry.made_at,
        "got_at": entry.got_at,
        "on": one.on,
        "says": text,
        "status": one.status,
        "counts": one.counts,
        "amends": entry.amends,
        "amended_by": one.amended_by,
        "withdrawn_by": one.withdrawn_by,
        "disputed_with": one.rivals,
        "body": body_plain(entry.body),
    }


def _disputes(told: tuple[Told, ...]) -> list[list[str]]:
    """The claims that stand against one another, each group once, in order of arrival."""
    order = {one.entry.id: number for number, one in enumerate(told)}
    groups = {frozenset((one.entry.id, *one.rivals)) for one in told if one.rivals}
    return sorted((sorted(group, key=order.__getitem__) for group in groups), key=lambda group: order[group[0]])


def _head(one: Told, words: Words) -> str:
    entry = one.entry
    on = words.day(one.on, year=True) if one.on else words.t("for every date")
    head = words.t("{n}. {day}, by {who}", n=entry.seq, day=on, who=entry.by)
    made, got = entry.made_at.date(), entry.got_at.date() if entry.got_at else None
    if one.on is None or made != one.on:
        head += words.t("; written {day}", day=words.day(made, year=True))
    if got is not None and got != made:
        head += words.t("; arrived {day}", day=words.day(got, year=True))
    return head


def _fate(one: Told, numbers: dict[str, int], words: Words) -> list[str]:
    def listed(ids: tuple[str, ...]) -> str:
        return words.listing([str(numbers.get(id, id)) for id in ids])

    lines = []
    if one.entry.amends is not None:
        what = words.t("Takes back {n}.") if one.entry.kind == "withdraw" else words.t("Corrects {n}.")
        lines.append(what.format(n=listed((one.entry.amends,))))
    if one.status == "withdrawn":
        by = words.t("Withdrawn by {n}.", n=listed(one.withdrawn_by)) if one.withdrawn_by else words.t("Withdrawn.")
        lines.append(by)
    elif one.amended_by:
        lines.append(words.t("Corrected by {n}.", n=listed(one.amended_by)))
    if one.rivals:
        lines.append(
            words.t("Stands against {n}: they say different things, and this one counts.", n=listed(one.rivals))
            if one.counts
            else words.t("Stands against {n}: they say different things, and that one counts.", n=listed(one.rivals))
        )
    return lines

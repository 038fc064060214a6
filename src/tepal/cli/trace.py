"""`tepal trace SITE`: where seed may have gone, or come from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from cyclopts import Parameter

from tepal.cli import _out

if TYPE_CHECKING:
    from tepal.ledger import Hop


def trace(
    site: str,
    *,
    ledger: str,
    back: Annotated[bool, Parameter(negative=())] = False,
    from_: Annotated[str | None, Parameter(name="--from")] = None,
    to: str | None = None,
    known_to: int | None = None,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Follow hay, feed, manure, bedding, seed lots and machines from a site, or back to where it may have come from.

    Only movements that can have carried seed are told: each begins where seed can have been by that day. Two movements
    of one day count in either order.

    Parameters
    ----------
    site: str
        The site's id or name.
    ledger: str
        The ledger: a file, or postgresql://…
    back: bool
        From where it may have come, rather than where it may have gone.
    from_: str
        Count movements from this day on (YYYY-MM-DD): the day from which seed can have been there.
    to: str
        Count movements up to this day: with --back, the day on which it was found.
    known_to: int
        Count what had arrived up to this place in the ledger.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger
    from tepal.ledger import trace as follow
    from tepal.tables import parse_date
    from tepal.words import Words

    first = None if from_ is None else parse_date(from_, "--from")
    last = None if to is None else parse_date(to, "--to")
    with Ledger.open(ledger) as book:
        found = follow(book, site, back=back, first=first, last=last, known_to=book.position(known_to))
        names = {one.id: one.name for one in book.sites()}
    if json_output:
        _out.emit(
            {
                "site": found.site,
                "name": names.get(found.site, found.site),
                "back": back,
                "from": first,
                "to": last,
                "moves": [_plain(hop) for hop in found.hops],
                "reached": [
                    {
                        "site": one.place if one.is_site else None,
                        "place": names.get(one.place, one.place),
                        "on": one.on,
                        "path": [hop.entry for hop in one.path],
                    }
                    for one in found.reached
                ],
            }
        )
        return _out.DONE
    words = Words()

    def name(place: str) -> str:
        return names.get(place, place)

    if not found.hops:
        _out.say(
            words.t("Nothing on record was brought to {site} that can have carried seed.", site=name(found.site))
            if back
            else words.t("Nothing on record left {site} that can have carried seed.", site=name(found.site))
        )
    for hop in found.hops:
        tag = f" ({hop.tag})" if hop.tag else ""
        start = words.t("{place} (there it was last)", place=name(hop.start)) if hop.start_reckoned else name(hop.start)
        _out.say(
            words.t(
                "{day}: {what}{tag} from {start} to {end}.",
                day=words.day(hop.on, year=True), what=hop.what, tag=tag, start=start, end=name(hop.end),
            )
        )  # fmt: skip
    if found.reached:
        places = words.listing([name(one.place) for one in found.reached])
        _out.say(
            words.t("Seed may have come from: {places}.", places=places)
            if back
            else words.t("Seed may have come to: {places}.", places=places)
        )
    if first is None and not back:
        _out.say(words.t("All movements on record are counted; --from DAY leaves out those before there was seed."))
    return _out.DONE


def _plain(hop: Hop) -> dict[str, Any]:
    return {
        "entry": hop.entry,
        "what": hop.what,
        "on": hop.on,
        "from": hop.start,
        "to": hop.end,
        "to_is_site": hop.end_is_site,
        "tag": hop.tag,
        "from_reckoned": hop.start_reckoned,
    }

"""`tepal party`: who has to do with a site, and whether they let the office in."""

from __future__ import annotations

from typing import Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out


def party(
    name: str | None = None,
    *,
    ledger: str,
    site: str,
    role: Annotated[list[str] | None, Parameter(negative=())] = None,
    contact: str | None = None,
    consent: Literal["yes", "no"] | None = None,
    consent_on: str | None = None,
    by: str = "office",
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Record a person at a site, with roles and consent to enter; without a name, list who is on record there.

    A person who is on record there is corrected: what is not given stays as it was.

    Parameters
    ----------
    name: str
        Person, firm or office.
    ledger: str
        The ledger: a file, or postgresql://…
    site: str
        The site's id or name.
    role: list[str]
        owner, farms, sprays, harvests, decides, pays or may_be_told; may be given several times.
    contact: str
        Telephone, mail or address.
    consent: str
        May the office walk the site: yes or no. Without it: not asked.
    consent_on: str
        The day on which that was said (YYYY-MM-DD); today if not given.
    by: str
        Who enters it.
    json_output: bool
        Print one JSON object.
    """
    from tepal.ledger import Ledger, body_plain, parties, record_party, says
    from tepal.tables import parse_date
    from tepal.words import Words

    said = {"yes": True, "no": False, None: None}[consent]
    day = None if consent_on is None else parse_date(consent_on, "--consent-on")
    words = Words()
    with Ledger.open(ledger) as book:
        where = book.find_site(site)
        if name is None:
            listed = parties(book, where.id)
            if json_output:
                people = [{"id": one.id, **body_plain(one.body)} for one in listed]
                _out.emit({"site": where.id, "name": where.name, "parties": people})
            else:
                for one in listed:
                    _out.say(says(one, words))
                if not listed:
                    _out.say(words.t("Nobody is on record for {site}.", site=where.name))
            return _out.DONE
        made = record_party(
            book,
            name,
            site=where.id,
            roles=role or (),
            contact=contact,
            consent=said,
            consent_on=day,
            by=by,
        )
    if json_output:
        _out.emit(
            {
                "added": 1,
                "id": made.made.id,
                "amends": None if made.corrects is None else made.corrects.id,
                "site": where.id,
                "party": body_plain(made.made.body),
            }
        )
    else:
        _out.say(words.t("On record for {site}: {party}", site=where.name, party=says(made.made, words)))
    return _out.DONE

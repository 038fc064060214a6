"""Who has to do with a site, for those who may know them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tepal.ledger import Entry, Party, roles_said
from tepal.serve import Who
from tepal.words import Words


@dataclass(frozen=True, slots=True)
class Contact:
    """Somebody who has to do with the site."""

    name: str
    roles: str
    consent: str
    reach: str


def contacts(parties: Sequence[Entry], who: Who, words: Words) -> tuple[Contact, ...]:
    """Who owns, farms and decides is the office's to know; who let us in is told elsewhere, to all who go there."""
    return tuple(_contact(entry, words) for entry in parties) if who.sees_all else ()


def _contact(entry: Entry, words: Words) -> Contact:
    body = entry.body
    assert isinstance(body, Party)
    roles = roles_said(words)
    consent = {
        True: words.t("We may go in."),
        False: words.t("We may not go in."),
        None: words.t("Not asked yet whether we may go in."),
    }[body.consent_to_enter]
    listed = words.listing([roles[role] for role in body.roles])
    return Contact(body.name, listed, consent, body.contact or "")

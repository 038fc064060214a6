"""Who has to do with a site, for those who may know them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tepal.ledger import Entry, Party
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


def roles_in_words(words: Words) -> dict[str, str]:
    """What somebody is to a site, by the record's name for it."""
    return {
        "owner": words.t("owns it"),
        "farms": words.t("farms it"),
        "sprays": words.t("sprays it"),
        "harvests": words.t("harvests it"),
        "decides": words.t("decides"),
        "pays": words.t("pays"),
        "may_be_told": words.t("may be told"),
    }


def _contact(entry: Entry, words: Words) -> Contact:
    body = entry.body
    assert isinstance(body, Party)
    roles = roles_in_words(words)
    consent = {
        True: words.t("We may go in."),
        False: words.t("We may not go in."),
        None: words.t("Not asked yet whether we may go in."),
    }[body.consent_to_enter]
    listed = words.listing([roles[role] for role in body.roles])
    return Contact(body.name, listed, consent, body.contact or "")

"""Letters and crew cards as they are asked for: made in a process of their own, from the record as it stands."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass
from datetime import date

from tepal.serve.desk._reckoner import Wanted, flora_with
from tepal.words import Units, Words

READERS = ("tenant", "owner", "applicator", "harvester", "crew")
FORMS = {"pdf": "application/pdf", "html": "text/html; charset=utf-8", "txt": "text/plain; charset=utf-8"}


@dataclass(frozen=True, slots=True)
class Asked:
    """Which letter: for whom, in which form, language and units, under which office's head."""

    reader: str
    form: str
    language: str
    units: Units
    office: str


def paper(ledger: str, law: str | None, wanted: Wanted, asked: Asked) -> bytes:
    """A letter or card.

    Raises
    ------
    Refused
        If the site is not on record by that day, or a crew is not sent there.
    """
    from tepal import advice as advising
    from tepal import letter as letters
    from tepal import reading as readings
    from tepal.ledger import Ledger

    flora = flora_with(law)
    with Ledger.open(ledger) as book:
        evidence = readings.gather(book, wanted.site, as_of=wanted.as_of, known_to=wanted.position)
    made = readings.compose(evidence, site=wanted.site, as_of=wanted.as_of, flora=flora)
    advice = advising.advise(made, flora=flora)
    if asked.reader == "crew":
        languages = sorted(("en", "es"), key=lambda one: one != asked.language)
        written = letters.crew_card(made, advice, flora=flora, languages=languages, units=asked.units)
    else:
        written = letters.write(
            made,
            advice,
            entries=evidence.standing.entries,
            flora=flora,
            words=Words(asked.language, asked.units),
            office=asked.office,
            reader=asked.reader,  # type: ignore[arg-type]  # one of READERS
        )
    return {"pdf": written.pdf, "html": written.html.encode(), "txt": written.text.encode()}[asked.form]


def file_name(site: str, as_of: date, asked: Asked) -> str:
    """What the file is called where it is saved."""
    stem = re.sub(r"[^A-Za-z0-9_-]+", "-", site).strip("-") or "site"
    reader = "" if asked.reader == "tenant" else f"-{asked.reader}"
    return f"{stem}-{as_of.isoformat()}{reader}.{asked.form}"


def policy_of(page: bytes) -> str:
    """The Content-Security-Policy of a letter as a page: its own style sheet, its own typefaces, and nothing else."""
    sheets = re.findall(rb"<style>(.*?)</style>", page, re.DOTALL)
    hashes = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(one).digest()).decode()}'" for one in sheets)
    return (
        f"default-src 'none'; style-src {hashes or chr(39) + 'none' + chr(39)}; font-src data:; img-src data:; "
        "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
    )

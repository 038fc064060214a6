"""`tepal letter SITE`: the letter that the grower gets, as PDF, as a page and as a text for the telephone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from tepal.cli import _out


def letter(
    site: str,
    *,
    ledger: str,
    as_of: str | None = None,
    known_to: int | None = None,
    out: Path | None = None,
    reader: Annotated[
        Literal["tenant", "owner", "applicator", "harvester", "crew"], Parameter(name="--for")
    ] = "tenant",
    law: Path | None = None,
    units: Literal["us", "metric"] = "us",
    language: Literal["en", "es"] = "en",
    signed: str = "",
    role: str = "",
    office: str = "",
    to: str = "",
    leaf: Path | None = None,
    record: Annotated[bool, Parameter(negative=())] = False,
    json_output: Annotated[bool, Parameter(name="--json", negative=())] = False,
) -> int:
    """Write the letter about a site: what was found and how sure, how many, by when, what to do first and what not.

    Parameters
    ----------
    site: str
        The site's id or name.
    ledger: str
        The ledger: a file, or postgresql://…
    as_of: str
        Count what happened up to this date (YYYY-MM-DD); today if not given.
    known_to: int
        Count what had arrived up to this place in the ledger.
    out: Path
        Folder for the PDF and the page; made if it is not there. The folder you are in, if not given.
    reader: str
        Whose letter it is. tenant: the full one. owner: what is there, what waiting costs, who does what. applicator:
        heights, dates, what failed, traits, why not to spray. harvester: the order, clean-out, what stays. crew: one
        card for those who pull, in drawings and large type, English and Spanish.
    law: Path
        The office's own table of state law (CSV): its rows stand in place of ours.
    units: str
        us: acres, inches, US Letter paper. metric: hectares, centimeters, A4.
    language: str
        en or es; on a crew card the one that stands first. What is not translated yet stands in English.
    signed: str
        Who answers for the letter.
    role: str
        That person's office.
    office: str
        The sending office, as the letter's head.
    to: str
        Whom it goes to.
    leaf: Path
        A photo of a plucked leaf from there: measured as by `tepal leaf`, and shown behind the letter, drawn anew and
        small, without the original's place and time.
    record: bool
        Enter into the ledger that this letter was given out (with --signed).
    json_output: bool
        Print one JSON object.
    """
    from datetime import date

    from tepal import advice as advising
    from tepal import letter as letters
    from tepal import reading as readings
    from tepal.flora import load, replace_law
    from tepal.ledger import Ledger
    from tepal.tables import Refused, parse_date
    from tepal.words import Words

    if record and not signed:
        raise Refused(
            "--record without --signed",
            where="command line",
            rule="A letter given out has someone who answers for it.",
            step="Add --signed NAME.",
        )
    day = date.today() if as_of is None else parse_date(as_of, "--as-of")
    flora, words = load() if law is None else replace_law(load(), law), Words(language, units)
    with Ledger.open(ledger) as book:
        found = readings.read(book, site, as_of=day, known_to=book.position(known_to), flora=flora)
        advice = advising.advise(found, flora=flora)
        if reader == "crew":
            written = letters.crew_card(
                found, advice, flora=flora, languages=sorted(("en", "es"), key=lambda one: one != language), units=units
            )
        else:
            written = letters.write(
                found,
                advice,
                entries=book.standing(found.site, day, found.known_to).entries,
                flora=flora,
                words=words,
                signer=letters.Signer(signed, role),
                office=office,
                to=to,
                reader=reader,
                leaf=None if leaf is None else letters.leaf_photo(leaf, words),
            )
        pdf, page = letters.save(written, out or Path(), found.site, day, reader=reader)
        if record:
            book.add([letters.entry_of(written, found, signed_by=signed, to=to, reader=reader)])
    if json_output:
        _out.emit({"pdf": str(pdf), "html": str(page), "text": written.text})
    else:
        _out.say(written.text)
        _out.say()
        _out.say(words.t("The letter: {pdf}, {page}", pdf=pdf, page=page))
    return _out.DONE

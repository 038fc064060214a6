"""A finished letter to files, and to the entry that says it was given out."""

from __future__ import annotations

import hashlib
import re
from datetime import date
from pathlib import Path

from tepal.ledger import Entry, entry
from tepal.letter._letter import Letter
from tepal.reading import Reading
from tepal.tables import Refused, write_whole


def save(letter: Letter, folder: Path, site: str, day: date, *, reader: str = "tenant") -> tuple[Path, Path]:
    """Write `SITE-DATE.pdf` and `.html` into a folder, each whole or not at all; gives back both paths.

    A letter that is not the tenant's carries its reader in its name: `SITE-DATE-owner.pdf`.

    Raises
    ------
    Refused
        If the folder cannot be made or written to.
    """
    # A site's id comes from people and files: no part of it may lead out of the folder.
    stem = f"{re.sub(r'[^A-Za-z0-9_-]+', '-', site).strip('-') or 'site'}-{day.isoformat()}"
    stem += "" if reader == "tenant" else f"-{reader}"
    pdf, page = folder / f"{stem}.pdf", folder / f"{stem}.html"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in ((pdf, letter.pdf), (page, letter.html.encode())):
            write_whole(path, content)
    except OSError as problem:
        raise Refused(
            f"the letter cannot be written: {problem.strerror or problem}",
            where=str(folder),
            rule="A folder that can be written to is needed.",
            step="Name another with --out.",
        ) from None
    return pdf, page


def entry_of(letter: Letter, reading: Reading, *, signed_by: str, to: str = "", reader: str = "tenant") -> Entry:
    """The `letter` entry: what was told to whom, by whom signed, on what it stood."""
    body = {
        "to": to or None,
        "reader": reader,
        "signed_by": signed_by,
        "as_of": reading.as_of.isoformat(),
        "known_to": reading.known_to,
        "tables": reading.tables,
        "version": reading.version,
        "sha256": hashlib.sha256(letter.pdf).hexdigest(),
        "text": letter.text,
    }
    return entry("letter", {k: v for k, v in body.items() if v is not None}, by=signed_by, site=reading.site)

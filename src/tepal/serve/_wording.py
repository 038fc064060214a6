"""In which language and units a browser is answered: as it chose, else as the office does."""

from __future__ import annotations

from typing import get_args

from fastapi import Request

from tepal.serve._settings import Settings
from tepal.words import Units, Words

WORDING = "tepal-wording"
LANGUAGES = ("en", "es")


def words_of(request: Request, settings: Settings) -> Words:
    """The language and units that this browser chose, else the office's."""
    language, _, units = request.cookies.get(WORDING, "").partition("-")
    if language in LANGUAGES and units in get_args(Units):
        return Words(language, units)  # type: ignore[arg-type]  # checked above
    return Words(settings.language, settings.units)


def words_of_a_stranger(request: Request, settings: Settings) -> Words:
    """Who opens an invitation has chosen nothing yet: the first language of the browser that we have."""
    wished = (
        one.partition(";")[0].strip()[:2].lower() for one in request.headers.get("accept-language", "").split(",")
    )
    return Words(next((one for one in wished if one in LANGUAGES), settings.language), settings.units)

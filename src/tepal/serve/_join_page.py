"""The page that a person sees who opens an invitation: one question, one button."""

from __future__ import annotations

from tepal.serve._plain_page import plain_page
from tepal.serve._settings import Settings
from tepal.words import Words


def join_page(settings: Settings, words: Words) -> str:
    """The page."""
    office = settings.office
    return plain_page(
        "join.html.j2",
        settings,
        words,
        title=words.t("{office} invites you", office=office) if office else words.t("You are invited"),
        intro=words.t("What shall this device be called, so that the office can tell it from others?"),
        device=words.t("This device"),
        button=words.t("Let this device in"),
        missing=words.t("This address holds no invitation. Open the link or scan the picture that you were given."),
        away=words.t("The office could not be reached. Try again where there is a signal."),
        noscript=words.t("This page needs JavaScript."),
    )

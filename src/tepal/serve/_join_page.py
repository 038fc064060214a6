"""The page that a person sees who opens an invitation: one question, one button."""

from __future__ import annotations

from html import escape

from tepal.serve._settings import Settings
from tepal.serve._static import address
from tepal.words import Words

_PAGE = """<!doctype html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="stylesheet" href="{style}">
<script src="{script}" defer></script>
</head>
<body>
<main>
<h1>{title}</h1>
<p id="said" role="status" data-missing="{missing}" data-away="{away}">{intro}</p>
<form id="join" autocomplete="off">
<label for="device">{device}</label>
<input id="device" name="device" required maxlength="200" value="">
<button type="submit">{button}</button>
</form>
<noscript><p>{noscript}</p></noscript>
</main>
</body>
</html>
"""


def join_page(settings: Settings) -> str:
    """The page, in the office's language."""
    words = Words(settings.language, settings.units)
    office = settings.office
    texts = {
        "title": words.t("{office} invites you", office=office) if office else words.t("You are invited"),
        "intro": words.t("What shall this device be called, so that the office can tell it from others?"),
        "device": words.t("This device"),
        "button": words.t("Let this device in"),
        "missing": words.t(
            "This address holds no invitation. Open the link, or scan the picture, that you were given."
        ),
        "away": words.t("The office could not be reached. Try again where there is a signal."),
        "noscript": words.t("This page needs JavaScript."),
    }
    texts = {key: escape(text) for key, text in texts.items()}
    return _PAGE.format(
        language=settings.language, style=address("join/join.css"), script=address("join/join.js"), **texts
    )

"""The plain pages: those of an invitation, of a grower, of a laboratory. Whatever people wrote stands there as text."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from fastapi import Request

from tepal.serve._roles import Who
from tepal.serve._settings import Settings
from tepal.serve._static import address
from tepal.words import Words

if TYPE_CHECKING:
    from jinja2 import Environment


def wants_page(request: Request) -> bool:
    """Whether a browser asks, rather than a program."""
    return "text/html" in request.headers.get("accept", "")


def plain_page(
    template: str, settings: Settings, words: Words, /, who: Who | None = None, here: str = "/", **values: Any
) -> str:
    """A page from a template of this room. `who` reads it, if that is known, at the address `here`."""
    return _environment().get_template(template).render(
        words=words, t=words.t, office=settings.office, address=address, who=who, here=here, **values
    )  # fmt: skip


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    # Always escaped, whatever a template is called; a name that is not given is a fault, not an empty place.
    return Environment(
        loader=PackageLoader("tepal.serve"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )

"""The plain pages: those of an invitation, of a grower, of a laboratory. Whatever people wrote stands there as text."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from fastapi import Request

from tepal.serve._settings import Settings
from tepal.serve._static import address

if TYPE_CHECKING:
    from jinja2 import Environment


def wants_page(request: Request) -> bool:
    """Whether a browser asks, rather than a program."""
    return "text/html" in request.headers.get("accept", "")


def plain_page(template: str, settings: Settings, /, **values: Any) -> str:
    """A page from a template of this room, in the office's language."""
    return _environment().get_template(template).render(
        language=settings.language, office=settings.office, address=address, **values
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

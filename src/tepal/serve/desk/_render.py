"""Templates to pages: one engine, everything escaped; what a page may say without escaping is our own drawings."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from tepal.words import Words

if TYPE_CHECKING:
    from jinja2 import Environment


@lru_cache(maxsize=1)
def _engine() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    folder = files("tepal.serve.desk").joinpath("templates")
    return Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=FunctionLoader(lambda name: folder.joinpath(name).read_text(encoding="utf-8")),
    )


def render(template: str, words: Words, values: Mapping[str, Any]) -> str:
    """A page. In templates `t` and `plural` say messages of the catalogue; `words` words values."""
    return _engine().get_template(template).render(t=words.t, plural=words.plural, words=words, **values)


def drawing(svg: str, alt: str | None = None) -> Any:
    """A drawing of ours, whose texts its writer has escaped, as it may stand in a page; `alt` names it there."""
    from markupsafe import Markup, escape

    if alt is None:
        return Markup(svg)
    start = svg.index(">")
    return Markup(f'{svg[:start]} role="img" aria-label="{escape(alt)}"{svg[start:]}')

"""The letter as one page of HTML that asks nothing of any other address."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from tepal.letter._fonts import embedded
from tepal.letter._ink import INK, MADDER, NIGHT, PAPER, RULE, SOFT, WASH
from tepal.letter._map import Drawn
from tepal.letter._sheet import Sheet


def html(sheet: Sheet, drawn: Drawn | None, *, narrow: Drawn | None = None) -> str:
    """The page, with its map, style and typefaces inside it. Every text is escaped by the template engine.

    `narrow`: the map again for a narrow screen, where `drawn` takes the whole width of a sheet.
    """
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    engine = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = engine.from_string(files("tepal.letter").joinpath("letter.html.j2").read_text(encoding="utf-8"))
    return template.render(
        s=sheet,
        # The one piece of ready markup: our own drawing, whose texts its writer has escaped.
        map=Markup(_figure(drawn)) if drawn else None,
        narrow=Markup(_figure(narrow)) if narrow else None,
        fonts=embedded(),
        ink=INK, soft=SOFT, paper=PAPER, rule=RULE, wash=WASH, accent=MADDER, night=NIGHT,
    )  # fmt: skip


def _figure(drawn: Drawn) -> str:
    start = drawn.svg.index(">")
    named = f' role="img" aria-label="{escape(drawn.alt)}"'
    return drawn.svg[:start] + named + drawn.svg[start:]

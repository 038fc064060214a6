"""The crew card set as a tagged PDF of one page, as a page that carries all it needs, and as a few lines of text."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from html import escape
from importlib.resources import files
from typing import Any

from tepal.letter._crew import CrewCard, Picture
from tepal.letter._fonts import embedded
from tepal.letter._ink import INK, MADDER, NIGHT, PAPER, RULE, SOFT
from tepal.letter._setting import fonts, set_pdf

_TEMPLATES = "tepal.letter"
# How high the drawings are, in points, and whether lines close up: as much as one page has room for.
_ROOM = (
    (150, False), (132, False), (114, False), (96, False), (78, False), (96, True), (78, True), (60, True), (44, True),
)  # fmt: skip


def crew_pdf(card: CrewCard, *, as_of: date) -> bytes:
    """One page, PDF/UA-1; the same card gives the same bytes. What runs over is set with smaller drawings."""
    import typst

    source = files(_TEMPLATES).joinpath("crew.typ").read_bytes()
    given = asdict(card) | {"colours": {"ink": INK, "soft": SOFT, "rule": RULE, "accent": MADDER}}
    for high, tight in _ROOM:
        inputs = _inputs(given | {"high": high, "tight": tight})
        found = json.loads(typst.query(source, "<pages>", "value", font_paths=fonts(), sys_inputs=inputs))
        if found[0] == 1:
            break
    return set_pdf(source, inputs, as_of)


def _inputs(given: dict[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(given, ensure_ascii=False, separators=(",", ":"))}


def crew_html(card: CrewCard) -> str:
    """The card as one page of HTML that asks nothing of any other address."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    def inline(picture: Picture) -> Markup:
        # Our own drawing, whose texts its writer has escaped; its name is given anew with the page's own.
        start = picture.svg.index(">")
        opening = f'<svg class="plate" viewBox="{_view(picture.svg)}" role="img" aria-label="{escape(picture.alt)}"'
        opening += (
            ' fill="none" stroke="currentColor" stroke-width="1.6" stroke-linecap="round" stroke-linejoin="round"'
        )
        return Markup(opening + picture.svg[start:])

    engine = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    template = engine.from_string(files(_TEMPLATES).joinpath("crew.html.j2").read_text(encoding="utf-8"))
    return template.render(
        c=card, inline=inline, fonts=embedded(), ink=INK, soft=SOFT, paper=PAPER, rule=RULE, accent=MADDER, night=NIGHT
    )


def _view(svg: str) -> str:
    start = svg.index('viewBox="') + len('viewBox="')
    return svg[start : svg.index('"', start)]


def crew_text(card: CrewCard) -> str:
    """The card in a few lines, one language after the other."""
    blocks = []
    for at, side in enumerate(card.sides):
        lines = [f"{side.title}: {card.site}, {side.date}"]
        for head, pictures in ((side.pull, card.pull), (side.leave, card.leave)):
            if pictures:
                lines.append(f"{head}: {'; '.join(picture.captions[at] for picture in pictures)}.")
        lines += [f"{point.lead} {point.text}" for point in side.points]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks)

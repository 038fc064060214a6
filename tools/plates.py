"""Draw every plate for the docs and the page that shows them: `python tools/plates.py [--check]`.

Writes docs/plates/*.svg and docs/plates.md; drawings that are no more are removed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from html import escape
from pathlib import Path

from tepal.flora import Flora, load
from tepal.plates import Plate, draw, draw_taxon, parts_of, states

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs" / "plates"
PAGE = ROOT / "docs" / "plates.md"
HEAD = """# Drawings

What to look at on a plant, state by state. All are drawn by code from the shapes in the weed group's `plates.toml`
and the sizes in its tables: see [how](rooms/plates.md). The part that is asked about is drawn heavier. Where something
is measured, the line shows from where to where; its three drawings are of the taxa with the least, the middle and the
greatest mean. Sizes are about right, and plants differ.
"""


def drawings() -> dict[str, bytes]:
    """Every file that there should be, by its path from docs/: the drawings and the page."""
    flora = load()
    plates: dict[str, Plate] = {}
    parts = [HEAD]
    for character in flora.characters.values():
        some = [draw(flora, character.name, state) for state in states(character)]
        words = [
            character.state_words[plate.state] if character.states else f"{plate.state}: {_number(plate)}"
            for plate in some
        ]
        parts.append(f"## {character.label.capitalize()}\n\n{character.question}\n\n{_figures(some, words)}")
        plates |= {plate.name: plate for plate in some}
    for code in (*flora.hunted(), *(code for code in flora.pigweeds() if code not in flora.hunted())):
        some = [draw_taxon(flora, code, part) for part in _parts(flora, code)]
        if some:
            name = flora.taxa[code].english_name
            words = [plate.title.partition(", ")[2] for plate in some]
            parts.append(f"## {name[:1].upper()}{name[1:]}, as most of its plants are\n\n{_figures(some, words)}")
        plates |= {plate.name: plate for plate in some}
    files = {f"plates/{name}.svg": plate.svg.encode() for name, plate in plates.items()}
    return files | {"plates.md": "\n".join(parts).encode()}


def _parts(flora: Flora, code: str) -> tuple[str, ...]:
    # All of the hunted; of the others the whole plant, to keep the page short.
    known = parts_of(flora, code)
    return known if code in flora.hunted() else tuple(part for part in known if part == "plant")


def _number(plate: Plate) -> str:
    return f"{plate.value:.3g} {'' if plate.unit == 'ratio' else plate.unit.replace('_', ' ')}".strip()


def _figures(plates: Iterable[Plate], captions: Iterable[str]) -> str:
    rows = [
        f'<figure><img src="plates/{escape(plate.name)}.svg" alt="{escape(plate.alt)}" width="160" loading="lazy">'
        f"<figcaption>{escape(words)}</figcaption></figure>"
        for plate, words in zip(plates, captions, strict=True)
    ]
    return "\n".join(['<div class="plates">', *rows, "</div>", ""])


def main() -> int:
    wanted = drawings()
    docs = PAGE.parent
    there = {f"plates/{path.name}" for path in FOLDER.glob("*")}
    stale = sorted(there - set(wanted))
    stale += [name for name, made in wanted.items() if not (docs / name).exists() or (docs / name).read_bytes() != made]
    if "--check" in sys.argv[1:]:
        if stale:
            print(f"out of date: {', '.join(stale[:5])}; run python tools/plates.py", file=sys.stderr)
        return 1 if stale else 0
    FOLDER.mkdir(exist_ok=True)
    for name in there - set(wanted):
        (docs / name).unlink()
    for name, made in wanted.items():
        (docs / name).write_bytes(made)
    print(f"{len(wanted) - 1} drawings, {sum(map(len, wanted.values())) / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Gather every message of the source into one catalogue template: `python tools/messages.py [--check]`.

Messages are the first argument of `words.t(…)`, the first two of `words.plural(…)`, and the texts of a weed group's
tables (names of plants, questions, rules, cautions).
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from tepal.advice import rules_for
from tepal.flora import load, messages

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "src" / "tepal" / "words" / "locale" / "tepal.pot"
KEYWORDS = {"t": None, "plural": (1, 2)}


def template() -> bytes:
    """The template as bytes: no date and no line numbers, so that only a changed message changes it."""
    catalogue = Catalog(project="Tepal", charset="utf-8")
    found = extract_from_dir(str(ROOT / "src" / "tepal"), [("**.py", "python")], keywords=KEYWORDS)
    for file, _line, message, comments, context in sorted(found, key=lambda item: (str(item[2]), item[0])):
        catalogue.add(message, locations=[(file, 0)], auto_comments=comments, context=context)
    flora = load()
    for where, texts in (("flora tables", messages(flora)), ("flora rules", rules_for(flora).messages())):
        for message in texts:
            catalogue.add(message, locations=[(where, 0)])
    out = io.BytesIO()
    write_po(out, catalogue, sort_output=True, omit_header=True, include_lineno=False, width=120)
    head = b'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    return head + out.getvalue()


def main() -> int:
    made = template()
    if "--check" in sys.argv[1:]:
        current = TARGET.exists() and TARGET.read_bytes() == made
        print("The template is current." if current else "Run: python tools/messages.py")
        return 0 if current else 1
    TARGET.parent.mkdir(parents=True, exist_ok=True)
    TARGET.write_bytes(made)
    print(f"{made.count(b'msgid ') - 1} messages in {TARGET.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

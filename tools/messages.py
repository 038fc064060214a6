"""Gather every message of the source into one catalogue template, and compile what is translated of it.

    python tools/messages.py               write the template, and each language's .mo from its .po
    python tools/messages.py --check       say whether they are current
    python tools/messages.py --missing es  print what a language lacks, to be filled in and added to its .po

A .po holds what is translated and nothing else, in any order; what is missing is shown in English.

Messages are the first argument of `words.t(…)`, the first two of `words.plural(…)`, and the texts of a weed group's
tables (names of plants, questions, rules, cautions).
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from tepal.advice import rules_for
from tepal.flora import load, messages

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "src" / "tepal" / "words" / "locale" / "tepal.pot"
LOCALES = TARGET.parent
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


def translated(language: str) -> Catalog:
    """What a person wrote for a language."""
    with (LOCALES / language / "LC_MESSAGES" / "tepal.po").open("rb") as file:
        return read_po(file, locale=language, domain="tepal")


def languages() -> list[str]:
    """Languages that have a .po."""
    return sorted(path.parents[1].name for path in LOCALES.glob("*/LC_MESSAGES/tepal.po"))


def compiled(language: str) -> bytes:
    """The .mo of a language, as gettext reads it. Ours to keep in the tree: a fresh install has no compiler."""
    out = io.BytesIO()
    write_mo(out, translated(language))
    return out.getvalue()


def missing(language: str) -> Catalog:
    """Messages of the template that a language has no translation of."""
    wanted = read_po(io.BytesIO(template()))
    have = translated(language)
    found = Catalog(project="Tepal", charset="utf-8")
    for message in wanted:
        if message.id and not ((known := have.get(message.id)) and known.string):
            found.add(message.id, locations=message.locations)
    return found


def main() -> int:
    arguments = sys.argv[1:]
    if "--missing" in arguments:
        write_po(sys.stdout.buffer, missing(arguments[-1]), omit_header=True, include_lineno=False, width=120)
        return 0
    files = {TARGET: template()} | {
        LOCALES / language / "LC_MESSAGES" / "tepal.mo": compiled(language) for language in languages()
    }
    if "--check" in arguments:
        stale = [path for path, made in files.items() if not path.exists() or path.read_bytes() != made]
        print("Template and catalogues are current." if not stale else "Run: python tools/messages.py")
        return 1 if stale else 0
    for path, made in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(made)
    print(f"{files[TARGET].count(b'msgid ') - 1} messages in {TARGET.relative_to(ROOT)}")
    for language in languages():
        print(f"{language}: {sum(bool(m.id and m.string) for m in translated(language))} translated")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

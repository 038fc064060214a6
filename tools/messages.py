"""Gather every message of the source into one catalogue template, and compile what is translated of it.

    python tools/messages.py               write the template; tidy each .po, compile its .mo and the phone's JSON
    python tools/messages.py --check       say whether they are current
    python tools/messages.py --missing es  print what a language lacks, to be filled in and added to its .po

A .po holds what is translated, in any order; what is missing is shown in English. A translation whose English has gone
is kept at its end, marked `#~`, for whoever words the new one.

Messages are the first argument of `words.t(…)` (`t(…)` in a template of pages) and of `message(…)`, the first two of
`words.plural(…)`, and the texts of a weed group's tables (names of plants, questions, rules, cautions). The phone's are
those of `t` and `plural` in its TypeScript, and lists of English in files named `texts.json`; it takes along the
translations of its own messages only.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
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
PHONE = ROOT / "phone" / "src"
KEYWORDS = {"t": None, "plural": (1, 2), "message": None, "_counted": (1, 2)}


def template() -> bytes:
    """The template as bytes: no date and no line numbers, so that only a changed message changes it."""
    catalogue = Catalog(project="Tepal", charset="utf-8")
    written = [("**.py", "python"), ("**.html.j2", "jinja2")]
    found = extract_from_dir(str(ROOT / "src" / "tepal"), written, keywords=KEYWORDS)
    for file, _line, message, comments, context in sorted(found, key=lambda item: (str(item[2]), item[0])):
        catalogue.add(message, locations=[(file, 0)], auto_comments=comments, context=context)
    flora = load()
    for where, texts in (("flora tables", messages(flora)), ("flora rules", rules_for(flora).messages())):
        for message in texts:
            catalogue.add(message, locations=[(where, 0)])
    for file, message in of_the_phone():
        catalogue.add(message, locations=[(file, 0)])
    out = io.BytesIO()
    write_po(out, catalogue, sort_output=True, omit_header=True, include_lineno=False, width=120)
    head = b'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    return head + out.getvalue()


def of_the_phone() -> Iterator[tuple[str, str | tuple[str, ...]]]:
    """The phone's messages with the file that each stands in; (one, many) where there are two."""
    scripts = [("**.ts", "javascript"), ("**.tsx", "javascript")]
    # Also what stands within `${…}`.
    within = {pattern: {"parse_template_string": True} for pattern, _method in scripts}
    found = extract_from_dir(str(PHONE), scripts, within, keywords={"t": None, "plural": (1, 2)})
    for file, _line, text, _comments, _context in sorted(found, key=lambda item: (str(item[2]), item[0])):
        yield f"phone/{file}", text
    for path in sorted(PHONE.rglob("texts.json")):
        for text in json.loads(path.read_text(encoding="utf-8")):
            yield f"phone/{path.relative_to(PHONE).as_posix()}", text


def for_the_phone(catalogue: Catalog) -> bytes:
    """What the phone takes along of a language: message to translation, [one, many] where there are two."""
    messages = {text if isinstance(text, str) else text[0] for _file, text in of_the_phone()}
    have = {message: catalogue.get(message) for message in messages}
    chosen = {message: one.string for message, one in sorted(have.items()) if one is not None and one.string}
    return (json.dumps(chosen, ensure_ascii=False, indent=1) + "\n").encode()


def translated(language: str, wanted: Catalog) -> Catalog:
    """What a person wrote for a language; what is no message of the template any more as obsolete."""
    with (LOCALES / language / "LC_MESSAGES" / "tepal.po").open("rb") as file:
        written = read_po(file, locale=language, domain="tepal")
    found = Catalog(locale=language, domain="tepal", project="Tepal", charset="utf-8")
    for message in (*written, *written.obsolete.values()):
        if message.id and message.string and message.id in wanted:
            found.add(message.id, message.string)
        elif message.id and message.string:
            found.obsolete[message.id] = message
    return found


def tidied(language: str, catalogue: Catalog) -> bytes:
    """A .po as it stands in the tree: one order, no dates, no places, so that only a changed message changes it."""
    out = io.BytesIO()
    write_po(out, catalogue, sort_output=True, omit_header=True, width=120)
    head = (
        f"# {language}: written by the project; no native speaker has read it over yet.\n"
        f'msgid ""\nmsgstr ""\n"Language: {language}\\n"\n"Content-Type: text/plain; charset=UTF-8\\n"\n'
        f'"Plural-Forms: {catalogue.plural_forms}\\n"\n\n'
    )
    return head.encode() + out.getvalue()


def languages() -> list[str]:
    """Languages that have a .po."""
    return sorted(path.parents[1].name for path in LOCALES.glob("*/LC_MESSAGES/tepal.po"))


def compiled(catalogue: Catalog) -> bytes:
    """The .mo of a language, as gettext reads it. Ours to keep in the tree: a fresh install has no compiler.

    Its head would tell the minute it was made in; a fixed one keeps it the same until a message changes.
    """
    catalogue.creation_date = catalogue.revision_date = datetime(2026, 1, 1, tzinfo=UTC)
    out = io.BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def missing(have: Catalog, wanted: Catalog) -> Catalog:
    """Messages of the template that a language has no translation of."""
    found = Catalog(project="Tepal", charset="utf-8")
    for message in wanted:
        if message.id and message.id not in have:
            found.add(message.id, locations=message.locations)
    return found


def main() -> int:
    arguments = sys.argv[1:]
    made = template()
    wanted = read_po(io.BytesIO(made))
    have = {language: translated(language, wanted) for language in languages()}
    if "--missing" in arguments:
        lacking = missing(have[arguments[-1]], wanted)
        write_po(sys.stdout.buffer, lacking, omit_header=True, include_lineno=False, width=120)
        return 0
    files = {TARGET: made}
    for language, catalogue in have.items():
        folder = LOCALES / language / "LC_MESSAGES"
        files |= {folder / "tepal.po": tidied(language, catalogue), folder / "tepal.mo": compiled(catalogue)}
        files[PHONE / "words" / f"{language}.json"] = for_the_phone(catalogue)
    if "--check" in arguments:
        stale = [path for path, now in files.items() if not path.exists() or path.read_bytes() != now]
        print("Template and catalogues are current." if not stale else "Run: python tools/messages.py")
        return 1 if stale else 0
    for path, now in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(now)
    print(f"{len(wanted)} messages in {TARGET.relative_to(ROOT)}")
    for language, catalogue in have.items():
        print(f"{language}: {len(catalogue)} translated, {len(catalogue) / len(wanted):.0%}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

"""What mkdocs does beside turning pages into HTML: fonts from their packages, the commands from the program."""

from __future__ import annotations

import re
from importlib import resources
from typing import Any

from mkdocs.structure.files import File

# The variable font's own name has brackets, which a web server may not like.
FONTS = {
    "AtkinsonHyperlegible-Regular.ttf": ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Regular.ttf"),
    "AtkinsonHyperlegible-Bold.ttf": ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Bold.ttf"),
    "SourceSerif4.ttf": ("fontpkg_source_serif_4", "SourceSerif4[opsz,wght].ttf"),
}
MARK = "<!-- the commands, written here by tools/docs/hooks.py -->"


def on_files(files: Any, config: Any, **_: Any) -> Any:
    for name, (package, original) in FONTS.items():
        font = resources.files(package) / "files" / original
        files.append(File.generated(config, f"fonts/{name}", content=font.read_bytes()))
    return files


def on_page_markdown(markdown: str, **_: Any) -> str:
    return markdown.replace(MARK, _commands()) if MARK in markdown else markdown


def _commands() -> str:
    """Every command's own help, one level below the page's title."""
    from tepal.cli import _app

    _app._register_once()
    text = _app.app.generate_docs(output_format="markdown")
    # From the first command on: the list before it would only repeat the headings.
    first = re.search(r"^## `?tepal ", text, re.MULTILINE)
    if first is None:
        raise RuntimeError("the command reference has no commands: has its form changed?")
    return text[first.start() :]

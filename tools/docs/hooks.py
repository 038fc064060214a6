"""What mkdocs does beside turning pages into HTML: fonts from their packages."""

from __future__ import annotations

from importlib import resources
from typing import Any

from mkdocs.structure.files import File

# The variable font's own name has brackets, which a web server may not like.
FONTS = {
    "AtkinsonHyperlegible-Regular.ttf": ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Regular.ttf"),
    "AtkinsonHyperlegible-Bold.ttf": ("fontpkg_atkinson_hyperlegible", "AtkinsonHyperlegible-Bold.ttf"),
    "SourceSerif4.ttf": ("fontpkg_source_serif_4", "SourceSerif4[opsz,wght].ttf"),
}


def on_files(files: Any, config: Any, **_: Any) -> Any:
    for name, (package, original) in FONTS.items():
        font = resources.files(package) / "files" / original
        files.append(File.generated(config, f"fonts/{name}", content=font.read_bytes()))
    return files

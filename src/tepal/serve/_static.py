"""Files that never change under their address: styles, scripts, fonts."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path, PurePosixPath

from fastapi import Response
from fastapi.responses import FileResponse

from tepal.serve._problems import absent
from tepal.serve._roles import EVERYBODY
from tepal.serve._routes import Routes

_ROOM = Path(__file__).parent
# What stands behind the first part of a name.
_FOLDERS = {"plain": _ROOM / "static" / "plain", "desk": _ROOM / "desk" / "static"}
_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".ico": "image/x-icon",
    ".jpg": "image/jpeg",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".mjs": "text/javascript; charset=utf-8",
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".ttf": "font/ttf",
    ".txt": "text/plain; charset=utf-8",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
}
_FOR_GOOD = "public, max-age=31536000, immutable"


@lru_cache(maxsize=1)
def _digest() -> str:
    """Of all files together: what one style sheet asks for by a relative name is then of the same state."""
    total = hashlib.sha256()
    for name, folder in sorted(_FOLDERS.items()):
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                total.update(f"{name}/{path.relative_to(folder)}".encode() + path.read_bytes())
    return total.hexdigest()[:16]


def address(name: str) -> str:
    """The address of a file, as ``desk/site.css``; another content has another address.

    Raises
    ------
    FileNotFoundError
        If there is no such file: a page that asks for it would stand there without its clothes.
    """
    if found(name) is None:
        raise FileNotFoundError(name)
    return f"/static/{_digest()}/{name}"


def found(name: str) -> Path | None:
    """The file of this name; None where there is none in the folders that are given out."""
    first, _, rest = name.partition("/")
    folder = _FOLDERS.get(first)
    return None if folder is None else inside(folder, rest)


def inside(folder: Path, name: str) -> Path | None:
    """The file `name` in a folder; None where there is none, or the name leads out of it."""
    parts = PurePosixPath(name).parts
    if not parts or any(part in {"..", "/", "."} or part.startswith(".") or "\\" in part for part in parts):
        return None
    if "\x00" in name:
        return None
    path = folder.joinpath(*parts)
    return (
        path if path.suffix in _TYPES and path.is_file() and path.resolve().is_relative_to(folder.resolve()) else None
    )


def given(path: Path, **headers: str) -> Response:
    """The file as an answer, with its own type and no guess."""
    return FileResponse(path, media_type=_TYPES[path.suffix], headers=headers)


def static_routes() -> Routes:
    routes = Routes()

    @routes.get("/static/{digest}/{name:path}", may=EVERYBODY, response_class=Response, summary="A file of the pages")
    def static(digest: str, name: str) -> Response:
        path = found(name)
        if path is None:
            raise absent()
        return given(path, **{"cache-control": _FOR_GOOD if digest == _digest() else "no-cache"})

    return routes

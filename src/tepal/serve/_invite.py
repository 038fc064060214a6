"""An invitation as people get it: a link, and a picture of the link to be scanned."""

from __future__ import annotations

import io
from typing import Any

from tepal.serve._book import Invitation
from tepal.serve._settings import Settings


def link(made: Invitation, settings: Settings) -> str:
    """The address that lets a device in. The code stands behind #: a browser sends that to no server."""
    return f"{(settings.public_url or 'http://127.0.0.1:8321').rstrip('/')}/join#{made.code}"


def way_in(made: Invitation, settings: Settings) -> dict[str, Any]:
    """Code, link, and the link as a QR code (SVG)."""
    address = link(made, settings)
    return {"code": made.code, "link": address, "qr": qr_svg(address)}


def qr_svg(text: str) -> str:
    """A QR code as SVG, ink on paper."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out,
        kind="svg",
        scale=6,
        border=4,
        dark="#000000",
        light="#ffffff",
        xmldecl=False,
        svgclass=None,
        lineclass=None,
    )
    return out.getvalue().decode()


def qr_terminal(text: str) -> str:
    """A QR code in half blocks, for a terminal."""
    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out, compact=True)
    return out.getvalue()

"""What a phone takes a plant to be before it is looked at: from what was found at the place and around it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from tepal.flora import Flora
from tepal.ground import Frame
from tepal.plant import Finding, local_prior
from tepal.tables import Refused

# Beyond this a finding says next to nothing of the place (the room of plants halves its weight every few kilometres).
_FAR_M = 30_000.0
_YEAR = 365.25


def prior_at(site: str, everywhere: Sequence[dict[str, Any]], *, as_of: date, flora: Flora) -> dict[str, float] | None:
    """Weights of the pigweeds at a site, sum 1; None where nothing was found there or near. `everywhere`: what the
    lists are made of, of all sites."""
    here = next((told for told in everywhere if told["site"] == site), None)
    if here is None:
        return None
    found = [_finding(one, 0.0, as_of) for one in here["found"]]
    if here["centre"] is not None:
        frame = Frame(*here["centre"])
        around = [told for told in everywhere if told["site"] != site and told["centre"] and told["found"]]
        if around:
            metres = np.hypot(*frame.to_metres(np.array([told["centre"] for told in around])).T)
            for told, away in zip(around, metres.tolist(), strict=True):
                if away <= _FAR_M:
                    found += [_finding(one, away, as_of) for one in told["found"]]
    if not found:
        return None
    try:
        return local_prior(found, flora=flora, region=here["region"])
    except Refused:
        # A code or a region that these tables have not: the region's own weights are left to the phone.
        return None


def _finding(one: dict[str, Any], metres: float, as_of: date) -> Finding:
    years = max(0.0, (as_of - date.fromisoformat(one["on"])).days / _YEAR)
    return Finding(one["code"], one["by"], years=years, metres=metres, plants=one["plants"])

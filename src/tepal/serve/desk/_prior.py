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


class Places:
    """All places of a county with what was found at each. `told`: what the lists are made of, of every site."""

    def __init__(self, told: Sequence[dict[str, Any]]) -> None:
        self._by_site = {one["site"]: one for one in told}
        self._found = [one for one in told if one["centre"] and one["found"]]
        self._centres = np.array([one["centre"] for one in self._found]).reshape(-1, 2)

    def prior(self, site: str, *, as_of: date, flora: Flora) -> dict[str, float] | None:
        """Weights of the pigweeds at a site, sum 1; None where nothing was found there or near."""
        here = self._by_site.get(site)
        if here is None:
            return None
        found = [_finding(one, 0.0, as_of) for one in here["found"]]
        if here["centre"] and self._found:
            metres = np.hypot(*Frame(*here["centre"]).to_metres(self._centres).T)
            for place, away in zip(self._found, metres.tolist(), strict=True):
                if away <= _FAR_M and place["site"] != site:
                    found += [_finding(one, away, as_of) for one in place["found"]]
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

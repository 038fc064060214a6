"""The prior of one place: the region's weights, and what was found there and nearby, how surely and how long ago.

The place's shares are Dirichlet: the region's weights count as a few plants, each finding as some more,

    plants(finding) = n / (1 + (n - 1) leaf) × right × 1/2^(years / half-life) × 1/2^(metres / half-distance)

with n the plants that were named and `leaf` the correlation of plants of one place, and of a finding only the share
`right` counts for its name; the rest goes to the others as the region has them. A laboratory is right nearly always, an
eye more often than not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from tepal.flora import Flora
from tepal.plant._roster import OTHER, checked_region, roster
from tepal.plant._settings import Settings, load_settings
from tepal.tables import Refused

By = Literal["laboratory", "eye"]


@dataclass(frozen=True, slots=True)
class Finding:
    """A taxon found at the place, or `metres` from it, `years` ago; `plants` of it were named, by a laboratory or by
    eye."""

    code: str
    by: By
    years: float = 0.0
    metres: float = 0.0
    plants: int = 1

    def __post_init__(self) -> None:
        if self.by not in get_args(By):
            raise Refused(
                f"by {str(self.by)[:40]!r}",
                where="finding",
                rule="A taxon is found by laboratory or by eye.",
                step="Write laboratory or eye.",
            )
        for name in ("years", "metres"):
            value = getattr(self, name)
            if not 0 <= value < 1e9:
                raise Refused(
                    f"{name} {value!r}", where="finding", rule=f"{name} is a number from 0 upwards.", step="Correct it."
                )
        if self.plants < 1:
            raise Refused(
                f"{self.plants} plants", where="finding", rule="A finding has a plant.", step="Correct it or drop it."
            )


def local_prior(
    findings: Sequence[Finding],
    *,
    flora: Flora,
    region: str | None = None,
    settings: Settings | None = None,
) -> dict[str, float]:
    """Weights of the pigweeds at a place, sum 1, for `identify(prior=...)`.

    Raises
    ------
    Refused
        For an unknown region, or a code that is no pigweed of the flora.
    """
    settings = settings or load_settings()
    weights = flora.weights(checked_region(region))
    codes = [code for code, taxon in flora.taxa.items() if taxon.pigweed]
    base = np.array([weights.get(code, 0.0) for code in codes])
    base = base / base.sum()
    total = settings("local", "region") * base
    names = roster(flora, settings).names
    for finding in findings:
        parents = [part for part in codes if part in finding.code.split("x")]
        if finding.code not in names or finding.code == OTHER or not parents:
            raise Refused(
                f"finding of {finding.code!r}",
                where="findings",
                rule="What was found is a pigweed of the flora or a cross of two.",
                step="Correct the code, or drop the finding.",
            )
        right = settings("local", finding.by)
        plants = finding.plants / (1 + (finding.plants - 1) * settings("leaf_correlation"))
        plants *= settings("local", "plant")
        plants *= 0.5 ** (finding.years / settings("local", "years") + finding.metres / settings("local", "metres"))
        named = np.array([1 / len(parents) if code in parents else 0.0 for code in codes])
        others = np.where(named > 0, 0.0, base)
        others = others / others.sum() if others.sum() > 0 else named
        total = total + plants * (right * named + (1 - right) * others)
    return dict(zip(codes, (total / total.sum()).tolist(), strict=True))

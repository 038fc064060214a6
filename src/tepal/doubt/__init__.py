"""Uncertain values: draws, summaries, where a number comes from, and seeds.

Floor 0: imports nothing of the house. Rooms exchange draws; quantiles are taken last and never combined.
"""

from tepal.doubt._seeds import generator_for, seed_for
from tepal.doubt._sources import BASES, Basis, Provenance, weakest_basis
from tepal.doubt._summary import PROBABILITIES, day_quantile, share_of_never, summary
from tepal.doubt._values import (
    Drawable,
    Fixed,
    LogitNormal,
    LogNormal,
    Samples,
    TruncatedNormal,
    log_normal_from_range,
    logit_normal_from_range,
)

__all__ = [
    "BASES",
    "PROBABILITIES",
    "Basis",
    "Drawable",
    "Fixed",
    "LogNormal",
    "LogitNormal",
    "Provenance",
    "Samples",
    "TruncatedNormal",
    "day_quantile",
    "generator_for",
    "log_normal_from_range",
    "logit_normal_from_range",
    "seed_for",
    "share_of_never",
    "summary",
    "weakest_basis",
]

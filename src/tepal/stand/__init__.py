"""From counts with effort to how many plants there are, and where.

Floor 2: arrays and shapes in metres in, frozen records out.
"""

from tepal.stand._counts import Counts, Points
from tepal.stand._covariates import Surface, Told, distance_to, nearest_known
from tepal.stand._estimate import DensityMap, Patch, StandEstimate, estimate
from tepal.stand._parts import by_class, per_row_length
from tepal.stand._passed import with_passed
from tepal.stand._predict import PREDICTED, Predicted

__all__ = [
    "PREDICTED",
    "Counts",
    "DensityMap",
    "Patch",
    "Points",
    "Predicted",
    "StandEstimate",
    "Surface",
    "Told",
    "by_class",
    "distance_to",
    "estimate",
    "nearest_known",
    "per_row_length",
    "with_passed",
]

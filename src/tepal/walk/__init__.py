"""Where to walk to find them; and after a walk that was really made, how sure that there are none.

Floor 2: plain shapes in metres in, frozen records out.
"""

from tepal.walk._absence import Absence, RiskZone, Walked, absence, absence_of_walks
from tepal.walk._assumed import Assumed
from tepal.walk._clean import Cleaned, cleaned
from tepal.walk._plan import Plan, Reach, ZoneSeen, plan, reaches
from tepal.walk._stops import Lines, Precision, aggregation, fixed_precision, threshold_lines

__all__ = [
    "Absence",
    "Assumed",
    "Cleaned",
    "Lines",
    "Plan",
    "Precision",
    "Reach",
    "RiskZone",
    "Walked",
    "ZoneSeen",
    "absence",
    "absence_of_walks",
    "aggregation",
    "cleaned",
    "fixed_precision",
    "plan",
    "reaches",
    "threshold_lines",
]

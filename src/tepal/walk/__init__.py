"""Where to walk to find them; and after a walk that was really made, how sure that there are none.

Floor 2: plain shapes in metres in, frozen records out.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from tepal.walk._absence import Absence, RiskZone, absence, absence_of_walks
from tepal.walk._assumed import Assumed
from tepal.walk._clean import Cleaned, cleaned
from tepal.walk._risk import RISKS, risk_zones
from tepal.walk._seen import SeenMap, Walked, seen_map
from tepal.walk._sight import Sight, sight_for, sight_from
from tepal.walk._stops import Lines, Precision, aggregation, fixed_precision, threshold_lines

if TYPE_CHECKING:
    from tepal.walk._further import Further, further
    from tepal.walk._plan import Plan, Reach, ZoneSeen, plan, reaches

# A reading asks what a walk showed, never where to walk: the planner is loaded when it is asked for.
_OF_PLANNING = {"Plan": "_plan", "Reach": "_plan", "ZoneSeen": "_plan", "plan": "_plan", "reaches": "_plan"}
_OF_PLANNING |= {"Further": "_further", "further": "_further"}


def __getattr__(name: str) -> object:
    if name not in _OF_PLANNING:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_OF_PLANNING[name]}"), name)


__all__ = [
    "RISKS",
    "Absence",
    "Assumed",
    "Cleaned",
    "Further",
    "Lines",
    "Plan",
    "Precision",
    "Reach",
    "RiskZone",
    "SeenMap",
    "Sight",
    "Walked",
    "ZoneSeen",
    "absence",
    "absence_of_walks",
    "aggregation",
    "cleaned",
    "fixed_precision",
    "further",
    "plan",
    "reaches",
    "risk_zones",
    "seen_map",
    "sight_for",
    "sight_from",
    "threshold_lines",
]

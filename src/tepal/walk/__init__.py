"""Where to walk to find them; and after a walk that was really made, how sure that there are none.

Floor 2: plain shapes in metres in, frozen records out.
"""

from tepal.walk._absence import Absence, RiskZone, absence
from tepal.walk._assumed import Assumed
from tepal.walk._plan import Plan, Reach, ZoneSeen, plan, reaches

__all__ = ["Absence", "Assumed", "Plan", "Reach", "RiskZone", "ZoneSeen", "absence", "plan", "reaches"]

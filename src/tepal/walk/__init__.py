"""What a walk says: how sure that there are none, after a route that was really walked.

Floor 2: plain shapes in metres in, frozen records out. Planning a route is not built yet.
"""

from tepal.walk._absence import Absence, RiskZone, absence
from tepal.walk._assumed import Assumed

__all__ = ["Absence", "Assumed", "RiskZone", "absence"]

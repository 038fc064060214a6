"""How far a petiole:blade ratio may be off."""

from __future__ import annotations

import math

# Sd of a hand-held camera's tilt from straight above, and a focal length in longer sides of the picture (judgement:
# phones' main cameras have 0.7 to 0.8, and people zoom in to fill the picture with a leaf).
_TILT = math.radians(2.5)
_FOCAL = 1.0


def ratio_sd(petiole: float, blade: float, junction_sd: float, end_sd: float, *, long_side: float, flat: bool) -> float:
    """Standard error of petiole / blade, all in pixels of one picture whose longer side is `long_side`.

    A junction that is off by e lengthens the one and shortens the other: (1 + r) e / blade. Foot and tip err on their
    own. A plane seen with a tilt t is drawn at 1 / depth² of its length along the line of sight: with (petiole +
    blade) / 2 between the middles of both and a focal length f, the ratio changes by
    2 r sin(t) cos(direction) (petiole + blade) / 2f.
    """
    r = petiole / blade
    of_junction = (1 + r) * junction_sd / blade
    of_ends = math.hypot(end_sd, r * end_sd) / blade
    tilt = 0.0 if flat else 2 * r * math.sin(_TILT) * math.sqrt(0.5) * (petiole + blade) / 2 / (_FOCAL * long_side)
    return math.sqrt(of_junction**2 + of_ends**2 + tilt**2)

"""Day length from latitude and date."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def day_length_h(lat: float, day_of_year: FloatArray, *, sun_below_deg: float = 0.8333) -> FloatArray:
    """Hours from sunrise to sunset at latitude `lat` (degrees north); `day_of_year` is 1 on 1 January.

    The CBM model (Forsythe et al. 1995, Ecological Modelling 80:87-95, eqs. 1-3), with the sun's upper edge on the
    horizon (p = 0.8333 degrees):

        theta = 0.2163108 + 2 atan(0.9671396 tan(0.00860 (J - 186)))
        phi   = asin(0.39795 cos theta)
        D     = 24 - (24/pi) acos((sin p + sin L sin phi) / (cos L cos phi))

    The authors give errors below a minute or so under 40 degrees and below 7 minutes under 60. Where the sun does not
    set, or does not rise, the result is 24, or 0.
    """
    day = np.asarray(day_of_year, dtype=np.float64)
    theta = 0.2163108 + 2 * np.arctan(0.9671396 * np.tan(0.00860 * (day - 186)))
    declination = np.arcsin(0.39795 * np.cos(theta))
    latitude = np.deg2rad(lat)
    ratio = (np.sin(np.deg2rad(sun_below_deg)) + np.sin(latitude) * np.sin(declination)) / (
        np.cos(latitude) * np.cos(declination)
    )
    return np.asarray(24 - 24 / np.pi * np.arccos(np.clip(ratio, -1.0, 1.0)))

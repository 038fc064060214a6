"""Stops made wherever plants were seen: what was passed in between was looked at too, and had none in sight."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely

from tepal.stand._counts import Counts
from tepal.tables import Refused

FloatArray = npt.NDArray[np.float64]

# The track is cut into pieces about so long: long enough to be few, short enough to say where nothing stood.
_PIECE_M = 40.0
_MOST_PIECES = 200


def with_passed(counts: Counts, tracks: Sequence[npt.ArrayLike], sigma_m: float) -> Counts:
    """The counts, and a zero for each piece of the track that was walked past without stopping.

    Who stops wherever plants are seen has, of the ground in between, seen a strip of S √(2π) metres as well as if it
    had been searched (a plant at distance d is seen with exp(-d²/2S²)) and found nothing. Leaving that out is what
    makes such counts too high. Pieces with a stop within two widths of sight, or half a piece, hold no zero.

    Parameters
    ----------
    counts : in metres
    tracks : arrays of shape = (n_i, 2), metres; the gap between two of them was not walked
    sigma_m : width of sight S, metres, > 0

    Raises
    ------
    Refused
        If the width of sight makes no sense, there is no track, or stops lie far from it.
    """
    lines = [shapely.LineString(t) for track in tracks if len(t := np.asarray(track, dtype=np.float64)) > 1]
    length = sum(line.length for line in lines)
    if not (math.isfinite(sigma_m) and sigma_m > 0 and length > 0):
        raise Refused(
            f"sigma {sigma_m:g} on {length:.0f} m of track",
            where="track",
            rule="A strip that was seen has a length and a width.",
            step="Give the track walked between the stops, and --sigma in metres.",
        )
    stops = shapely.points(np.column_stack([counts.x_m, counts.y_m]))
    whole = shapely.MultiLineString(lines)
    beside = shapely.distance(whole, stops)
    if float(np.median(beside)) > max(5 * sigma_m, 50.0):
        raise Refused(
            f"the stops lie {float(np.median(beside)):.0f} m from the track",
            where="track",
            rule="Stops are made on or beside the track.",
            step="Check that both are in one frame and of one day.",
        )
    piece_m = max(_PIECE_M, length / _MOST_PIECES)
    middles, metres = [], []
    for line in lines:
        count = max(1, round(line.length / piece_m))
        middles.append(shapely.line_interpolate_point(line, (np.arange(count) + 0.5) / count, normalized=True))
        metres.append(np.full(count, line.length / count))
    at, long = np.concatenate(middles), np.concatenate(metres)
    place = shapely.get_coordinates(at)
    nearest = np.min(np.hypot(*(place[:, None] - np.column_stack([counts.x_m, counts.y_m])).transpose(2, 0, 1)), axis=1)
    passed = nearest > np.maximum(long / 2, 2 * sigma_m)
    place = place[passed]
    strip = long[passed] * sigma_m * math.sqrt(2 * math.pi)
    return Counts(
        np.concatenate([counts.x_m, place[:, 0]]),
        np.concatenate([counts.y_m, place[:, 1]]),
        np.concatenate([counts.area_m2, strip]),
        np.concatenate([counts.count, np.zeros(len(place))]),
    )

"""Is the photo sharp enough to see where things end?"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from tepal.leaf._ground import Bools, Floats


def edge_width(unlike: Floats, mask: Bools) -> float:
    """Width of the step from ground to leaf in the sharper part of the margin, in working pixels: 2.5 sd of the blur.

    Shadows, teeth and a curled rim make some of the margin soft; a blurred photo has no sharp part.
    """
    box = ndimage.find_objects(mask.astype(np.uint8))[0]
    part, inside = (v[tuple(slice(max(0, b.start - 12), b.stop + 12) for b in box)] for v in (unlike, mask))
    depth = ndimage.distance_transform_edt(inside)
    deep = depth > 0.3 * depth.max()
    core = float(np.median(part[deep]))
    level = np.minimum(part, core)
    steep = ndimage.maximum_filter(np.hypot(*np.gradient(level)), 9)
    margin = steep[(depth > 0) & (depth <= 1)]
    return float(core / max(float(np.percentile(margin, 70)), 1e-6)) if len(margin) else 0.0

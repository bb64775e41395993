"""How polished each part of the face is: oily brow and nose shine, neck and ears are dull."""

from __future__ import annotations

import numpy as np

from render.sitter.arrays import Array
from render.sitter.cast import SkinTone
from render.sitter.skin.canvas import Canvas, beard_zone

# Width alpha of the microfacet slopes. T. Weyrich et al., "Analysis of human faces using a
# measurement-based skin reflectance model", ACM Trans. Graph. 25 (2006) 1013, fit Torrance-Sparrow
# slopes of about 0.2 to 0.4 to ten regions, nose, brow and lips at the polished end, cheek and neck
# at the dull one (order and range from memory). Ours sit lower: pores and lines are in the relief.
PLAIN, SHINE, NOSE, CHEEK = 0.270, 0.205, 0.200, 0.255
LIPS, LIDS, EARS, NECK = 0.140, 0.230, 0.300, 0.320
STUBBLE, OLD = 0.330, 0.310
_UNEVEN = 0.020  # patches of more and less oil; set by eye
LEAST, MOST = 0.08, 0.50


def roughness(canvas: Canvas, tone: SkinTone) -> Array:
    """Square root of alpha (h, w) of the surface reflection, at the size of the regions."""
    zones = canvas.zones
    alpha = np.full(canvas.low, PLAIN, np.float32)
    # Old skin makes less oil.
    alpha += (OLD - PLAIN) * max(0.0, tone.age - 0.3)
    towards = [
        (zones["neck"], NECK),
        (zones["ears"], EARS),
        (zones["cheek"], CHEEK),
        (zones["shine"], SHINE),
        (zones["nose"], NOSE),
        (zones["eyelids"], LIDS),
        (beard_zone(zones) * tone.stubble, STUBBLE),
        (zones["lips"], LIPS),
    ]
    for where, value in towards:
        alpha += np.clip(where, 0, 1) * (value - alpha)
    alpha += _UNEVEN * (0.6 * canvas.wide(2.2) + 0.6 * canvas.wide(8.0)) * (1 - zones["lips"])
    return np.asarray(np.sqrt(np.clip(alpha, LEAST, MOST)))

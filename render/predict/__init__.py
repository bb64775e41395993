"""What a meter would read, worked out from closed forms and quadrature, never traced."""

from render.predict.bounce import enclosure_estimate
from render.predict.direct import DirectExposure, aims, direct_exposure
from render.predict.obstacles import Obstacles
from render.predict.patches import spot_exposure

__all__ = [
    "DirectExposure",
    "Obstacles",
    "aims",
    "direct_exposure",
    "enclosure_estimate",
    "spot_exposure",
]

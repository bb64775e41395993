"""What a meter would read, worked out from closed forms and quadrature, never traced."""

from render.predict.bounce import enclosure_estimate
from render.predict.direct import DirectExposure, aims, direct_exposure
from render.predict.obstacles import Obstacles, Still
from render.predict.patches import spot_exposure

__all__ = [
    "DirectExposure",
    "Obstacles",
    "Still",
    "aims",
    "direct_exposure",
    "enclosure_estimate",
    "spot_exposure",
]

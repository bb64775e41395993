"""Measured beams: the photometric files of lamps, LM-63 and EULUMDAT."""

from render.emission.measured.beam import (
    MeasuredBeam,
    flux,
    intensity,
    share_behind,
    tabulated,
)
from render.emission.measured.read import read_measured

__all__ = ["MeasuredBeam", "flux", "intensity", "read_measured", "share_behind", "tabulated"]

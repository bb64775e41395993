"""The set as solid bodies: drawn in 3D for the card, and counted in the frame of the camera."""

from render.setview.drawn import SetView, set_view
from render.setview.gl import GlVerdict, gl_verdict
from render.setview.holders import Holder

__all__ = ["GlVerdict", "Holder", "SetView", "gl_verdict", "set_view"]

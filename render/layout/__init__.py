"""The set as it stands: everything placed in the room, in metres."""

from render.layout.assemble import place
from render.layout.placed import Layout, MeterPoint, Sheet, View

__all__ = ["Layout", "MeterPoint", "Sheet", "View", "place"]

"""What leaves a modifier: its front, its beam and the light in it."""

from render.emission.beams import Beam, Cells, Honeycomb, Lobe, Matte, Tabulated
from render.emission.flux import grid_transmission, mean_hot_spot, peak_luminance_time
from render.emission.front import (
    Doors,
    Front,
    beam,
    hot_spot,
    lip_window,
    local_from_room,
    room_from_local,
)
from render.emission.radiance import radiance_share, side_shares
from render.emission.shapes import (
    FLAT,
    Ball,
    Cap,
    Disk,
    Places,
    Polygon,
    Rectangle,
    Shape,
    places,
)
from render.emission.solids import cloth, housing, shades

__all__ = [
    "FLAT",
    "Ball",
    "Beam",
    "Cap",
    "Cells",
    "Disk",
    "Doors",
    "Front",
    "Honeycomb",
    "Lobe",
    "Matte",
    "Places",
    "Polygon",
    "Rectangle",
    "Shape",
    "Tabulated",
    "beam",
    "cloth",
    "grid_transmission",
    "hot_spot",
    "housing",
    "lip_window",
    "local_from_room",
    "mean_hot_spot",
    "peak_luminance_time",
    "places",
    "radiance_share",
    "room_from_local",
    "shades",
    "side_shares",
]

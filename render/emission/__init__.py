"""What leaves a modifier: its front, its beam and the light in it."""

from render.emission.front import (
    Cells,
    Front,
    beam,
    grid_transmission,
    hot_spot,
    housing,
    lip_window,
    local_from_room,
    mean_hot_spot,
    peak_luminance_time,
    room_from_local,
)

__all__ = [
    "Cells",
    "Front",
    "beam",
    "grid_transmission",
    "hot_spot",
    "housing",
    "lip_window",
    "local_from_room",
    "mean_hot_spot",
    "peak_luminance_time",
    "room_from_local",
]

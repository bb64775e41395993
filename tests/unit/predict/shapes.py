"""Fronts of every shape and places to read them from, for the tests in this folder."""

from __future__ import annotations

import numpy as np

from render.emission import Ball, Cap, Cells, Disk, Honeycomb, Lobe, Polygon, Tabulated
from tests.sets import front


def round_front(width, shape, **changed):
    """A front as high as wide, of luminous energy 1 lm·s."""
    size = {"width_m": width, "height_m": width, "luminous_energy_lm_s": 1.0}
    return front(shape=shape, **size, **changed)


LIP = {"recess_m": 0.08, "edge_falloff_stops": 0.5}
FABRIC, METAL = Cells(0.05, 0.05, 0.05), Honeycomb(0.01, 0.015)
# A measured beam with a side to it, as a reader of files would hand it over.
GAMMAS, PLANES = np.arange(0, 91.0, 5), np.arange(0, 361.0, 30)
TABLE = np.cos(np.radians(GAMMAS)) ** 4 * (1 + 0.4 * np.cos(np.radians(PLANES)))[:, None]
SHAPES = {
    "octa": round_front(1.2, Polygon(8)),
    "octa with lip": round_front(1.2, Polygon(8), **LIP),
    "seven sides with lip": round_front(0.9, Polygon(7), **LIP),
    "octa with lip and grid": round_front(1.2, Polygon(8), cells=FABRIC, **LIP),
    "disk": round_front(1.0, Disk(), edge_falloff_stops=0.7),
    "disk with lip": round_front(0.6, Disk(), recess_m=0.1),
    "beauty dish": round_front(0.55, Disk(0.2, 0.5), edge_falloff_stops=0.3, beam=Lobe(70)),
    "gridded dish": round_front(0.55, Disk(0.2, 0.5), recess_m=0.03, cells=METAL),
    "measured dish": round_front(0.4, Disk(), beam=Tabulated(GAMMAS, PLANES, TABLE)),
    "beam cut off at 30 degrees": round_front(
        0.4, Disk(), beam=Tabulated(GAMMAS[:7], PLANES, TABLE[:, :7])
    ),
    "shoot-through": round_front(0.9, Cap(0.2, False, 0.4), edge_falloff_stops=1.0),
    "deep shoot-through": round_front(0.9, Cap(0.45, False, 0.4)),
    "white umbrella": round_front(0.9, Cap(0.2, True), edge_falloff_stops=1.0),
    "thin white umbrella": round_front(0.9, Cap(0.25, True, 0.2)),
    "silver umbrella": round_front(1.0, Cap(0.2, True), edge_falloff_stops=0.5, beam=Lobe(60)),
    "ball": round_front(0.5, Ball()),
    "box with honeycomb": front(cells=METAL, edge_falloff_stops=0.5, luminous_energy_lm_s=1.0),
    "box with beam": front(recess_m=0.05, beam=Lobe(60), luminous_energy_lm_s=1.0),
}

# Place and axis in the front's own axes: ahead, aside, close, tilted so far that the horizon cuts
# the front, beside it, behind it, near its edge.
STATIONS = {
    "ahead": ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)),
    "aside": ((0.25, 0.2, 0.9), (-0.4, -0.2, -0.9)),
    "close": ((-0.1, 0.15, 0.4), (0.1, 0.0, -1.0)),
    "edge on": ((0.2, -0.3, 0.8), (1.0, 0.4, -0.3)),
    "beside": ((1.2, 0.1, 0.1), (-1.0, 0.0, 0.0)),
    "behind": ((0.4, -0.3, -1.2), (-0.3, 0.2, 1.0)),
    "near its edge": ((0.62, 0.0, 0.25), (-0.5, 0.0, -1.0)),
}

"""Direct readings against the values worked out for two reference rooms and a shadow's edge."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from render.photometry.stops import stops
from render.predict import Obstacles, aims, direct_exposure
from tests.checks import CHECKS
from tests.sets import (
    SUBJECT,
    from_reference,
    front,
    layout,
    place_from_reference,
    room_a,
    room_b,
    sheet,
)


def read(a_layout, place, facing) -> float:
    """Flat reading of the only light of a reference room, place and facing in its own axes."""
    at, axis = place_from_reference(place)[None], from_reference(facing)[None]
    found = direct_exposure(a_layout, at, axis, "flat", obstacles=Obstacles.of(a_layout), lift=axis)
    return float(found.luminous_exposure_lx_s[0, 0])


def to_box() -> np.ndarray:
    """From S to the centre of the soft box, reference axes."""
    return np.array([1.265153, 1.765153, 1.8]) - SUBJECT


def lit_fraction(x: float) -> float:
    """Share of a 0.6 x 0.9 m front 1.5 m above that a knife edge 0.1 m above lets through."""
    over = layout(
        front((0, -1, 0), (0, 1.5, 0)),
        # A panel over all negative x; large enough to hide the rest of the front.
        sheets=(sheet((-0.5, 0.1, 0), (1, 0, 0), (0, 0, -1), 1.0, 1.0),),
    )
    at, up = np.array([[x, 0.0, 0.0]]), np.array([[0.0, 1.0, 0.0]])
    found = direct_exposure(over, at, up, "flat", obstacles=Obstacles.of(over))
    return float(found.visible_fraction[0, 0])


def moved(distance: float) -> float:
    """Stops between 1 m and another distance of a front of 2 mm, as good as a point."""
    small = layout(front(width_m=0.002, height_m=0.002))
    at = np.array([[0, 0, 1.0], [0, 0, distance]])
    found = direct_exposure(small, at, aims(at, small.fronts[0]), "flat")
    near, far = found.luminous_exposure_lx_s[:, 0]
    return float(stops(far / near))


# The values of room B on wall and floor were worked out for places so far off the surface:
# exactly on it they would be 6e-5 and 8e-5 lower.
OFF_SURFACE_M = 1e-4

ROOM_A = {
    "RM-D0": ([2, 2.5, 0], [0, 0, 1]),
    "RM-D1": ([1, 1, 0], [0, 0, 1]),
    "RM-D2": ([2, 2.5, 1.2], [0, 0, 1]),
    "RM-D3": ([2, 1, 1.2], [0, 1, 0]),
    "RM-D4": ([3.5, 0.5, 0.8], [0, 0, 1]),
    "RM-D5": ([2, 2.5, 1.2], [1, 0, 0]),
    "RM-D6": ([2, 1, 1.2], [0, -1, 0]),
}
ROOM_B = {
    "SX-D0": (SUBJECT, [0, -1, 0]),
    "SX-D1": (SUBJECT, [-1, 0, 0]),
    "SX-D2": (SUBJECT, [1, 0, 0]),
    "SX-D3": (SUBJECT, [0, 0, 1]),
    "SX-D4": (SUBJECT, to_box()),
    "SX-D5": ([2, 5 - OFF_SURFACE_M, 1.2], [0, -1, 0]),
    "SX-D6": ([2, 2.5, OFF_SURFACE_M], [0, 0, 1]),
}
READINGS: dict[str, Callable[[], float]] = {
    **{i: lambda s=station: read(room_a(), *s) for i, station in ROOM_A.items()},
    **{i: lambda s=station: read(room_b(), *s) for i, station in ROOM_B.items()},
    **{f"PN-{x:g}": lambda x=x: lit_fraction(x) for x in (-0.02, 0, 0.02)},
    "IS-2": lambda: moved(2.0),
    "IS-1.4142135624": lambda: moved(2**0.5),
    "IS-1.1": lambda: moved(1.1),
}

COVERED = {*READINGS}


@pytest.mark.parametrize("check", [pytest.param(CHECKS[i], id=str(CHECKS[i])) for i in READINGS])
def test_reading_is_the_published_value(check):
    found = READINGS[check.id]()
    assert check.agrees(found), f"{check}: {check.expected} expected, found {found}"


@pytest.mark.parametrize(("x", "share"), [(-0.022, 0.0), (0.022, 1.0)])
def test_beyond_the_penumbra_all_is_dark_or_lit(x, share):
    # Similar triangles: the edge is soft over +/- 0.6 · 0.1 / 1.4 / 2 = 0.0214 m.
    assert lit_fraction(x) == share

"""View factors of disks and right-angled rectangles from the published catalogue.

Numbers such as B-3 are those of Howell's catalogue of radiation configuration factors; the
formulas of B-3, B-4 and C-14 are from memory and hold against quadrature to 1e-15.
"""

from __future__ import annotations

import math
from math import atan, log, sqrt


def disk_on_axis(radius: float, distance: float, tilt_rad: float = 0.0) -> float:
    """Disk over a receptor on its axis, tilted so that the whole disk stays above its horizon.

    radius, distance : [m];  tilt_rad : [rad]
    raises           : ValueError when the receptor's horizon cuts the disk
    Source: Howell B-12/B-13, r²/(r² + h²) · cos(tilt).
    """
    if radius * abs(math.tan(tilt_rad)) > distance or math.cos(tilt_rad) <= 0.0:
        raise ValueError("the receptor's horizon cuts the disk")
    return radius**2 / (radius**2 + distance**2) * math.cos(tilt_rad)


def disk_parallel(radius: float, distance: float, offset: float) -> float:
    """Disk and a receptor parallel to it, `offset` beside its axis; lengths [m].

    Source: Howell, disk off axis.
    """
    r2, s2 = radius**2, distance**2 + offset**2
    return 0.5 * (1.0 - (s2 - r2) / sqrt((s2 + r2) ** 2 - 4.0 * r2 * offset**2))


def disk_upright(radius: float, distance: float, offset: float) -> float:
    """Disk and a receptor beside its rim that looks at right angles to and towards its axis.

    radius, distance, offset : [m], offset >= radius
    raises                   : ValueError when the receptor stands under the disk
    Source: Howell, disk and perpendicular element.
    """
    if offset < radius:
        raise ValueError("the receptor must stand outside the disk's cylinder")
    h, r = distance / offset, radius / offset
    z = 1.0 + h * h + r * r
    return 0.5 * h * (z / sqrt(z * z - 4.0 * r * r) - 1.0)


def rectangle_from_corner(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to a receptor whose normal passes through a corner; lengths [m].

    Source: Howell B-3.
    """
    x, y = width / distance, height / distance
    rx, ry = sqrt(1.0 + x * x), sqrt(1.0 + y * y)
    return (x / rx * atan(y / rx) + y / ry * atan(x / ry)) / (2.0 * math.pi)


def rectangle_on_axis(width: float, height: float, distance: float) -> float:
    """Rectangle parallel to a receptor on its axis: four corner rectangles; lengths [m]."""
    return 4.0 * rectangle_from_corner(0.5 * width, 0.5 * height, distance)


def rectangle_standing(width: float, height: float, distance: float) -> float:
    """Rectangle standing on the receptor's plane, its near corner straight ahead; lengths [m].

    Source: Howell B-4.
    """
    x, y = height / width, distance / width
    r = sqrt(x * x + y * y)
    return (atan(1.0 / y) - y / r * atan(1.0 / r)) / (2.0 * math.pi)


def opposed_rectangles(width: float, height: float, distance: float) -> float:
    """Two equal rectangles face to face, area to area; lengths [m]. Source: Howell C-11."""
    x, y = width / distance, height / distance
    rx, ry = sqrt(1.0 + x * x), sqrt(1.0 + y * y)
    mean_log = log(sqrt((1.0 + x * x) * (1.0 + y * y) / (1.0 + x * x + y * y)))
    arcs = x * ry * atan(x / ry) + y * rx * atan(y / rx) - x * atan(x) - y * atan(y)
    return 2.0 / (math.pi * x * y) * (mean_log + arcs)


def joined_rectangles(width: float, height: float, edge: float) -> float:
    """From a floor `width` deep to a wall `height` high along a common `edge`; lengths [m].

    Source: Howell C-14.
    """
    w, h = width / edge, height / edge
    w2, h2 = w * w, h * h
    r2 = w2 + h2
    t = (1.0 + w2) * (1.0 + h2) / (1.0 + r2)
    u = w2 * (1.0 + r2) / ((1.0 + w2) * r2)
    v = h2 * (1.0 + r2) / ((1.0 + h2) * r2)
    arcs = w * atan(1.0 / w) + h * atan(1.0 / h) - sqrt(r2) * atan(1.0 / sqrt(r2))
    return (arcs + 0.25 * (log(t) + w2 * log(u) + h2 * log(v))) / (math.pi * w)


def coaxial_disks(radius_from: float, radius_to: float, distance: float) -> float:
    """From one disk to a coaxial, parallel one; lengths [m]. Source: C-41, Siegel & Howell."""
    r1, r2 = radius_from / distance, radius_to / distance
    x = 1.0 + (1.0 + r2 * r2) / (r1 * r1)
    return 0.5 * (x - sqrt(x * x - 4.0 * (r2 / r1) ** 2))


def disk_solid_angle(radius: float, distance: float) -> float:
    """Solid angle [sr] of a disk seen from its axis: that of a spherical cap; lengths [m]."""
    return 2.0 * math.pi * (1.0 - distance / math.hypot(distance, radius))

"""How much light a front sends out for its luminance, and what a grid takes of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission.beams import Matte, beam_factor, beam_integral
from render.emission.front import Front, beam
from render.emission.radiance import escapes, meets_own_cloth
from render.emission.shapes import FLAT, Ball, Cap, Disk, Rectangle, places

Floats = NDArray[np.float64]


def peak_luminance_time(front: Front, luminous_energy_lm_s: float | None = None) -> float:
    """L0 [cd·s/m²] at the front's middle, straight ahead.

    Q = L0 · A · mean(p) · ∫ g cos θ dω over flat fronts, π for matte ones. A hollow cap's light
    that meets its own cloth again has not left it. A grid takes its share afterwards and leaves L0
    as it is.
    """
    energy = front.luminous_energy_lm_s if luminous_energy_lm_s is None else luminous_energy_lm_s
    spread = front.area_m2 * mean_hot_spot(front) * _solid_angle(front)
    if isinstance(front.shape, Cap):
        energy *= 1 - front.shape.back_share
    return energy / spread


def mean_hot_spot(front: Front) -> float:
    """Mean of `hot_spot` over the shining surface [-].

    Closed forms (Gaussian integrals) for rectangle, disk and cap; quadrature for polygons, which
    error is below 1e-9.
    """
    k = front.edge_falloff_stops * math.log(2.0)
    shape = front.shape
    if isinstance(shape, Rectangle):
        one_axis = math.sqrt(math.pi / (4 * k)) * math.erf(math.sqrt(k)) if k else 1.0
        return one_axis**2
    if isinstance(shape, Disk):
        hole = (shape.hole_m / front.width_m) ** 2
        return _within(k, 1.0) + (shape.hole_share - 1) * _within(k, hole)
    if isinstance(shape, Ball) or k == 0:
        return 1.0
    nodes, weights = np.polynomial.legendre.leggauss(48)
    s, w = 0.5 * (nodes + 1), 0.5 * weights
    if isinstance(shape, Cap):
        t, w_t = np.zeros((1, 1)), np.ones(1)
    else:  # between two corners of a polygon
        t, w_t = (s[:, None] + 0.5) / shape.sides + 0.25, w
    laid = places(shape, front.width_m, front.height_m, s[None, :], t)
    spot = np.exp2(-front.edge_falloff_stops * laid.radius**2)
    return float(np.sum(w_t[:, None] * w * spot * laid.area) / front.area_m2)


def _within(k: float, square: float) -> float:
    """∫ e^(-k q) dq from 0 to `square`, the light within a radius of a round hot spot."""
    return square if k == 0 else (1 - math.exp(-k * square)) / k


def _solid_angle(front: Front) -> float:
    """Flux per area and per L0 [sr] of the side that the normal is on."""
    if isinstance(front.shape, FLAT):
        return beam_integral(front.beam)
    if isinstance(front.shape, Ball) or isinstance(front.beam, Matte):
        hollow = isinstance(front.shape, Cap) and front.shape.hollow
        return math.pi * (escapes(front) if hollow else 1.0)
    return _bowl_integral(front)


def _bowl_integral(front: Front) -> float:
    """∫ p g cos dω dA over a cap with a beam about its axis, per area and mean p [sr].

    Quadrature over pole to rim and over directions; light that meets the cap again has not left.
    """
    assert isinstance(front.shape, Cap)
    nodes, weights = np.polynomial.legendre.leggauss(64)
    s, w_s = 0.5 * (nodes + 1), 0.5 * weights
    laid = places(front.shape, front.width_m, front.height_m, s, np.zeros_like(s))
    cosine, w_c = s[:, None], w_s[:, None]  # of the direction and the axis
    turn = math.pi * (np.arange(256) + 0.5) / 128
    sine = np.sqrt(1 - cosine**2)
    way = np.stack(
        np.broadcast_arrays(sine * np.cos(turn), sine * np.sin(turn), cosine), -1
    )  # (n, 256, 3)
    g = beam_factor(front.beam, way[..., 0] / way[..., 2], way[..., 1] / way[..., 2])
    weight = w_c * 2 * math.pi / len(turn)
    total = 0.0
    for k in range(len(s)):
        lean = np.maximum(way @ laid.normal[k], 0)
        free = ~meets_own_cloth(front, laid.at[k], way)
        flux = np.sum(weight * g * lean * free)
        total += (
            w_s[k] * laid.area[k] * 2.0 ** (-front.edge_falloff_stops * laid.radius[k] ** 2) * flux
        )
    return float(total / front.area_m2 / mean_hot_spot(front))


def grid_transmission(front: Front) -> float:
    """Share of the light that passes the grid of a flat front [-] (1 without a grid).

    ∫ g cos θ dω with the grid against that without; ∫∫ g / (1 + tx² + ty²)² dtx dty over the slopes
    in polar angles, since cos θ dω = sin θ cos θ dθ dφ.
    """
    if front.cells is None:
        return 1.0
    nodes, weights = np.polynomial.legendre.leggauss(96)
    most = math.atan(math.hypot(*front.cells.slopes))
    theta, w = 0.5 * most * (nodes + 1)[:, None], 0.5 * most * weights[:, None]
    turn = 2 * math.pi * (np.arange(720) + 0.5)[None, :] / 720
    tx, ty = np.tan(theta) * np.cos(turn), np.tan(theta) * np.sin(turn)
    lit = beam(front, tx, ty) * np.sin(theta) * np.cos(theta)
    return float(np.sum(w * lit) * 2 * math.pi / 720 / beam_integral(front.beam))

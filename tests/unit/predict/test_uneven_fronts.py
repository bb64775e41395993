"""Hot spots, lips and grids against brute force with the real geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from render.emission import Cells, grid_transmission, mean_hot_spot
from render.photometry.receptors import dome_response, flat_response
from render.predict import direct_exposure
from tests.sets import front, layout

RESPONSE = {"flat": flat_response, "dome": dome_response}
CELLS = Cells(0.05, 0.05, 0.06)  # divide a 0.6 x 0.9 m front evenly
OBLONG = Cells(0.03, 0.06, 0.05)

# Place, axis: ahead, aside, close, tilted so far that the horizon cuts the front.
STATIONS = {
    "ahead": ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0)),
    "aside": ((0.45, 0.25, 0.9), (-0.4, -0.2, -0.9)),
    "close": ((-0.1, 0.2, 0.25), (0.1, 0.0, -1.0)),
    "edge on": ((0.2, -0.3, 0.6), (1.0, 0.4, -0.3)),
    "turned away": ((0.1, 0.1, 0.5), (0.3, 0.9, 0.1)),
}
FRONTS = {
    "hot spot": {"edge_falloff_stops": 1.0},
    "lip": {"recess_m": 0.08},
    "grid": {"cells": CELLS},
    "oblong grid": {"cells": OBLONG},
    "hot spot, lip and grid": {"edge_falloff_stops": 0.7, "recess_m": 0.06, "cells": CELLS},
}


def luminance_of(a_front, x, y):
    """Luminance of the cloth, from its stops below the centre and its flux."""
    u, v = x / (a_front.width_m / 2), y / (a_front.height_m / 2)
    peak = a_front.luminous_energy_lm_s / math.pi / a_front.area_m2 / mean_hot_spot(a_front)
    return peak * 0.5 ** (a_front.edge_falloff_stops * (u * u + v * v))


def passes(a_front, place, x, y, phases):
    """Whether a straight way from cloth to place stays in one cell and inside the lip.

    `phases` says where the cells begin, in cells: of the whole grid, or of each way its own.
    """
    px, py, pz = place
    free = np.ones(len(x), bool)
    if a_front.cells is not None:
        # Black walls from the cloth to the cells' depth: in and out by the same cell.
        c = a_front.cells
        for start, end, size, phase in zip(
            (x, y), (px, py), (c.width_m, c.height_m), phases, strict=True
        ):
            leaves = start + (end - start) * c.depth_m / pz
            free &= np.floor(start / size + phase) == np.floor(leaves / size + phase)
    share = a_front.recess_m / pz
    free &= np.abs(x + (px - x) * share) < a_front.width_m / 2
    free &= np.abs(y + (py - y) * share) < a_front.height_m / 2
    return free


def brute_force(a_front, place, axis, receptor, phases=None):
    """Mean and standard error of the reading by random places on the cloth.

    The grid begins anywhere (mean over grids shifted at random) unless `phases` fixes it.
    """
    rng, count = np.random.default_rng(4), 1_500_000
    phases = rng.uniform(size=(2, count)) if phases is None else phases
    x = rng.uniform(-0.5, 0.5, count) * a_front.width_m
    y = rng.uniform(-0.5, 0.5, count) * a_front.height_m
    px, py, pz = place
    d = np.sqrt((x - px) ** 2 + (y - py) ** 2 + pz**2)
    n = np.asarray(axis) / np.linalg.norm(axis)
    cosine = (n[0] * (x - px) + n[1] * (y - py) - n[2] * pz) / d
    each = luminance_of(a_front, x, y) * pz / d**3 * RESPONSE[receptor](cosine) * a_front.area_m2
    each = each * passes(a_front, place, x, y, phases)
    return each.mean(), each.std() / math.sqrt(count)


def read(a_front, place, axis, receptor):
    """Predicted reading and its error estimate [stops]."""
    found = direct_exposure(layout(a_front), np.array([place]), np.array([axis]), receptor)
    return found.luminous_exposure_lx_s[0, 0], found.error_stops[0, 0]


@pytest.mark.parametrize("receptor", ["flat", "dome"])
@pytest.mark.parametrize("station", STATIONS)
@pytest.mark.parametrize("kind", FRONTS)
def test_reading_matches_random_rays_through_the_real_geometry(kind, station, receptor):
    a_front, (place, axis) = front(**FRONTS[kind]), STATIONS[station]
    truth, standard_error = brute_force(a_front, place, axis, receptor)
    found, error = read(a_front, place, axis, receptor)
    assert truth > 0, "the case is dark and shows nothing"
    assert abs(found - truth) < 4 * standard_error
    assert abs(math.log2(found / truth)) < 0.02
    assert error < 0.002


@pytest.mark.parametrize(("cell_mm", "bound_stops"), [(50, 0.12), (10, 0.025), (5, 0.0125)])
@pytest.mark.parametrize("station", ["ahead", "aside"])
def test_beam_is_the_limit_of_a_grid_of_fine_cells(station, cell_mm, bound_stops):
    # One real grid that begins at the front's edge, cells as deep as wide. Near by, its walls
    # are seen in perspective: up to depth / (2 · distance) per direction more or less light.
    place, axis = STATIONS[station]
    cell = cell_mm / 1000
    a_front = front(cells=Cells(cell, cell, cell))
    truth, standard_error = brute_force(a_front, place, axis, "flat", phases=(0.0, 0.0))
    found, _ = read(a_front, place, axis, "flat")
    assert abs(math.log2(found / truth)) < bound_stops + 4 * standard_error / truth


@pytest.mark.parametrize("receptor", ["flat", "dome"])
@pytest.mark.parametrize("station", STATIONS)
def test_hot_spot_matches_adaptive_quadrature(station, receptor):
    # scipy.integrate.dblquad over the cloth, formula written out anew.
    a_front, ((px, py, pz), axis) = front(edge_falloff_stops=1.3), STATIONS[station]
    n = np.asarray(axis) / np.linalg.norm(axis)

    def density(y, x):
        d = math.sqrt((x - px) ** 2 + (y - py) ** 2 + pz**2)
        cosine = (n[0] * (x - px) + n[1] * (y - py) - n[2] * pz) / d
        return luminance_of(a_front, x, y) * float(RESPONSE[receptor](cosine)) * pz / d**3

    truth = dblquad(density, -0.3, 0.3, -0.45, 0.45, epsabs=1e-6, epsrel=1e-6)[0]
    found, error = read(a_front, (px, py, pz), axis, receptor)
    assert found == pytest.approx(truth, rel=2e-5)
    assert error < 0.002


@pytest.mark.parametrize("kind", ["even", "hot spot", "grid", "oblong grid"])
def test_what_arrives_on_a_far_sphere_is_what_leaves_the_front(kind):
    a_front = front(**({} if kind == "even" else FRONTS[kind]), luminous_energy_lm_s=100.0)
    radius = 300.0  # m; the front is then a point to 3e-6

    # Whole half space in slopes x/z, y/z, or as far as the grid is open: one quarter of it.
    nodes, weights = np.polynomial.legendre.leggauss(40)
    if a_front.cells is None:
        # tan maps the endless quarter on a square
        angle = math.pi / 4 * (nodes + 1)
        slope, step = np.tan(angle), math.pi / 4 * weights / np.cos(angle) ** 2
        slopes, steps = (slope, slope), (step, step)
    else:
        slopes = tuple(s / 2 * (nodes + 1) for s in a_front.cells.slopes)
        steps = tuple(s / 2 * weights for s in a_front.cells.slopes)
    tx, ty = np.meshgrid(*slopes, indexing="ij")
    way = np.stack([tx, ty, np.ones_like(tx)], -1).reshape(-1, 3)
    length = np.linalg.norm(way, axis=1)
    solid_angle = np.outer(*steps).ravel() / length**3
    out = way / length[:, None]
    found = direct_exposure(layout(a_front), radius * out, -out, "flat")
    flux = 4 * radius**2 * np.sum(found.luminous_exposure_lx_s[:, 0] * solid_angle)
    assert flux == pytest.approx(100.0 * grid_transmission(a_front), rel=1e-4)


def test_grid_takes_nothing_straight_ahead_from_far_away():
    # common practice, no source: a grid narrows the beam and hardly dims its middle.
    far = np.array([[0, 0, 50.0]]), np.array([[0, 0, -1.0]])
    bare = direct_exposure(layout(front()), *far, "flat").luminous_exposure_lx_s[0, 0]
    grid = direct_exposure(layout(front(cells=CELLS)), *far, "flat").luminous_exposure_lx_s[0, 0]
    assert -0.02 < math.log2(grid / bare) < 0


def test_beyond_its_cut_off_a_grid_shows_nothing():
    # The label of an egg-crate is the angle of total cut-off: tan = cell / depth.
    cell = 0.05
    a_front = front(width_m=0.1, height_m=0.1, cells=Cells(cell, cell, cell))
    places = 20 * np.array([[math.sin(a), 0, math.cos(a)] for a in np.radians([44.0, 46.0])])
    found = direct_exposure(layout(a_front), places, -places, "flat").luminous_exposure_lx_s[:, 0]
    assert found[0] > 0
    assert found[1] == 0


@pytest.mark.parametrize(
    ("distance", "losses"),
    [(0.6, (3.0, 1.9, 1.2, 0.8)), (1, (1.9, 1.1, 0.7, 0.5)), (2, (0.9, 0.5, 0.3, 0.2))],
)
def test_loss_of_an_egg_crate_on_a_soft_box(distance, losses):
    # Planner's table for a 60 x 90 cosine front, cut-off at 20 ... 50 degrees: computed, 0.1 stop.
    at = np.array([[0, 0, distance]]), np.array([[0, 0, -1.0]])
    bare = direct_exposure(layout(front()), *at, "flat").luminous_exposure_lx_s[0, 0]
    for cut_off_deg, loss in zip((20, 30, 40, 50), losses, strict=True):
        cell = math.tan(math.radians(cut_off_deg)) * 0.05
        cells = Cells(cell, cell, 0.05)
        found = direct_exposure(layout(front(cells=cells)), *at, "flat")
        lost = math.log2(bare / found.luminous_exposure_lx_s[0, 0])
        assert lost == pytest.approx(loss, abs=0.1)

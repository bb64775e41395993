"""Traced light of single fronts against integrals that know nothing of the tracer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import dblquad

from render.emission import Cells, Front
from render.layout.placed import View
from render.trace import Engine, Spot, receptor_readings, spots
from render.trace.stage import stage_of
from tests.agreement.quadrature import light
from tests.sets import ball, front, layout, sheet

STOP = np.log(2.0)
X, Y = [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]
PLACES = np.array([[0, 0, 1.2], [0.5, 0.2, 1.0], [-0.4, 0.6, 0.5], [1.2, 0.0, 0.9], [0, -0.3, 2.5]])
AXES = np.array([[0, 0, -1], [-0.3, 0.1, -0.9], [0.2, -0.5, -0.8], [-1, 0, -0.2], [0, 0.8, -0.6]])
AXES = AXES / np.linalg.norm(AXES, axis=1, keepdims=True)
FRONTS = {
    "bare": front(),
    "hot spot": front(edge_falloff_stops=1.5),
    "lip": front(recess_m=0.06),
    "grid": front(cells=Cells(0.05, 0.04, 0.06)),
    "all": front(edge_falloff_stops=0.8, recess_m=0.05, cells=Cells(0.05, 0.05, 0.05)),
}


def agrees(found: Any, error: Any, truth: Any, stops: float) -> None:
    """Within four standard errors, and sure enough for that to say something."""
    found, error, truth = (np.asarray(a, float) for a in (found, error, truth))
    assert np.all(error <= stops / 4 * STOP * np.maximum(truth, truth.max() / 8)), (error, truth)
    assert np.all(np.abs(found - truth) < 4 * error + 1e-12), (found, truth, error)


@pytest.mark.parametrize("kind", FRONTS)
@pytest.mark.parametrize("receptor", ["flat", "dome"])
def test_light_of_a_front_is_its_integral(kind: str, receptor: Any, engine: Engine) -> None:
    """Truth: numerical integration over the front (module quadrature)."""
    made = FRONTS[kind]
    truth = [light(made, p, a, receptor) for p, a in zip(PLACES, AXES, strict=True)]
    reading = receptor_readings(
        layout(made), PLACES, AXES, receptor, engine=engine, samples=1 << 20
    )
    agrees(reading.total[:, 0], reading.total_error[:, 0], truth, 0.02)
    assert not reading.bounce.any()  # nothing is there to bounce from


def test_the_integral_itself_is_the_form_factor() -> None:
    """Truth: adaptive quadrature of the form factor of a rectangle on a parallel element."""
    made, z = front(), 1.2
    factor, _ = dblquad(
        lambda y, x: z**2 / (x * x + y * y + z * z) ** 2 / np.pi, -0.3, 0.3, -0.45, 0.45
    )
    assert light(made, [0, 0, z], [0, 0, -1]) == pytest.approx(factor / 0.54, rel=1e-5)


@pytest.mark.parametrize("kind", ["bare", "hot spot", "grid"])
def test_all_light_of_a_front_passes_a_dome_around_it(kind: str, engine: Engine) -> None:
    """Truth: one lumen second leaves the cloth; a grid lets pass its cosine-weighted mean."""
    made = FRONTS[kind]
    share = 1.0
    if made.cells:
        ax, ay = made.cells.slopes
        share, _ = dblquad(
            lambda y, x: 4 / np.pi * (1 - x / ax) * (1 - y / ay) / (1 + x * x + y * y) ** 2,
            0, ax, 0, ay,
        )  # fmt: skip
    # Evenly spread places on a half sphere (golden angle), each facing the front.
    count, radius = 4000, 3.0
    height = (np.arange(count) + 0.5) / count
    turn = np.pi * (1 + 5**0.5) * np.arange(count)
    rim = np.sqrt(1 - height**2)
    facing = np.stack([rim * np.cos(turn), rim * np.sin(turn), height], -1)
    reading = receptor_readings(
        layout(made), radius * facing, -facing, "flat", engine=engine, samples=512
    )
    area = 2 * np.pi * radius**2
    error = area * np.sqrt((reading.total_error**2).sum()) / count
    agrees(area * reading.total.mean(), error, share, 0.01)


def test_a_grey_ball_shows_what_falls_on_it(engine: Engine) -> None:
    """Truth: L = 0.18 / pi · E of the smooth normal; the ball hides nothing of the front."""
    made = front([0.0, 0.0, -1.0], [0.0, 0.0, 1.5])
    ways = np.array([[0, 0, 1.0], [0.5, 0, 0.8], [0.2, 0.6, 0.7]])
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    targets = [Spot(np.array([1.0, 0.5, 1.2]), 0.1 * way[None]) for way in ways]
    targets += [Spot(np.array([1.0, 0.5, 1.2]), np.zeros((0, 3)), (0.1001 * w, w)) for w in ways]
    truth = [0.18 / np.pi * light(made, 0.1 * way, way) for way in ways] * 2
    reading = spots(
        layout(made, body=ball([0, 0, 0], 0.1, 6)), targets, "matte",
        room=False, bounces=1, samples=1 << 20, engine=engine, target_se_stops=0.002,
    )  # fmt: skip
    assert reading.samples < 1 << 20
    agrees(reading.mean[:, 0], reading.standard_error[:, 0], truth, 0.01)


def test_a_sheet_shows_either_face(engine: Engine) -> None:
    """Truth: L = rho / pi · E with the reflectance of the face that is lit."""
    made = front([0.0, 0.0, -1.0], [0.0, 0.0, 1.0])
    for facing, rho in ((X, 0.5), ([-1.0, 0.0, 0.0], 0.2)):
        card = sheet(
            [0, 0, 0], facing, Y, 0.4, 0.4,
            reflectance=(0.5,) * 3, back_reflectance=(0.2,) * 3,
        )  # fmt: skip
        reading = spots(
            layout(made, sheets=(card,)), [Spot(np.array([1, 0, 1.0]), np.zeros((1, 3)))], "real",
            room=True, bounces=1, samples=1 << 16, engine=engine,
        )  # fmt: skip
        truth = rho / np.pi * light(made, [0, 0, 0], [0, 0, 1])
        agrees(reading.mean[:, 0], reading.standard_error[:, 0], [truth], 0.01)


def surround(side: float = 2.0) -> tuple[Front, ...]:
    """Six fronts that close a cube and shine inwards."""
    inward = [*np.eye(3), *-np.eye(3)]
    return tuple(
        front(n, -n * side / 2, name=str(k), width_m=side, height_m=side)
        for k, n in enumerate(inward)
    )


def test_furnace(engine: Engine) -> None:
    """Truth: inside a surround of luminance 1 a matte ball of 0.18 shows 0.18, a flat receptor
    reads pi and a dome, whose response integrates to 2 pi over the sphere, 2 pi."""
    made = layout(*surround(), body=ball([0, 0, 0], 0.2, 4))
    energy = np.pi * 4.0  # of a face of 2 x 2 m at luminance 1
    way = np.array([0.3, 0.5, 0.8])
    way /= np.linalg.norm(way)
    seen = spots(
        made, [Spot(0.9 * way, 0.2 * way[None])], "plain",
        room=True, bounces=None, samples=1 << 16, engine=engine,
    )  # fmt: skip
    error = energy * np.sqrt((seen.standard_error**2).sum())
    agrees(energy * seen.mean.sum(), error, 0.18, 0.02)
    alone = replace(made, body=None)
    for receptor, truth in (("flat", np.pi), ("dome", 2 * np.pi)):
        held = receptor_readings(
            alone,
            [[0.1, 0.2, 0.3]],
            [way],
            receptor,
            engine=engine,
            samples=1 << 16,  # type: ignore[arg-type]
        )
        error = energy * np.sqrt((held.total_error**2).sum())
        agrees(energy * held.total.sum(), error, truth, 0.02)


def test_a_mirrored_set_reads_the_same(engine: Engine) -> None:
    """Truth: symmetry."""

    def made(side: float) -> Any:
        lamp = front([-side * 0.6, -0.2, -0.8], [side * 0.8, 0.4, 1.0], recess_m=0.03)
        wall = sheet(
            [side, 0, 0],
            [0, 0, -side],
            Y,
            2,
            2,
            reflectance=(0.7,) * 3,
            back_reflectance=(0.7,) * 3,
        )
        return layout(lamp, sheets=(wall,), body=ball([0, 0, 0], 0.1, 4))

    found = [
        receptor_readings(
            made(side), [[side * 0.15, 0.0, 0.1]], [[side * 0.7, 0.0, 0.7]], "dome",
            engine=engine, samples=1 << 20, seed=k,
        )
        for k, side in enumerate((1.0, -1.0))
    ]  # fmt: skip
    for name in ("bounce", "total"):
        (a, b), (ea, eb) = ([getattr(f, n)[0, 0] for f in found] for n in (name, f"{name}_error"))
        assert a > 0
        agrees(a, np.hypot(ea, eb), b, 0.05)


def test_the_camera_shows_places_where_the_lens_law_puts_them(engine: Engine) -> None:
    """Truth: similar triangles. A thing at camera right (+x) and above lies right of and above
    the middle of the picture, by f·x / (d - f) on the sensor of a lens focused there."""
    lens = View(np.array([0, 0, 2.0]), np.array(X), np.array(Y), 0.085, 16.0, 0.024, 0.03, 2.0)
    lamp = front([0, 0, 1], [0.12, 0.2, 0.0], width_m=0.02, height_m=0.02)
    width, height = 96, 120
    arguments = {"view": lens, "size_px": (width, height), "samples": 16, "seed": 0}
    picture = engine.call("chunk", stage_of(layout(lamp), "real"), arguments)[0, ..., 1]
    rows, columns = np.indices(picture.shape) + 0.5
    centre = [(picture * axis).sum() / picture.sum() for axis in (columns, rows)]
    right = width * (0.5 + 0.085 * 0.12 / (2.0 - 0.085) / 0.024)
    down = height * (0.5 - 0.085 * 0.20 / (2.0 - 0.085) / 0.03)
    np.testing.assert_allclose(centre, [right, down], atol=0.1)
    # A luminous surface shows its luminance: 1 / (pi · area) per lumen second.
    assert picture.max() == pytest.approx(1 / (np.pi * 0.02**2), rel=1e-3)

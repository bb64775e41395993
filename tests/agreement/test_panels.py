"""Panels by tracing: white fills, silver aims, black takes away; the bounce adds up by surface."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import erf

from render.layout.panels import SILVER_ROUGHNESS, USUAL_REFLECTANCE
from render.layout.placed import Layout
from render.photometry.formfactors import polygon_view_factor
from render.photometry.rough_mirror import single_share
from render.photometry.srgb import LUMINANCE_SHARES
from render.trace import Engine, Spot, receptor_readings, spots
from tests.agreement.test_traced_fronts import surround
from tests.sets import SUBJECT, ball, front, layout, place_from_reference, room_b, sheet

Floats = NDArray[np.float64]
KEY_TO_FACE_M, KEY_TO_PANEL_M = 1.0, 1.6  # of the trade's table
KEY_ON_PANEL_DEG = 40.0  # angle at which its key meets the panel: recovers its four figures
PANEL_M = 1.0
GRID = 60  # per side, of the two-step integral


def panel_beside(distance_m: float, **surface: Any) -> Layout:
    """A face point at the origin that looks along +x at a square panel, lit by a 60 x 90 key."""
    middle = np.array([distance_m, 0.0, 0.0])
    angle = np.radians(KEY_ON_PANEL_DEG)
    towards_key = np.array([-np.cos(angle), 0.0, np.sin(angle)])
    key = front(-towards_key, middle + KEY_TO_PANEL_M * towards_key)
    grey = (surface.pop("rho", 0.65),) * 3
    values = {"reflectance": grey, "back_reflectance": grey, **surface}
    board = sheet(middle, [0, 0, 1], [0, 1, 0], PANEL_M, PANEL_M, **values)
    return layout(key, sheets=(board,))


def key_reading() -> float:
    """Flat reading of the key at a metre on its axis, by its view factor [lx·s at 1 cd·s/m²]."""
    made = front((0, 0, -1), (0, 0, KEY_TO_FACE_M))
    half = np.array([[-0.3, -0.45], [0.3, -0.45], [0.3, 0.45], [-0.3, 0.45]])
    corners = made.centre_m + half[:, :1] * made.right + half[:, 1:] * made.up
    return float(np.pi * polygon_view_factor(corners, np.array([0.0, 0.0, 1.0])))


def two_steps(made: Layout, place: Any = (0, 0, 0), axis: Any = (1, 0, 0)) -> float:
    """Light on a place from the panel: key on each of its cells, each cell on the place."""
    key, board = made.fronts[0], made.sheets[0]
    u = ((np.arange(GRID) + 0.5) / GRID - 0.5) * PANEL_M
    x, y = (a.reshape(-1, 1) for a in np.meshgrid(u, u))
    cells = board.centre_m + x * board.right + y * board.up
    half = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [key.width_m, key.height_m]
    corners = key.centre_m + half[:, :1] * key.right + half[:, 1:] * key.up
    lit = np.pi * polygon_view_factor(corners - cells[:, None], board.normal)
    ways = cells - place
    away = np.linalg.norm(ways, axis=1)
    cosines = (ways @ axis / away) * (ways @ -board.normal / away)
    rho = board.reflectance[0]
    return float(np.sum(rho / np.pi * lit * cosines / away**2) * PANEL_M**2 / GRID**2)


def on_face(made: Layout, engine: Engine, samples: int = 1 << 16) -> tuple[float, float]:
    """Bounce on the face point and its standard error [lx·s]."""
    reading = receptor_readings(
        made, [[0, 0, 0]], [[1, 0, 0]], "flat", engine=engine, samples=samples
    )
    energy = made.fronts[0].luminous_energy_lm_s
    return float(reading.bounce[0, 0] * energy), float(reading.bounce_error[0, 0] * energy)


@pytest.mark.parametrize(
    ("distance_m", "stops"), [(0.4, -2.8), (0.6, -3.3), (0.8, -3.8), (1.0, -4.2)]
)
def test_white_panel_beside_the_face(distance_m: float, stops: float, engine: Engine) -> None:
    """Truth: trade table of a 1 x 1 m panel of 0.65, computed there; common practice, no source.
    Within 0.15 stop of it, and of the integral key -> panel -> face within the error bar."""
    made = panel_beside(distance_m)
    found, error = on_face(made, engine)
    assert abs(np.log2(found / key_reading()) - stops) < 0.15
    assert abs(found - two_steps(made)) < 4 * error + 1e-3 * found


def rough_mirror(to_light: Floats, to_eye: Floats, normal: Floats, alpha: float) -> Floats:
    """Reflection of a Beckmann metal, facets losing none [1/sr] (Walter et al. 2007, eq. 20 to 26,
    with the exact shadowing by the error function)."""
    half = to_light + to_eye
    half /= np.linalg.norm(half, axis=-1, keepdims=True)
    c_light, c_eye, c_half = (np.clip(v @ normal, 1e-6, 1.0) for v in (to_light, to_eye, half))
    tangent = (1 - c_half**2) / c_half**2
    facets = np.exp(-tangent / alpha**2) / (np.pi * alpha**2 * c_half**4)

    def open_to(cosine: Floats) -> Floats:
        a = cosine / (alpha * np.sqrt(np.maximum(1 - cosine**2, 1e-12)))
        return 2 / (1 + erf(a) + np.exp(-a * a) / (a * np.sqrt(np.pi)))

    return facets * open_to(c_light) * open_to(c_eye) / (4 * c_light * c_eye)


def silver_two_steps(made: Layout, place: Floats, axis: Floats, cells: int = 40) -> float:
    """Light of the key on a place by way of a silver board: midpoints of key and board."""
    key, board = made.fronts[0], made.sheets[0]
    rho = board.reflectance[0] / single_share(board.roughness)

    def grid(sheet_like: Any, count: int) -> tuple[Floats, float]:
        u = (np.arange(count) + 0.5) / count - 0.5
        x, y = (a.reshape(-1, 1) for a in np.meshgrid(u, u))
        across = x * sheet_like.width_m * sheet_like.right + y * sheet_like.height_m * sheet_like.up
        return sheet_like.centre_m + across, sheet_like.width_m * sheet_like.height_m / count**2

    (sources, source_m2), (mirrors, mirror_m2) = grid(key, cells // 2), grid(board, cells)
    found = 0.0
    for source in sources:
        light, eye = source - mirrors, place - mirrors
        d_light, d_eye = (np.linalg.norm(v, axis=1, keepdims=True) for v in (light, eye))
        light, eye = light / d_light, eye / d_eye
        c_light, c_eye = np.maximum(light @ board.normal, 0), np.maximum(eye @ board.normal, 0)
        leaves = np.maximum(-light @ key.normal, 0) / d_light[:, 0] ** 2
        meets = np.maximum(-eye @ axis, 0) / d_eye[:, 0] ** 2
        bent = rho * rough_mirror(light, eye, board.normal, board.roughness)
        found += float(np.sum(leaves * c_light * bent * c_eye * meets))
    return found * source_m2 * mirror_m2


SILVER = {
    "rho": USUAL_REFLECTANCE["silver"],
    "roughness": SILVER_ROUGHNESS,
    "back_roughness": SILVER_ROUGHNESS,
}


@pytest.mark.parametrize("angle_deg", [-KEY_ON_PANEL_DEG, 0.0, 20.0])
def test_silver_gives_what_its_integral_over_key_and_board_gives(
    angle_deg: float, engine: Engine
) -> None:
    """Truth: both steps by midpoints with the published reflection of a rough metal, 2 %."""
    made = panel_beside(0.8, **SILVER)
    place, axis = facing_panel(made, angle_deg)
    reading = receptor_readings(made, [place], [axis], "flat", engine=engine, samples=1 << 17)
    found, error = (
        float(a[0, 0] * made.fronts[0].luminous_energy_lm_s)
        for a in (reading.bounce, reading.bounce_error)
    )
    truth = silver_two_steps(made, place, axis)
    assert error < 0.012 * truth
    assert abs(found - truth) < 4 * error + 0.02 * truth


def facing_panel(made: Layout, angle_deg: float) -> tuple[Floats, Floats]:
    """A place 0.8 m off the panel's middle, this far round from its normal, that looks at it."""
    angle, middle = np.radians(angle_deg), made.sheets[0].centre_m
    away = np.array([-np.cos(angle), 0.0, np.sin(angle)])
    return middle + 0.8 * away, -away


def test_silver_aims_its_light_and_white_spreads_it(engine: Engine) -> None:
    """Truth: law of reflection. Where the key is mirrored silver gives over half a stop more than
    white of the same reflectance, on the key's own side over a stop less."""
    stops = {}
    for kind, roughness in (("white", 0.0), ("silver", SILVER_ROUGHNESS)):
        made = panel_beside(0.8, **(SILVER | {"roughness": roughness}))
        held = [facing_panel(made, angle) for angle in (-KEY_ON_PANEL_DEG, KEY_ON_PANEL_DEG)]
        places, axes = (np.array(part) for part in zip(*held, strict=True))
        reading = receptor_readings(made, places, axes, "flat", engine=engine, samples=1 << 14)
        stops[kind] = np.log2(reading.bounce[:, 0])
    mirrored, own_side = stops["silver"] - stops["white"]
    assert mirrored > 0.5
    assert own_side < -1


@pytest.mark.parametrize("side", [1, -1])
def test_silver_gives_back_its_stated_share_of_even_light(side: int, engine: Engine) -> None:
    """Truth: in a surround of luminance 1 the mean of what it shows, 2 ∫ L(c) c dc, is its
    reflectance, and it nowhere gives more than it gets."""
    nodes, weights = np.polynomial.legendre.leggauss(8)
    cosines, weights = (nodes + 1) / 2, weights / 2
    rho = (SILVER["rho"],) * 3
    values = SILVER | {"reflectance": rho, "back_reflectance": rho}
    board = sheet(
        [0, 0, 0], [1, 0, 0], [0, 1, 0], 0.3, 0.3, **{k: values[k] for k in values if k != "rho"}
    )
    eyes = [[0.9 * np.sqrt(1 - c * c), 0.0, side * 0.9 * c] for c in cosines]
    seen = spots(
        layout(*surround(), sheets=(board,)), [Spot(np.array(e), np.zeros((1, 3))) for e in eyes],
        "plain", room=True, bounces=1, samples=1 << 14, engine=engine,
    )  # fmt: skip
    energy = np.pi * 4.0  # of one face of the surround
    shown, error = energy * seen.mean.sum(1), energy * np.hypot.reduce(seen.standard_error, axis=1)
    share = 2 * float(np.sum(weights * cosines * shown))
    doubt = 2 * float(np.hypot.reduce(weights * cosines * error))
    assert np.all(shown < 1)
    assert doubt < 0.002
    assert abs(share - SILVER["rho"]) < 4 * doubt


@pytest.mark.parametrize("distance_m", [0.3, 0.5])
def test_black_panel_in_a_white_room_takes_half_to_one_and_a_half_stops(
    distance_m: float, engine: Engine
) -> None:
    """Negative fill at 0.3 to 0.5 m, dome between shadow side and camera; common practice, no
    source."""
    place, aside, ahead = place_from_reference(SUBJECT), *np.eye(3)[[0, 2]]
    axis = (aside + ahead) / np.sqrt(2)
    rho = (USUAL_REFLECTANCE["black"],) * 3
    board = sheet(
        place + distance_m * aside,
        -ahead,
        [0, 1, 0],
        1.0,
        2.0,
        reflectance=rho,
        back_reflectance=rho,
    )
    room = room_b(0.75)
    darker = replace(room, sheets=(*room.sheets, board))
    without, with_it = (
        float(
            receptor_readings(m, [place], [axis], "dome", engine=engine, samples=1 << 14).bounce[
                0, 0
            ]
        )
        for m in (room, darker)
    )
    assert -1.5 < np.log2(with_it / without) < -0.5


def test_bounce_adds_up_by_surface_and_knows_the_only_pale_one(engine: Engine) -> None:
    """Truth: the parts of a whole; in a black room all that comes back comes from the pale wall."""
    place, aside = place_from_reference(SUBJECT), np.array([1.0, 0.0, 0.0])
    where = {"engine": engine, "samples": 1 << 14}
    room = room_b(0.5)
    for receptor in ("flat", "dome"):
        reading = receptor_readings(room, [place] * 2, [aside, -aside], receptor, **where)
        np.testing.assert_allclose(reading.by_surface.sum(-1), reading.bounce, rtol=1e-9)
        assert np.all(
            np.hypot.reduce(reading.by_surface_error, axis=-1) >= 0.99 * reading.bounce_error
        )
    sheets = [s if s.name == "far" else replace(s, reflectance=(0.0,) * 3) for s in room.sheets]
    dark = receptor_readings(
        replace(room, sheets=tuple(sheets)), [place], [[0, 0, -1]], "flat", **where
    )
    far = dark.surfaces.index("far")
    assert dark.by_surface[0, 0, far] == pytest.approx(dark.bounce[0, 0], rel=1e-9)
    assert dark.bounce[0, 0] > 0
    assert not np.delete(dark.by_surface[0, 0], far).any()


def test_the_plain_engine_tells_the_same_surfaces(engine: Engine) -> None:
    """Truth: the compiled engine, four standard errors of both."""
    made = replace(panel_beside(0.6), body=ball([0.3, -0.4, 0.0], 0.1, 3))
    held = ([[0, 0, 0]], [[1, 0, 0]], "flat")
    fast = receptor_readings(made, *held, engine=engine, samples=1 << 15)
    with Engine("scalar") as plain:
        slow = receptor_readings(made, *held, engine=plain, samples=1 << 11)
    assert fast.surfaces == slow.surfaces == ("panel.sheet", "sitter", "lights")
    doubt = np.hypot(fast.by_surface_error, slow.by_surface_error)
    assert np.all(fast.by_surface[0, 0, :2] > 0)
    assert np.all(np.abs(fast.by_surface - slow.by_surface) <= 4 * doubt)


def test_a_red_wall_tints_by_its_own_colour(engine: Engine) -> None:
    """Truth: one bounce off one wall in the void: channels as its reflectances, and the integral
    key -> wall -> place of each."""
    red = (0.6, 0.06, 0.03)
    channels = np.eye(3) / LUMINANCE_SHARES  # lights whose luminance is one channel's value
    found = []
    for channel, colour in enumerate(channels):
        made = panel_beside(0.8, reflectance=red, back_reflectance=red)
        tinted = replace(made.fronts[0], colour=tuple(colour))
        bounced, error = on_face(replace(made, fronts=(tinted,)), engine, 1 << 15)
        truth = two_steps(panel_beside(0.8, rho=red[channel]))
        assert abs(bounced - truth) < 4 * error + 1e-3 * truth
        found.append(bounced)
    assert found[0] / found[1] == pytest.approx(red[0] / red[1], rel=1e-4)
    assert found[0] / found[2] == pytest.approx(red[0] / red[2], rel=1e-4)

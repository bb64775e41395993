"""What is in the frame: exact pyramid against projection, pixels and hand geometry."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from render.emission import Front
from render.errors import ViewError
from render.layout.geometry import unit
from render.layout.lens import project, view
from render.layout.placed import Layout
from render.layout.sweep import sheet_mesh
from render.plan.checks import in_frame as module
from render.plan.checks.finding import Context
from render.plan.checks.frustum import Frustum, clearance, clipped, way_out
from render.plan.checks.holding import holders
from render.plan.checks.in_frame import covered_share, drawn_shares, in_frame, solid_things
from render.plan.checks.rig import HEAD_LENGTH_M
from render.scenefile import load_scene
from render.setview import gl_verdict
from render.setview.pieces import joined
from render.setview.seen import frame_size
from render.setview.solids import set_solids
from render.studio.camera import Camera
from tests import sets

EYES = np.array([0.0, 1.2, 0.0])
CAMERA = Camera(distance_m=1.7, height_m=1.2, aim_height_m=1.2, focal_length_mm=100, crop="4:5")
LENS = view(CAMERA, EYES, EYES)
HALF_W = 0.5 * LENS.frame_width_m / LENS.image_m  # slopes of the frame's edges
HALF_H = 0.5 * LENS.frame_height_m / LENS.image_m
PLACEMENTS, AT_ONCE = 48, 8


@pytest.fixture(params=["drawn", "by rays"])
def way(request, monkeypatch) -> str:
    """Either way to find out what shows; drawing is skipped where there is no GL."""
    if request.param == "drawn" and not gl_verdict().usable:
        pytest.skip(gl_verdict().why)
    if request.param == "by rays":
        without_gl(monkeypatch)
    return request.param


def without_gl(monkeypatch) -> None:
    """As on a machine that cannot draw."""

    def none(*_) -> None:
        raise ViewError("the set cannot be drawn here")

    monkeypatch.setattr(module, "seen_in_frame", none)


def seen(*fronts: Front, body=None, **light: object) -> Context:
    """Fronts on the stands of the bundled key, before a lens that looks at the eyes."""
    setup = load_scene("violin-two-lights")
    key = setup.scene.light["key"].model_copy(update=light)
    lights = {front.name: key for front in fronts}
    context = Context(replace(setup, scene=setup.scene.model_copy(update={"light": lights})))
    context.__dict__["layout"] = Layout(fronts, (), body, LENS, (), 0)
    return context


def brute_force(mesh, fine: int = 60) -> bool:
    """Whether any of many places on the triangles falls into the picture when projected."""
    a, b = (x.ravel() for x in np.meshgrid(*[np.linspace(0, 1, fine)] * 2))
    a, b = a[a + b <= 1], b[a + b <= 1]
    corners = mesh[0][mesh[1]]
    share = np.stack([1 - a - b, a, b])
    at = project(LENS, np.einsum("mcx,cp->mpx", corners, share))
    return bool(np.any(np.all((at > 0) & (at < 1), axis=-1)))


def test_a_lamp_is_in_the_frame_where_any_place_of_it_projects_into_the_picture() -> None:
    frustum, found = Frustum.of(LENS), []
    mesh = solid_things(sets.layout(sets.front(-LENS.back, [0, 0, 0], width_m=0.3)))["light.key"]
    for x in np.linspace(0.25, 0.8, 12):
        for y in (1.2, 1.55, 1.8):
            moved = (mesh[0] + [x, y, -0.8], mesh[1])
            inside = bool(clipped(frustum, moved))
            assert inside == brute_force(moved), (x, y)
            assert inside == (clearance(frustum, moved).distance_m == 0.0), (x, y)
            found.append(inside)
    assert 0.2 < np.mean(found) < 0.8  # both kinds are among them


def test_the_clearance_of_a_lamp_is_the_distance_from_the_plane_of_the_frames_edge() -> None:
    """A level sheet h above the axis at depth d is (h - d·s) cos of the edge above the frame."""
    depth, height = 1.7, 0.6
    flat = sets.sheet(LENS.position_m + [0, height, -depth], [1, 0, 0], [0, 0, -1], 0.1, 1e-6)
    found = clearance(Frustum.of(LENS), sheet_mesh(flat)[::2])
    truth = (height - depth * HALF_H) / np.hypot(1, HALF_H)
    assert found.distance_m == pytest.approx(truth, abs=1.5e-3)
    assert found.side == "top"


def test_a_wide_panel_below_the_frame_is_below_it_and_beside_nothing() -> None:
    card = sets.sheet([0, 0.6, 0.2], [1, 0, 0], [0, 0.7, -0.7], 0.8, 0.4)
    assert clearance(Frustum.of(LENS), sheet_mesh(card)[::2]).side == "bottom"


def test_the_way_out_of_the_frame_takes_all_of_the_lamp_out_and_no_less_does() -> None:
    frustum = Frustum.of(LENS)
    mesh = solid_things(sets.layout(sets.front(-LENS.back, [0.35, 1.3, -0.9])))["light.key"]
    metres, side = way_out(frustum, mesh)
    outward = -frustum.inward[1]
    assert side == "camera right"
    assert not clipped(frustum, (mesh[0] + (metres + 1e-6) * outward, mesh[1]))
    assert clipped(frustum, (mesh[0] + (metres - 0.01) * outward, mesh[1]))


def test_the_covered_share_of_the_frame_is_the_area_of_the_projected_polygon(way: str) -> None:
    card = sets.sheet([0.1, 1.25, 0.0], [1, 0, 0], [0, 1, 0], 0.12, 0.2)
    x, y = np.moveaxis(project(LENS, card.corners_m), -1, 0)
    area = 0.5 * abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))  # shoelace formula
    if way == "drawn":
        shares = drawn_shares(set_solids(sets.layout(sheets=(card,))), LENS)
        assert shares == {("panel.sheet", "sheet"): pytest.approx(area, abs=0.001)}
    else:
        share = covered_share(LENS, sheet_mesh(card)[::2], (None,))
        assert share == pytest.approx(area, abs=0.003)


def test_a_lamp_put_into_the_frame_is_wrong_and_one_just_outside_is_not(way: str) -> None:
    edge = 0.5 * 0.3 + HALF_W * (1.7 + 0.25 + 0.05)  # of a lamp 0.05 m behind, shell 0.25 m deep
    verdicts = {}
    for gap in (-0.03, 0.02, 0.2):
        front = sets.front([0, 0, 1], [edge + gap, 1.2, -0.05], width_m=0.3)
        found = in_frame(seen(front, flash=None))[0]
        verdicts[gap] = found.verdict
        assert found.value > 0
    assert verdicts == {-0.03: "wrong", 0.02: "look", 0.2: "fine"}


def test_a_lamp_hidden_behind_the_sitter_is_no_lamp_in_the_picture(way: str) -> None:
    front = sets.front([0, 0, 1], [0.0, 1.15, -0.3], width_m=0.04, height_m=0.04)
    head = sets.ball(EYES, 0.12)
    found = in_frame(seen(replace(front, shell_depth_m=0.02), body=head, flash=None))[0]
    assert (found.verdict, found.value) == ("look", 0.0)


def test_a_head_that_alone_stands_in_the_frame_is_named(way: str) -> None:
    """The box, 0.05 m deep, is outside; the head behind it reaches 0.25 m farther in."""
    edge = HALF_W * 1.7
    front = sets.front([1, 0, 0], [edge + 0.1, 1.2, 0.0], width_m=0.2, height_m=0.2)
    front = replace(front, shell_depth_m=0.05)
    assert HEAD_LENGTH_M == 0.25
    found = in_frame(seen(front))[0]
    assert found.verdict == "wrong"
    assert "with its flash head" in found.words
    assert in_frame(seen(front, flash=None))[0].verdict != "wrong"


def near_the_edge(number: int, chance: np.random.Generator) -> tuple[Front, float]:
    """A lamp turned anyhow whose deepest corner is within 8 cm of one side of the frame.

    returns also how deep that corner is in the frame, in pixels of the drawing
    """
    frustum, depth = Frustum.of(LENS), chance.uniform(1.3, 2.6)
    side, half = number % 4, number // 4  # two lamps at each side, apart from each other
    along, across = chance.uniform(half - 0.8, half - 0.2), [HALF_W, HALF_H]
    slopes = [(-1, along), (1, along), (along, 1), (along, -1)][side]
    at = LENS.position_m + depth * (
        slopes[0] * across[0] * LENS.right + slopes[1] * across[1] * LENS.up - LENS.back
    )
    facing = unit(chance.normal(size=3))
    size = chance.uniform(0.1, 0.3, 2)
    front = sets.front(facing, at, name=f"lamp{number}", width_m=size[0], height_m=size[1])
    wanted = chance.uniform(-0.08, 0.08)
    heights = frustum.heights(judged(front)[0])
    deepest = int(np.argmax(heights[:, side]))
    move = (wanted - heights[deepest, side]) * frustum.inward[side]
    far = float(-(judged(front)[0][deepest] + move - LENS.position_m) @ LENS.back)
    pixel = 2 * HALF_W * far / frame_size(LENS)[0]
    return replace(front, centre_m=front.centre_m + move), wanted / pixel


def judged(front: Front):
    """Front, housing and head of a lamp on a stand."""
    context = seen(front)
    solids = set_solids(context.layout, holders(context.setup, context.layout))
    return joined([each.mesh for each in solids if each.part in module.JUDGED])


def placements() -> Iterator[list[Front]]:
    """Lamps at all four sides of the frame, none within a pixel and a half of its edge."""
    chance = np.random.default_rng(7)
    for _ in range(PLACEMENTS // AT_ONCE):
        fronts = []
        for number in range(AT_ONCE):
            front, deep_px = near_the_edge(number, chance)
            while abs(deep_px) < 1.5:
                front, deep_px = near_the_edge(number, chance)
            fronts.append(front)
        yield fronts


def test_pixels_and_pyramid_agree_on_lamps_near_the_edge_of_the_frame() -> None:
    """Two computations: GL's own rasteriser, and triangles cut along planes."""
    if not gl_verdict().usable:
        pytest.skip(gl_verdict().why)
    frustum, found = Frustum.of(LENS), []
    for fronts in placements():
        context = seen(*fronts)
        solids = set_solids(context.layout, holders(context.setup, context.layout))
        shares = drawn_shares(solids, LENS)
        for front in fronts:
            pixels = sum(shares.get((f"light.{front.name}", part), 0) for part in module.JUDGED)
            inside = bool(clipped(frustum, judged(front)))
            assert (pixels > 0) == inside, front
            found.append(inside)
    assert len(found) == PLACEMENTS
    assert 0.3 < np.mean(found) < 0.7  # both kinds are among them


def test_the_check_says_the_same_of_a_set_whether_it_is_drawn_or_not(monkeypatch) -> None:
    if not gl_verdict().usable:
        pytest.skip(gl_verdict().why)
    context = seen(*next(placements()))
    drawn = in_frame(context)
    without_gl(monkeypatch)
    by_rays = in_frame(context)
    assert [each.verdict for each in drawn] == [each.verdict for each in by_rays]
    for one, other in zip(drawn, by_rays, strict=True):
        assert one.value == pytest.approx(other.value, abs=0.3)  # % of the frame, or cm

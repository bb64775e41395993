"""The name of the pattern, against the trade's own angles and the order of its names."""

from dataclasses import replace

import numpy as np
import pytest

from render.layout.geometry import direction, turn
from render.layout.people import in_room
from render.plan.checks.face import Nose
from render.plan.checks.face_shadow import face_shadow
from render.plan.checks.finding import Context
from render.plan.checks.pattern import pattern, pattern_name, shape_of
from render.predict.touch import body_meshes, ray_scene
from tests import sets
from tests.people import small
from tests.unit.plan.checks.staged import EYES, LENS, lamp, seen_by

NOSE = Nose(np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))

# Common practice, no source: the trade's angles from the nose and the names of the patterns.
TRADE = [
    (0, 35, "butterfly"),
    (8, 40, "butterfly"),
    (8, 10, "flat front"),
    (-8, 10, "flat front"),
    (30, 30, "loop"),
    (-30, 30, "loop"),
    (52, 45, "45-degree"),
    (-55, 42, "45-degree"),
    (85, 15, "split"),
    (-95, 20, "split"),
    (115, 20, "rim"),
    (-150, 30, "rim"),
]
# Where a name may give way to the next: between the trade's range of the one and of the other,
# which meet or overlap (butterfly to 10, loop 20 to 50, 45-degree 45 to 60, split 80 to 100, rim
# from 110), 2 degrees more for the width of the key and the step of the sweep; common practice.
CHANGES = {
    ("butterfly", "loop"): (8, 22),
    ("loop", "45-degree"): (38, 52),
    ("45-degree", "split"): (58, 82),
    ("split", "rim"): (98, 112),
}
HEADS = ("alma", "chidi", "gerda")


@pytest.mark.parametrize(("azimuth", "elevation", "name"), TRADE)
def test_a_key_at_the_trades_angles_makes_the_trades_pattern(azimuth, elevation, name) -> None:
    found = pattern(seen_by(LENS, lamp(azimuth, elevation, 1.2)))[0]
    assert f"makes {name} light" in found.words
    assert found.value == pytest.approx(azimuth, abs=4)
    assert "broad" not in found.words
    assert "short" not in found.words


@pytest.mark.parametrize("model", HEADS)
def test_a_key_that_goes_round_makes_the_patterns_in_the_textbooks_order(model: str) -> None:
    body = small(model)
    bare = tuple(s for s in body.surfaces if not s.name.startswith(("glasses", "lens")))
    body = replace(body, surfaces=bare)
    scene = ray_scene(body_meshes(body))
    tip = body.landmarks["nose_tip"].position_m.astype(float)
    names = {}
    for azimuth in range(0, 136, 4):
        shadow = face_shadow(body, scene, NOSE, tip + 1.2 * direction(-azimuth, 35))
        names[azimuth] = pattern_name(shape_of(shadow), 35)
    changes = [
        ((names[a], names[a + 4]), a + 2) for a in range(0, 132, 4) if names[a] != names[a + 4]
    ]
    assert [pair for pair, _ in changes] == list(CHANGES)
    for pair, at in changes:
        assert CHANGES[pair][0] <= at <= CHANGES[pair][1], (pair, at)


def test_the_shadow_of_a_ball_is_the_half_turned_away() -> None:
    """Parallel light on a ball lights the half that faces it: from 90 degrees beside the nose, half
    of the disk, from 60 (1 + cos 60°)/2; a lift of h lights sqrt(2 h / r) = 2.3° too far."""
    marks = small("alma").landmarks
    ball = sets.ball([0, 0, marks["nose_tip"].position_m[2] - 0.059], 0.06)
    body = replace(ball, landmarks=marks)
    scene = ray_scene(body_meshes(body))
    for azimuth, share in ((90, 0.5), (60, 0.75)):
        shadow = face_shadow(body, scene, NOSE, 50 * direction(azimuth, 0))
        up = shadow.up_m + marks["nose_tip"].position_m[1]
        disk = shadow.face & (np.hypot(shadow.across_m, up) < 0.06)
        assert shadow.lit[disk].mean() == pytest.approx(share, abs=0.05)


def test_a_key_on_the_side_turned_to_the_camera_is_broad_and_on_the_other_short() -> None:
    """Common practice, no source."""
    for azimuth, word in ((-70.0, "broad"), (70.0, "short")):
        context = seen_by(LENS, lamp(azimuth, 25))
        sitter = context.setup.scene.sitter.model_copy(update={"turn_deg": 30})
        scene = context.setup.scene.model_copy(update={"sitter": sitter})
        turned = Context(replace(context.setup, scene=scene))
        body = in_room(small("alma"), turn(30), EYES)
        turned.__dict__["layout"] = replace(context.layout, body=body)
        assert word in pattern(turned)[0].words

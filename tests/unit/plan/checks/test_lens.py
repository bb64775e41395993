"""Checks of lens, eyes and light against projection, hand geometry and the trade's own names."""

import json
from dataclasses import replace

import numpy as np
import pytest
from typer.testing import CliRunner

from render.cli.app import app
from render.emission import Cells
from render.layout.geometry import unit
from render.plan.checks import check_set
from render.plan.checks.backdrop_edges import backdrop_edges
from render.plan.checks.catchlights import catchlights, images
from render.plan.checks.eyes import corneas
from render.plan.checks.flag import Turn, beams_on_sitter, least_turn, smallest_flag, turned_front
from render.plan.checks.flare import flare, from_frame_deg
from render.plan.checks.glasses_glare import glasses_glare
from render.plan.checks.nose_light import nose_light
from render.plan.checks.nose_shadows import nose_shadows
from render.predict import Obstacles, direct_exposure
from render.predict.softness import shining
from render.scenefile import load_scene
from tests import sets
from tests.unit.plan.checks.staged import EYES, HALF_W, LENS, lamp, seen_by


@pytest.mark.parametrize(("width", "verdict"), [(0.9, "fine"), (0.5, "wrong")])
def test_a_backdrop_is_as_wide_as_similar_triangles_ask(width: float, verdict: str) -> None:
    """The frame is 2·s·d wide at distance d."""
    context = seen_by(LENS, lamp(45, 30), seated=False)
    paper = sets.sheet([0, 1.2, -1.3], [1, 0, 0], [0, 1, 0], width, 3.0, kind="backdrop")
    context.__dict__["layout"] = replace(context.layout, sheets=(paper,))
    found = backdrop_edges(context)[0]
    short = HALF_W * (1.7 + 1.3) - 0.5 * width
    assert found.verdict == verdict
    assert found.value == pytest.approx(100 * abs(short), abs=0.01)


def test_a_lamp_is_as_far_from_the_frame_as_its_angle_less_half_the_angle_of_view() -> None:
    away = np.radians(40.0)
    place = LENS.position_m + 2 * np.array([np.sin(away), 0.0, -np.cos(away)])
    found = from_frame_deg(LENS, place[None])[0]
    assert found == pytest.approx(40.0 - np.degrees(np.arctan(HALF_W)), abs=1e-9)
    assert from_frame_deg(LENS, EYES[None])[0] == pytest.approx(0.0, abs=1e-6)


def test_flare_is_found_where_the_front_looks_at_the_lens_and_a_flag_stops_it() -> None:
    """Exposure of a small front: L · A · cos / d², within 2 % six sizes away."""
    at = np.array([1.2, 1.7, -0.6])
    front = sets.front(LENS.position_m - at, at, width_m=0.3, height_m=0.4)
    context = seen_by(LENS, front, seated=False)
    found = flare(context)[0]
    assert found.verdict == "look"
    way = LENS.position_m - at
    truth = 0.12 / (way @ way) * unit(way)[2]
    read = direct_exposure(context.layout, LENS.position_m[None], -LENS.back[None], "flat")
    assert read.luminous_exposure_lx_s[0, 0] == pytest.approx(truth, rel=0.02)

    flag = smallest_flag(LENS, shining(context.layout, 0, LENS.position_m).at_m, 0.4)
    assert flag is not None
    left = {}
    for spare in (0.0, 0.09):
        size = (flag.width_m - spare, flag.height_m - spare)
        card = sets.sheet(flag.centre_m, flag.right, flag.up, *size)
        flagged = replace(context.layout, sheets=(card,))
        rim = LENS.position_m + 0.035 * np.array([[1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]])
        axes = np.tile(-LENS.back, (4, 1))
        light = direct_exposure(flagged, rim, axes, "flat", obstacles=Obstacles.of(flagged))
        left[spare] = float(light.luminous_exposure_lx_s.sum())
    assert left[0.0] == 0.0
    assert left[0.09] > 0.0


def test_flare_counts_what_a_panel_leaves_of_the_front_by_similar_triangles() -> None:
    """Written anew: straight lines from the lens past the upper edge of a panel half way to the
    front meet the front's plane twice as far from the axis as the edge is."""
    at = LENS.position_m + [1.0, 0.5, -2.0]
    front = sets.front(LENS.position_m - at, at, width_m=0.3, height_m=0.4)
    half_way = 0.5 * (LENS.position_m + at)
    for edge_m, share in ((0.0, 0.5), (0.05, 0.25), (-0.05, 0.75)):
        low = half_way + (edge_m - 0.5) * front.up
        flag = sets.sheet(low, front.right, front.up, 1.0, 1.0)
        context = seen_by(LENS, front, seated=False, sheets=(flag,))
        seen = int(flare(context)[0].words.split(" %")[0].split()[-1])
        assert seen == pytest.approx(100 * share, abs=2)


def test_a_light_turned_to_camera_right_or_down_looks_there() -> None:
    """Right-handed turns of a front that looks along +z: about +y to +x, about +x to -y."""
    front = sets.front([0, 0, 1])
    sine = np.sin(np.radians(20))
    assert turned_front(front, front.up, 20).normal[0] == pytest.approx(sine)
    assert turned_front(front, front.right, 20).normal[1] == pytest.approx(-sine)


def test_a_gridded_hair_light_is_turned_away_from_the_lens_until_its_cells_close() -> None:
    """Cells as deep as 0.05 and as wide as 0.03 m close at 31 degrees. Level, the lens is 36.9 less
    13.5 degrees off the axis; 8 more are wanted, 10 is the next turn that is tried."""
    at = EYES + [0.6, 0.0, -0.8]
    front = sets.front(EYES - at, at, width_m=0.05, height_m=0.05, cells=Cells(0.03, 0.03, 0.05))
    lens = replace(LENS, position_m=np.array([0.0, 1.2, 1.7]))
    context = seen_by(lens, lamp(-40, 30), front)
    found = least_turn(context, 1, beams_on_sitter(context, 1))
    assert isinstance(found, Turn)
    assert (found.degrees, found.way) == (10, "to camera left")


def test_a_front_that_looks_away_from_the_lens_makes_no_flare() -> None:
    found = flare(seen_by(LENS, lamp(-45, 30), seated=False))[0]
    assert (found.verdict, found.value) == ("fine", 0.0)
    assert "turned away" in found.words
    behind = flare(seen_by(LENS, lamp(-45, 30, 4.0), seated=False))[0]
    assert behind.verdict == "fine"
    assert "behind the lens" in behind.words


def test_a_rim_light_that_comes_round_lights_the_cheek_and_one_behind_does_not() -> None:
    """Common practice, no source: hair lights stay behind; nose light within 3 stops shows."""
    found = {}
    for azimuth in (100.0, 165.0):
        rim = replace(lamp(azimuth, 20), name="rim")
        found[azimuth] = nose_light(seen_by(LENS, lamp(-40, 30), rim))[0]
    assert found[100.0].verdict == "look"
    assert found[100.0].value > -3
    assert found[165.0].verdict == "fine"


def test_two_lights_alike_on_either_side_cross_their_nose_shadows_and_a_weak_one_does_not() -> None:
    """Common practice, no source: within 1 stop and more than 60 degrees apart."""
    key = lamp(-40, 30)
    for stops_under, apart, verdict in ((0.5, 45, "look"), (2.0, 45, "fine"), (0.5, 10, "fine")):
        energy = key.luminous_energy_lm_s * 2**-stops_under
        fill = replace(lamp(apart, 30, luminous_energy_lm_s=energy), name="fill")
        found = nose_shadows(seen_by(LENS, key, fill))[0]
        assert found.verdict == verdict, (stops_under, apart)
        assert found.value == pytest.approx(stops_under, abs=0.15)


def test_a_rim_brighter_than_the_key_is_the_one_to_turn_down() -> None:
    """Common practice, no source: the key stays; half a stop over it has 1.5 stops to fall."""
    key = lamp(-40, 30)
    bright = replace(lamp(45, 30, luminous_energy_lm_s=key.luminous_energy_lm_s * 2**0.5), name="b")
    (found,) = nose_shadows(seen_by(LENS, key, bright))
    assert found.words.startswith("light.key and light.b are 0.5 stops")
    assert "turn b down by 1.5 stops" in found.words


def test_a_catchlight_lies_where_the_mirror_formula_of_a_sphere_has_it() -> None:
    """Written anew: of a far lens and lamp, a ball of radius r mirrors the lamp where its normal
    halves the angle between them; on the clock that is the direction of lamp less lens."""
    for azimuth, elevation in ((-45, 35), (40, 10), (30, 40), (-20, 15)):
        context = seen_by(LENS, lamp(azimuth, elevation))
        for eye in corneas(context.layout.body):
            ends = (context.layout.fronts[0].centre_m, LENS.position_m)
            middle = eye.middle_m
            for _ in range(20):  # the normal at the place halves the angle at the place
                half = sum((end - middle) / np.linalg.norm(end - middle) for end in ends)
                middle = eye.middle_m + 0.0078 * half / np.linalg.norm(half)
            off = middle - (eye.middle_m + 0.0078 * eye.looks)
            hour = np.degrees(np.arctan2(off[0], off[1])) / 30 % 12
            (found,) = images(context, eye)
            if found.clock:
                assert min(abs(found.clock - hour), 12 - abs(found.clock - hour)) < 0.8


def test_the_catchlight_of_a_key_camera_left_and_high_is_at_ten_or_eleven_oclock() -> None:
    """Common practice, no source; on a ball it lies towards the light by the law of reflection."""
    context = seen_by(LENS, lamp(-45, 35))
    for eye in corneas(context.layout.body):
        (found,) = images(context, eye)
        assert found.clock in (10, 11)
    assert {(each.verdict, each.value) for each in catchlights(context)} == {("fine", 1.0)}


def test_the_size_of_a_catchlight_is_that_of_a_mirror_image_in_a_ball() -> None:
    """A far front of angle a has an image r·a/2 wide in a ball: law of reflection, small angles."""
    front = lamp(-20, 10, 1.2, width_m=0.3, height_m=0.3)
    context = seen_by(LENS, front)
    eye = corneas(context.layout.body)[0]
    (found,) = images(context, eye)
    image = (0.0078 * 0.3 / 1.2 / 2) ** 2
    assert found.share == pytest.approx(image / (np.pi * 0.0059**2), rel=0.25)


def test_no_catchlight_and_two_catchlights_are_worth_a_look() -> None:
    above = catchlights(seen_by(LENS, lamp(0, 85)))
    two = catchlights(seen_by(LENS, lamp(-40, 20), replace(lamp(40, 20), name="fill")))
    assert {(each.verdict, each.value) for each in above} == {("look", 0.0)}
    assert {(each.verdict, each.value) for each in two} == {("look", 2.0)}


def test_an_eye_that_the_camera_does_not_see_is_not_missing_its_catchlight() -> None:
    behind = replace(LENS, position_m=-LENS.position_m + 2 * EYES, right=-LENS.right)
    found = catchlights(seen_by(behind, lamp(-40, 20)))
    assert {(each.verdict, each.value) for each in found} == {("fine", 0.0)}
    assert all("no iris" in each.words for each in found)


def test_glasses_mirror_a_box_until_it_has_passed_fifty_to_fifty_seven_degrees() -> None:
    """Trade figures for a 60 x 90 box at 1 m before lenses of 6 dioptres, computed there."""
    shares = {
        azimuth: glasses_glare(seen_by(LENS, lamp(azimuth, 0), glasses="round"))[0]
        for azimuth in (0, 25, 45, 58)
    }
    assert shares[0].verdict == "wrong"
    assert shares[0].value > shares[25].value > shares[45].value > 0
    assert (shares[58].verdict, shares[58].value) == ("fine", 0.0)


def test_a_raised_light_leaves_the_glasses_clear() -> None:
    found = glasses_glare(seen_by(LENS, lamp(35, 40), glasses="round"))[0]
    assert (found.verdict, found.value) == ("fine", 0.0)


def test_what_cannot_be_checked_is_said_with_its_reason() -> None:
    found = check_set(load_scene("empty-room"))
    assert "lamps and panels in the frame (the scene has no camera)" in found.not_checked_for
    assert "catchlights (the scene has no camera)" in found.not_checked_for


def test_the_command_tells_json_and_fails_only_where_strict_meets_something_wrong() -> None:
    runner = CliRunner()
    told = runner.invoke(app, ["check", "empty-room", "--json"])
    assert told.exit_code == 0
    found = json.loads(told.stdout)
    assert {"scene", "findings", "checked_for", "not_checked_for"} <= set(found)
    wrong = any(each["verdict"] == "wrong" for each in found["findings"])
    assert runner.invoke(app, ["check", "empty-room", "--strict"]).exit_code == int(wrong)


def test_no_scene_is_called_safe() -> None:
    shown = CliRunner().invoke(app, ["check", "empty-room"]).stdout
    assert "Checked for:" in shown
    assert "Not checked for:" in shown
    assert "safe" not in shown.lower()

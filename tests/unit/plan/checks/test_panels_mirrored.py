"""Panels in eyes and glasses, against Lambert's law and the mirror formula of a sphere."""

from dataclasses import replace

import numpy as np
import pytest

from render.layout.geometry import unit
from render.plan.checks.catchlights import catchlights, images, panel_images
from render.plan.checks.eyes import corneas
from render.plan.checks.glasses_glare import glasses_glare
from render.plan.checks.panels_mirrored import panels_met
from tests import sets
from tests.unit.plan.checks.staged import EYES, LENS, lamp, seen_by

WHITE, SILVER = (0.65,) * 3, (0.85,) * 3


def card(centre, towards, size=0.6, colour=WHITE, **changed):
    """A square panel that faces a place."""
    normal = unit(np.asarray(towards, float) - centre)
    right = unit(np.cross([0, 1, 0], normal))
    up = np.cross(normal, right)
    colours = {"reflectance": colour, "back_reflectance": colour}
    return sets.sheet(centre, right, up, size, size, name="fill", **colours, **changed)


def test_a_white_panel_is_as_bright_as_lamberts_law_has_it() -> None:
    """A small front of L = 1 and area A, straight before the panel at d, gives H = A/d² there and
    rho·H/pi back; within the 2 % by which a panel of 10 cm is no point."""
    front = sets.front([0, 0, -1], [0, 1.2, 2.0], width_m=0.2, height_m=0.2)
    panel = card(np.array([0, 1.2, 0.0]), [0, 1.2, 2.0], size=0.1)
    context = seen_by(LENS, front, seated=False, sheets=(panel,))
    start = np.array([[0.5, 1.2, 1.0]])
    way = unit(panel.centre_m - start)
    truth = 0.65 / np.pi * 0.04 / 4.0
    assert panels_met(context, start, way)["fill"][0] == pytest.approx(truth, rel=0.02)
    past = unit(panel.centre_m + [0, 0.2, 0] - start)
    assert panels_met(context, start, past)["fill"][0] == 0.0


def test_silver_is_bright_where_it_mirrors_the_lamp_and_dark_elsewhere() -> None:
    """The law of reflection: seen from (1, 0, 1) a panel at the origin mirrors what is at
    (-1, 0, 1) and shows at most the reflectance times its luminance."""
    at = np.array([-1.0, 1.2, 1.0])
    front = sets.front([1, 0, -1], at, width_m=0.6, height_m=0.6)
    silver = card(np.array([0, 1.2, 0.0]), [0, 1.2, 1.0], 0.3, SILVER, roughness=0.05)
    context = seen_by(LENS, front, seated=False, sheets=(silver,))
    bright, dark = (
        panels_met(context, place[None], unit(silver.centre_m - place)[None])["fill"][0]
        for place in (np.array([1.0, 1.2, 1.0]), np.array([0.0, 1.2, 1.0]))
    )
    assert bright == pytest.approx(0.85, rel=0.05)
    assert dark == 0.0


def test_a_panel_under_the_chin_shows_in_the_eye_where_a_spheres_mirror_has_it() -> None:
    """In a ball of radius r an image of a far thing lies r·sin(a/2) off the axis, a the angle
    between thing and camera: below the pupil, at 6 o'clock; three stops or so under a box."""
    low = np.array([0, 0.75, 0.35])
    panel = card(low, EYES, 0.4)
    context = seen_by(LENS, lamp(-40, 30), sheets=(panel,))
    for eye in corneas(context.layout.body):
        (found,) = panel_images(context, eye)
        assert found.clock in (5, 6, 7)
        assert found.light == "fill"
        (key,) = images(context, eye)
        assert 2 < np.log2(key.luminance / found.luminance) < 6
    told = catchlights(context)
    assert {each.value for each in told} == {1.0}  # a panel is no second light


def test_a_panel_before_glasses_is_told_with_its_veil_and_one_behind_is_not() -> None:
    """Common practice, no source: a veil four stops under the skin or fainter is lost."""
    low = np.array([0.25, 1.2, 0.9])
    white = card(low, EYES, 0.4)
    shown = glasses_glare(seen_by(LENS, lamp(-60, 40), glasses="round", sheets=(white,)))
    told = [each for each in shown if each.about == "panel.fill"]
    assert len(told) == 1
    assert "veil" in told[0].words
    aside = replace(white, centre_m=np.array([1.2, 1.2, -0.6]))
    found = glasses_glare(seen_by(LENS, lamp(-60, 40), glasses="round", sheets=(aside,)))
    assert not [each for each in found if each.about == "panel.fill"]

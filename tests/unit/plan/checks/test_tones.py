"""What clips and crushes in the look, against pictures whose truth is set by hand."""

from dataclasses import replace

import numpy as np
import pytest

from render.photometry.exposure import linear_value
from render.picture import Look
from render.picture.develop import Exposure, mix
from render.plan.checks.finding import Context
from render.plan.checks.shown import PLACES, places_shown
from render.plan.checks.tones import ends_of, no_look, tones
from render.trace import LightFrame
from tests import sets
from tests.unit.plan.checks.staged import EYES, LENS, lamp, seen_by

EXPOSURE = Exposure(100, 8, 1 / 125, 100)
NONE = np.zeros((60, 48), np.float32)


def grey(level: float) -> np.ndarray:
    return np.full((60, 48, 3), level)


def test_fireflies_of_a_draft_do_not_count_and_an_area_does() -> None:
    """A speck is one pixel of nine; of a square of n pixels all but the corners are clipped."""
    picture = grey(0.2)
    picture[tuple(np.random.default_rng(5).integers(0, (60, 48), (90, 2)).T)] = 40.0
    assert not ends_of(picture, NONE).any_channel.any()
    picture = grey(0.2)
    picture[20:30, 10:20, 0] = 1.1
    found = ends_of(picture, NONE)
    assert found.any_channel.sum() == 10 * 10 - 4
    assert not found.all_channels.any()


def test_code_255_begins_half_a_code_below_white() -> None:
    """IEC 61966-2-1: code 254.5 is ((254.5/255 + 0.055)/1.055)^2.4 = 0.99555 linear."""
    edge = ((254.5 / 255 + 0.055) / 1.055) ** 2.4
    assert ends_of(grey(edge + 1e-6), NONE).all_channels.all()
    assert not ends_of(grey(edge - 1e-6), NONE).any_channel.any()


def test_a_dark_place_is_crushed_only_as_far_as_noise_lets_one_say() -> None:
    """Code 15.5 is 15.5/255/12.92 and a bit on the curve: 0.00486 linear, by IEC 61966-2-1; two
    errors of the mean of nine are two thirds of a pixel's own."""
    edge = ((15.5 / 255 + 0.055) / 1.055) ** 2.4
    assert ends_of(grey(0.5 * edge), NONE).crushed.all()
    assert not ends_of(grey(1.01 * edge), NONE).crushed.any()
    noise = NONE + 1.0
    assert ends_of(grey(0.5 * edge), noise * np.float32(0.70 * edge)).crushed.all()
    assert not ends_of(grey(0.5 * edge), noise * np.float32(0.80 * edge)).crushed.any()


def paper(key: float, fill: float) -> Context:
    """A paper that two lights alone light to these linear values, from edge to edge."""
    lights = {"key": key, "fill": fill}
    fronts = [replace(lamp(-45, 30), name="key"), replace(lamp(45, 30), name="fill")]
    wide = sets.sheet([0, 1.2, -1.3], [1, 0, 0], [0, 1, 0], 3, 3, kind="backdrop")
    context = seen_by(LENS, *fronts, seated=False, sheets=(wide,))
    gain = float(linear_value(1.0, 100, 8, EXPOSURE.c_flat))
    frames = {
        front.name: LightFrame(
            front.name,
            (grey(lights[front.name]) / gain / front.luminous_energy_lm_s).astype(np.float32),
            NONE,
            16,
        )
        for front in fronts
    }
    picture = mix(frames, context.layout, EXPOSURE)
    context.__dict__["look"] = Look(picture, frames, context.layout, "none", 0.0)
    return context


def test_what_clips_is_named_with_its_light_and_what_less_of_it_keeps_tone() -> None:
    """1.5 + 0.3 is clipped; the key at (0.9955 - 0.3)/1.5 is not: 1.1 stops less; all at 0.9955/1.8
    are not: 0.9 stop less."""
    (found,) = tones(paper(1.5, 0.3))
    assert (found.check, found.about, found.verdict, found.value) == (
        "clipped",
        "backdrop",
        "look",
        100.0,
    )
    assert "light.key gives 83 % of the light there" in found.words
    assert "1.1 stops less of key, or 0.9 stops less of all light" in found.words
    (fine,) = tones(paper(0.5, 0.3))
    assert (fine.check, fine.verdict, fine.value) == ("tones", "fine", 0.0)


def test_a_pixel_shows_what_its_ray_meets_first() -> None:
    """The middle of the face, the paper beside it, cloth under the chin."""
    wide = sets.sheet([0, 1.2, -1.3], [1, 0, 0], [0, 1, 0], 3, 3, kind="backdrop")
    context = seen_by(LENS, lamp(-45, 30), sheets=(wide,))
    shown = places_shown(context.layout, (48, 60))
    where = {
        "face": EYES + [0, -0.03, 0.04],
        "backdrop": EYES + [0.18, 0.15, 0],
        "clothes": EYES + [0.05, -0.225, 0],
    }
    for place, at in where.items():
        way = at - LENS.position_m
        flat = np.array([way @ LENS.right, way @ LENS.up]) / -(way @ LENS.back) * LENS.image_m
        column = 24 + 48 * flat[0] / LENS.frame_width_m
        row = 30 - 60 * flat[1] / LENS.frame_height_m
        assert PLACES[shown[int(row), int(column)]] == place


def test_without_a_traced_look_it_says_so() -> None:
    assert no_look(seen_by(LENS, lamp(-45, 30), seated=False)) == "left out by --quick"


@pytest.mark.parametrize("light", [(1.0, 1.0, 1.0), (1.0, 0.2, 0.1)])
def test_a_channel_that_clips_alone_is_told_apart(light: tuple[float, float, float]) -> None:
    found = ends_of(grey(1.0) * light, NONE)
    assert found.any_channel.all()
    assert found.all_channels.all() == (min(light) == 1.0)

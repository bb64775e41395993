"""Measured beams against lamps of known light and against what Radiance reads from the files.

Source of the lamps: Lambert's law, I = I0 cos gamma sends π I0; patterns 1 + a cos(k C) and
1 + a sin C around the axis add nothing to it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from render.emission.beams import beam_factor, beam_integral
from render.emission.measured import (
    MeasuredBeam,
    flux,
    intensity,
    read_measured,
    share_behind,
    tabulated,
)
from tests.checks import CHECKS
from tests.unit.emission.lamp_files import STEP_2_5, STEP_5, cosine, eulumdat, lm63
from tests.unit.emission.radiance_lamp import radiance_intensity

ROTATIONAL, SCALED = "LM-1000_cos,_ty", "LM-same_with_mu"
QUADRANT, FULL, TWIN = "LM-quadrant_fil", "LM-0-360_file_1", "LD-1"
COVERED = {ROTATIONAL, SCALED, QUADRANT, FULL, TWIN}
FLUX = 1000 * np.pi
# Linear pieces 2.5 degrees wide lie h²/12 = 0.016 % below a cosine, 5 degrees wide 0.063 %.
FINE, COARSE = 2e-4, 8e-4


def turned(pattern: Callable[[float], float]) -> Callable[[float, float], float]:
    """1000 cd · cos gamma times a pattern around the axis [rad]."""
    return lambda gamma, plane: cosine(gamma, plane) * pattern(np.radians(plane))


quarter = turned(lambda c: 1 + 0.5 * np.cos(2 * c))  # mirrored at C0 and at C90
half = turned(lambda c: 1 + 0.5 * np.cos(c))  # mirrored at C0-C180
side = turned(lambda c: 1 + 0.5 * np.sin(c))  # mirrored at C90-C270
none = turned(lambda c: 1 + 0.4 * np.sin(c) + 0.3 * np.cos(c) + 0.2 * np.sin(2 * c))


def upwards(gamma: float, plane: float) -> float:
    return cosine(180 - gamma, plane)


TILTED = "TILT=INCLUDE\n1\n3\n0 45 90\n1 1 1"
QUARTER, HALF, ALL = (np.arange(0, end + 1, 7.5) for end in (90, 180, 360))
FILES = {
    "rotational": lm63(),
    "2019": lm63(first="IES:LM-63-2019", after_ballast=1.1101),
    "multiplier-ballast": lm63(multiplier=2, ballast=0.9),
    "commas": lm63(sign=","),
    "tilt": lm63(tilt=TILTED),
    "0-90": lm63(quarter, horizontals=QUARTER),
    "0-180": lm63(half, horizontals=HALF),
    "0-360": lm63(side, horizontals=ALL),
    "upwards": lm63(upwards, STEP_2_5 + 90),
    "1986": lm63(first=None),
    "1991": lm63(first="IESNA91", after_ballast=0.8),
    "no symmetry": lm63(none, horizontals=ALL),
}
SCALE = {"multiplier-ballast": 1.8, "1991": 0.8}


def beam_of(folder: Path, text: str, suffix: str = ".ies") -> MeasuredBeam:
    file = folder / f"lamp{suffix}"
    file.write_text(text, encoding="utf-8")
    return read_measured(file)


def directions(low_deg: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Directions between the angles of the files, none of them at a grazing angle."""
    rng = np.random.default_rng(1)
    return rng.uniform(low_deg, low_deg + 80, 24), rng.uniform(0, 360, 24)


@pytest.mark.parametrize("name", FILES)
def test_flux_is_that_of_the_law(name: str, tmp_path: Path) -> None:
    found = flux(beam_of(tmp_path, FILES[name]))
    assert found == pytest.approx(SCALE.get(name, 1) * FLUX, rel=FINE)


@pytest.mark.parametrize("name", FILES)
def test_intensities_are_those_that_radiance_reads(name: str, tmp_path: Path) -> None:
    gamma, plane = directions(100 if name == "upwards" else 0)
    found = intensity(beam_of(tmp_path, FILES[name]), gamma, plane)
    theirs = radiance_intensity(tmp_path / "lamp.ies", tmp_path, gamma, plane)
    np.testing.assert_allclose(found, theirs, rtol=5e-5)


def test_published_rows_of_synthetic_files(tmp_path: Path) -> None:
    peak, tenth = np.array([0.0]), 5e-4  # the rows ask for 0.05 % of the flux
    row = CHECKS[ROTATIONAL].values
    assert flux(beam_of(tmp_path, FILES["rotational"])) == pytest.approx(row[0], rel=tenth)
    row = CHECKS[SCALED].values
    beam = beam_of(tmp_path, FILES["multiplier-ballast"])
    assert flux(beam) == pytest.approx(row[0], rel=tenth)
    assert intensity(beam, peak, peak)[0] == pytest.approx(row[1], rel=1e-9)
    row = CHECKS[QUADRANT].values
    beam = beam_of(tmp_path, FILES["0-90"])
    assert flux(beam) == pytest.approx(row[0], rel=tenth)
    assert intensity(beam, peak, peak)[0] == pytest.approx(row[1], rel=1e-9)
    assert intensity(beam, peak, peak + 90)[0] == pytest.approx(row[3], rel=1e-9)
    row = CHECKS[FULL].values
    beam = beam_of(tmp_path, FILES["0-360"])
    assert flux(beam) == pytest.approx(row[0], rel=tenth)
    around = intensity(beam, np.full(4, row[1]), np.array(row[6:10]))
    np.testing.assert_allclose(around, row[2:6], atol=5e-4)  # as printed
    row = CHECKS[TWIN].values
    per_klm = eulumdat(lambda g, c: cosine(g, c) / np.pi)
    beam = beam_of(tmp_path, per_klm, ".ldt")
    assert flux(beam) == pytest.approx(row[0], rel=1e-3)
    assert intensity(beam, peak, peak)[0] == pytest.approx(row[1], rel=1e-6)


PLANES = np.arange(0, 360, 7.5)
TWINS = {
    0: (none, PLANES),
    1: (cosine, PLANES[:1]),
    2: (half, HALF),
    3: (side, (np.arange(270, 451, 7.5)) % 360),
    4: (quarter, QUARTER),
}


@pytest.mark.parametrize("symmetry", TWINS)
@pytest.mark.parametrize("point", [".", ","])
def test_eulumdat_says_what_the_other_format_says(
    symmetry: int, point: str, tmp_path: Path
) -> None:
    """Truth: the full-circle LM-63 file of the same light, which Radiance reads alike (above).

    cd per 1000 lm x 2000 lm of the lamps x conversion factor 0.25 is half of what is written.
    """
    light, kept = TWINS[symmetry]
    text = eulumdat(light, PLANES, kept, STEP_5, symmetry=symmetry, conversion=0.25, point=point)
    twin = beam_of(tmp_path, text, ".ldt")
    whole = beam_of(tmp_path, lm63(light, STEP_5, ALL))
    gamma, plane = directions()
    np.testing.assert_allclose(
        intensity(twin, gamma, plane), 0.5 * intensity(whole, gamma, plane), rtol=1e-6
    )
    assert flux(twin) == pytest.approx(0.5 * FLUX, rel=COARSE)


def test_mirrored_at_the_planes_90_and_270(tmp_path: Path) -> None:
    """Truth: the same light on the full circle. (Radiance lays 90 to 270 the other way round than
    it lays 0 to 360; the definition of the planes leaves no choice.)"""
    gamma, plane = directions()
    part = beam_of(tmp_path, lm63(side, horizontals=np.arange(90, 271, 7.5)))
    whole = beam_of(tmp_path, FILES["0-360"])
    np.testing.assert_allclose(
        intensity(part, gamma, plane), intensity(whole, gamma, plane), rtol=1e-7
    )


def test_floodlight_files_on_their_cross(tmp_path: Path) -> None:
    """Truth: Radiance on the cross through the axis (off it, it bends type B planes its own way).

    Radiance aims photometric horizontal along +x; here a floodlight stands upright, so +x is up.
    """
    angles = np.arange(-90, 91, 5)

    def flood(v: float, h: float) -> float:
        skew = 1 + 0.3 * np.sin(np.radians(h)) + 0.6 * np.sin(np.radians(v))
        return cosine(v, 0) * cosine(h, 0) / 1000 * skew

    beam = beam_of(tmp_path, lm63(flood, angles, angles, kind=2))
    gamma = np.tile([5.0, 22, 48, 70], 4)
    plane = np.repeat([0.0, 90, 180, 270], 4)
    theirs = radiance_intensity(tmp_path / "lamp.ies", tmp_path, gamma, plane + 90)
    np.testing.assert_allclose(intensity(beam, gamma, plane), theirs, rtol=2e-3)


@pytest.mark.parametrize("kind", [2, 3])
@pytest.mark.parametrize("first", [0, -90])
def test_floodlight_files_of_a_direction_known_in_space(
    kind: int, first: int, tmp_path: Path
) -> None:
    """Truth: a light written as a polynomial of its direction in space, (right, up, ahead) seen
    along the beam. Type B: planes share the horizontal axis; type A: the vertical one
    (LM-63-2002, key definitions)."""

    def light(right: float, up: float, ahead: float) -> float:
        skew = 0.0 if first == 0 else 0.3 * right
        return 1000 * max(ahead, 0.0) * (1 + skew + 0.2 * up)

    def file_light(v: float, h: float) -> float:
        sin_v, cos_v = np.sin(np.radians(v)), np.cos(np.radians(v))
        sin_h, cos_h = np.sin(np.radians(h)), np.cos(np.radians(h))
        if kind == 2:
            return light(sin_h, cos_h * sin_v, cos_h * cos_v)
        return light(cos_v * sin_h, sin_v, cos_v * cos_h)

    text = lm63(file_light, np.arange(-90, 91, 2.5), np.arange(first, 91, 2.5), kind=kind)
    beam = beam_of(tmp_path, text)
    gamma, plane = directions()
    sine, turn = np.sin(np.radians(gamma)), np.radians(plane)
    # Looking into the lamp C0 is to the right; looking with the light it is to the left.
    space = zip(-sine * np.cos(turn), -sine * np.sin(turn), np.cos(np.radians(gamma)), strict=True)
    truth = [light(*way) for way in space]
    np.testing.assert_allclose(intensity(beam, gamma, plane), truth, rtol=1e-3, atol=0.1)
    # What the light has more of on one side it lacks on the other: the cosine's flux remains.
    assert flux(beam) == pytest.approx(FLUX, rel=5e-4)


def test_a_front_shines_as_the_lamp_turned_to_the_sitter(tmp_path: Path) -> None:
    """Truth: Radiance's lamp, which hangs, turned in space so that its light goes along the
    front's normal and its 0 degree plane lies along `right`; a turn, not a mirror image."""
    beam = tabulated(beam_of(tmp_path, FILES["no symmetry"]))
    hung = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, -1]])  # columns: x, y, z of the lamp
    assert np.linalg.det(hung) == pytest.approx(1)
    slopes = np.random.default_rng(2).uniform(-1.5, 1.5, (2, 24))
    ways = np.stack([*slopes, np.ones(24)], -1)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    lamp = ways @ hung
    gamma = np.degrees(np.arccos(-lamp[:, 2]))
    plane = np.degrees(np.arctan2(lamp[:, 1], lamp[:, 0])) % 360
    theirs = radiance_intensity(tmp_path / "lamp.ies", tmp_path, gamma, plane)
    found = beam_factor(beam, *slopes) * ways[:, 2]
    np.testing.assert_allclose(found, theirs, rtol=5e-5)


def test_light_behind_a_front_is_told_and_left_out(tmp_path: Path) -> None:
    """Truth: a lamp that sends π · 1000 lm ahead and a third of that behind."""

    def both(gamma: float, plane: float) -> float:
        return cosine(gamma, plane) + upwards(gamma, plane) / 3

    beam = beam_of(tmp_path, lm63(both, np.arange(0, 181, 2.5)))
    assert share_behind(beam) == pytest.approx(0.25, rel=1e-9)
    ahead = tabulated(beam)
    assert ahead.gammas_deg[-1] == 90
    assert beam_integral(ahead) == pytest.approx(flux(beam, 0, 90), rel=1e-12)
    assert flux(beam, 0, 90) + flux(beam, 90, 180) == pytest.approx(flux(beam), rel=1e-12)
    # A zone that ends between two angles: π I0 sin² (the closed form of the cosine lamp).
    zone = FLUX * np.sin(np.radians(33)) ** 2
    assert flux(beam, 0, 33) == pytest.approx(zone, rel=3e-4)


def test_a_lamp_that_only_shines_upwards_has_nothing_ahead(tmp_path: Path) -> None:
    beam = beam_of(tmp_path, FILES["upwards"])
    assert share_behind(beam) == pytest.approx(1)
    with pytest.raises(ValueError, match="within 90 degrees"):
        tabulated(beam)

"""Whites of eyes must be as dark as photographs measure them, and darker with age and pigment."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from render.sitter.cast import CAST
from render.sitter.face.eye_paint import EyeTone, eye_paint, white_of

# Lightness of the whites of average faces from young to old as photographed, under the lids'
# shade: J. Cosmet. Sci. 73(6) 2022, p. 369 (L* 47.4, moved to 57.2 and 37.6).
OLD_L, YOUNG_L = 37.6, 57.2
SHADED = 0.5  # of the light that lids and lashes leave; from memory


def tone(age_years: float, skin_reflectance: float) -> EyeTone:
    return EyeTone("brown", age_years, skin_reflectance)


def lab(eye: EyeTone, share: float = 1.0) -> np.ndarray:
    """CIELAB of the plain white, by the library."""
    xyz = colour.RGB_to_XYZ(share * white_of(eye), "sRGB", apply_cctf_decoding=False)
    return np.asarray(colour.XYZ_to_Lab(xyz))


@pytest.mark.parametrize("name", CAST)
def test_whites_are_as_light_as_photographed(name: str) -> None:
    sitter = CAST[name]
    eye = tone(sitter.age_years, sitter.skin.reflectance)
    assert OLD_L <= lab(eye, SHADED)[0] <= YOUNG_L


def test_whites_turn_darker_redder_and_yellower_with_age() -> None:
    """Russell et al. 2014, Psychology and Aging 29(3), p. 626."""
    young, old = lab(tone(20, 0.4)), lab(tone(70, 0.4))
    assert old[0] < young[0]
    assert old[1] > young[1]
    assert old[2] > young[2]


def test_dark_skin_goes_with_pigment_round_the_iris_and_fair_skin_does_not() -> None:
    """Norn 1985, Acta Ophthalmologica 63(4), p. 454: 4 % of Danes have pigment round the cornea."""
    limbus = 0.5
    dark, fair = (eye_paint(limbus, tone(30, r), 1) for r in (0.07, 0.40))
    ring = slice(int(768 * (1 - 0.62 * limbus)), int(768 * (1 - 0.58 * limbus)))  # just outside it
    far = slice(int(768 * (1 - 0.85 * limbus)), int(768 * (1 - 0.80 * limbus)))
    left = dark.mean((1, 2)) / fair.mean((1, 2))
    assert left[ring].mean() < 0.85 * left[far].mean()
    assert fair[ring].mean() > fair[far].mean()
    assert np.allclose(fair[far].mean(), white_of(tone(30, 0.40)).mean(), rtol=0.25)

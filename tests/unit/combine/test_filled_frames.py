"""An element that fills its frame is no dirty black: a clean plate tells them apart."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.combine.colour import codes_of, light_of
from render.combine.report import Laid
from tests.unit.combine.files import combined, flat, png

SIZE = (60, 40)


def plate_and_shot(folder: Path, veil: float, cloud: float, brighter: float = 0.0) -> None:
    """A black set of a code, and the same lit brighter by stops, with a cloud of a code over it."""
    png(folder / "look.png", flat(60, SIZE))
    png(folder / "plate.png", flat(veil, SIZE))
    light = light_of(veil) * 2**brighter + light_of(cloud)
    code = float(codes_of(np.array([light], np.float32))[0])
    png(folder / "shot.png", flat(round(code), SIZE))


def laid(folder: Path, **keys: Any) -> Laid:
    return combined(folder, "look.png", {"file": "shot.png", **keys}).report.elements[0]


def black_words(found: Laid) -> str:
    """The sentence about black, or nothing."""
    return "".join(words for words in found.warnings if "over code" in words)


@pytest.mark.parametrize("gain", [-1.0, 0.0, 1.0])
@pytest.mark.parametrize("veil", [0, 2, 12])
def test_a_cloud_on_the_rim_is_clean_by_its_plate(veil: int, gain: float, tmp_path: Path) -> None:
    """Truth: the plate is the set to the code, all the rest is the cloud of code 80."""
    plate_and_shot(tmp_path, veil, 80)
    seen = float(codes_of(np.array([light_of(veil) * 2**gain], np.float32))[0])
    found = laid(tmp_path, plates=["plate.png"], gain_stops=gain)
    assert found.black.clean
    assert found.black.over
    assert found.plate_black is not None
    assert found.plate_black.backdrop_code == pytest.approx(seen, abs=1e-3)
    assert black_words(found) == ""
    assert not found.found.clean


def test_without_a_plate_both_causes_are_named(tmp_path: Path) -> None:
    """One picture cannot tell a lit backdrop from a cloud that fills the frame."""
    plate_and_shot(tmp_path, 2, 80)
    found = laid(tmp_path)
    assert (found.plate_black, found.black.clean) == (None, False)
    words = black_words(found)
    assert "backdrop is lit (cure: less light on it)" in words
    assert "reaches the rim of its frame (cure: a wider frame or fade)" in words
    assert "a clean plate tells them apart" in words


def test_a_cloud_in_the_middle_does_not_reach_the_rim(tmp_path: Path) -> None:
    """Truth: 81 % of the frame is pale, its rim is black."""
    plate_and_shot(tmp_path, 0, 0)
    codes = flat(0, SIZE)
    codes[2:-2, 3:-3] = 40
    png(tmp_path / "shot.png", codes)
    assert "the element fills more than half of its frame" in black_words(laid(tmp_path))


@pytest.mark.parametrize(("brighter", "warned"), [(0.0, False), (0.5, True), (0.9, True)])
def test_a_set_lit_brighter_than_its_plate_is_still_named(
    brighter: float, warned: bool, tmp_path: Path
) -> None:
    """By hand: half a stop leaves 0.41 of code 30, code 18, with no cloud at all."""
    plate_and_shot(tmp_path, 30, 0, brighter)
    found = laid(tmp_path, plates=["plate.png"])
    assert found.black.clean is not warned
    assert ("brighter than for the plate (cure: a new plate" in black_words(found)) is warned


def test_coverage_says_that_it_is_judged_by_brightness(tmp_path: Path) -> None:
    """By hand: an even cloud of code 80 has 0.443 of the light of code 118."""
    plate_and_shot(tmp_path, 0, 80)
    found = laid(tmp_path)
    assert found.coverage == pytest.approx(light_of(80) / light_of(118), rel=1e-5)
    words = next(words for words in found.warnings if "covers" in words)
    assert "by its brightness it covers 44.3 %" in words
    assert "code 118 of its file counts in full" in words
    assert "particles may hold back less" in words

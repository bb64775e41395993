"""The filter takes grain off pictures, not light, and never touches a number."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.errors import OutputError
from render.picture.denoise import denoised, drifts, library
from render.picture.develop import mix
from render.trace import Engine, FrameStore, LightFrame
from render.trace.desk import Order
from render.trace.guides import Guides, guides
from tests.unit.picture.test_sure import AT_F8, spotted
from tests.unit.trace.small import GREY, SIZE

pytest.importorskip("pyoidn")
WIDE, HIGH = 64, 80


def flat(light: float, noise: float, seed: int) -> LightFrame:
    """An evenly lit card with grain of so much of its light."""
    generator = np.random.default_rng(seed)
    grain = generator.gamma(1 / noise**2, noise**2, (HIGH, WIDE, 1)).astype(np.float32)
    variance = np.full((HIGH, WIDE), (noise * light) ** 2, np.float32)
    return LightFrame("key", np.repeat(light * grain, 3, -1), variance, 16)


def card() -> Guides:
    towards = np.zeros((HIGH, WIDE, 3), np.float32)
    towards[..., 2] = 1
    return Guides(np.full((HIGH, WIDE, 3), 0.18, np.float32), towards)


def test_grain_goes_and_light_stays() -> None:
    """Truth: the light that the card was made with, known to 0.3 / sqrt(pixels) of itself."""
    for light in (1e-5, 1e-2, 10.0):
        noisy = flat(light, 0.3, 1)
        clean = denoised({"key": noisy}, card())["key"]
        assert clean.mean.std() < 0.1 * noisy.mean.std()
        assert abs(np.log2(clean.mean.mean() / light)) < 0.02
        assert clean.variance is noisy.variance
        assert clean.samples == noisy.samples


def test_black_stays_black() -> None:
    dark = replace(flat(1.0, 0.3, 1), mean=np.zeros((HIGH, WIDE, 3), np.float32))
    assert denoised({"key": dark}, card())["key"].mean.max() < 1e-6


def test_a_drift_is_measured_patch_by_patch() -> None:
    """Truth: a picture made 0.1 stop brighter on its upper half, where the ball is."""
    layout = spotted()
    frame = LightFrame("key", np.ones((60, 48, 3), np.float32), np.ones((60, 48), np.float32), 16)
    brighter = frame.mean.copy()
    brighter[:28] *= 2**0.1
    before, after = (
        mix({"key": each}, layout, AT_F8) for each in (frame, replace(frame, mean=brighter))
    )
    found = {each.place: each.drift_stops for each in drifts(before, after, layout)}
    assert found["paper"] == pytest.approx(0.1, abs=1e-5)
    assert 0 <= found["ball"] < 0.05


@pytest.mark.parametrize("name", ["scalar", "auto"])
def test_guides_show_colour_and_direction(name: str, tmp_path: Path) -> None:
    """Truth: the set. Grey paper that faces the camera; a ball whose middle faces it too."""
    store = FrameStore(tmp_path)
    order = Order(spotted(), "draft", SIZE)
    with Engine(name) as engine:
        found = guides(order, store, engine)
        assert found.albedo.shape == found.normal.shape == (SIZE[1], SIZE[0], 3)
        np.testing.assert_allclose(found.albedo[2, 2], GREY, atol=1e-3)
        np.testing.assert_allclose(found.normal[2, 2], [0, 0, 1], atol=1e-3)
        np.testing.assert_allclose(found.normal[15, 12], [0, 0, 1], atol=0.2)
        assert found.normal[15, 14, 0] > 0.1  # camera right faces camera right
        engine.abandon()  # what is kept needs no engine
        louder = replace(order.layout.fronts[0], luminous_energy_lm_s=7.0)
        again = replace(order, layout=replace(order.layout, fronts=(louder,)))
        kept = guides(again, store, engine)
    assert np.array_equal(kept.albedo, found.albedo)


def test_without_the_library_one_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyoidn", None)
    with pytest.raises(OutputError, match=r"pip install 'tenthstop\[denoise\]'"):
        library()

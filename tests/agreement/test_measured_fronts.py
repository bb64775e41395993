"""Both witnesses on a front whose beam was measured: prediction, tracing and the file's own law."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.emission import Disk, Rectangle, Shape
from render.emission.measured import read_measured, tabulated
from render.predict import direct_exposure
from render.trace import Engine, receptor_readings
from tests.agreement.test_traced_fronts import AXES, PLACES
from tests.sets import front, layout
from tests.unit.emission.lamp_files import cosine, lm63

FLUX = 1e6 * 2 * np.pi / 3  # of `lopsided`: ∫ cos² over the half space; the sine adds nothing [lm]

# Lines between angles 1 and 2 degrees apart bend away from cos² (1 + 0.5 sin C) by up to
# (h²/8) · |second derivative| = 8e-5 each, and so does the table's flux.
TABLE = 3e-4


def lopsided(gamma: float, plane: float) -> float:
    return cosine(gamma, plane) ** 2 * (1 + 0.5 * np.sin(np.radians(plane)))


def integral(shape: Shape, place: Any, axis: Any) -> float:
    """E [lx·s] from one lm·s: Σ I(direction) / flux · cosine at the receptor / d², even steps.

    The law of the file itself, no table; planes turn clockwise for one who faces the light.
    """
    n = 600
    x, y = np.meshgrid(*2 * [(np.arange(n) + 0.5) / n - 0.5])
    across = 0.4 if isinstance(shape, Disk) else 0.3
    inside = x * x + y * y < 0.25 if isinstance(shape, Disk) else np.ones_like(x, bool)
    at = np.stack([0.4 * x, across * y, 0 * x], -1)[inside]
    way = place - at
    distance = np.linalg.norm(way, axis=-1)
    way = way / distance[:, None]
    # 1000 cd · cos² · (1 + 0.5 sin C) with sin C = -y of the direction / sin gamma.
    sine = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-12)
    intensity = 1e6 * np.maximum(way[:, 2], 0) ** 2 * (1 - 0.5 * way[:, 1] / sine)
    falls = np.maximum(-way @ axis, 0)
    return float(np.mean(intensity / FLUX * falls / distance**2))


@pytest.mark.parametrize("shape", [Rectangle(), Disk()], ids=["rectangle", "disk"])
def test_measured_fronts(shape: Shape, engine: Engine, tmp_path: Path) -> None:
    """Truth: the sum over the front of the law that the file was written from."""
    file = tmp_path / "lamp.ies"
    file.write_text(lm63(lopsided, np.arange(0, 91, 1.0), np.arange(0, 361, 2)))
    height = 0.4 if isinstance(shape, Disk) else 0.3
    made = front(
        width_m=0.4, height_m=height, shape=shape, beam=tabulated(read_measured(file)),
        luminous_energy_lm_s=1.0,
    )  # fmt: skip
    truth = [integral(shape, p, a) for p, a in zip(PLACES, AXES, strict=True)]
    predicted = direct_exposure(layout(made), PLACES, AXES, "flat")
    np.testing.assert_allclose(predicted.luminous_exposure_lx_s[:, 0], truth, rtol=1e-3)
    traced = receptor_readings(layout(made), PLACES, AXES, "flat", engine=engine, samples=1 << 18)
    found, error = traced.total[:, 0], traced.total_error[:, 0]
    assert np.all(np.abs(found - truth) < 4 * error + TABLE * np.array(truth))
    assert np.all(error < 0.005 * np.log(2) * np.max(truth))  # sure to 0.005 stop of the brightest

"""Dust's phase function: all light goes somewhere, more of it onward, and is drawn as it goes."""

from __future__ import annotations

import numpy as np
import pytest

from render.photometry.scattering import FORWARD, drawn_cosine, phase


@pytest.mark.parametrize("forward", [FORWARD, -0.3, 0.85])
def test_its_sum_is_one_and_its_mean_cosine_the_parameter(forward: float) -> None:
    """Henyey and Greenstein, Astrophysical Journal 93 (1941) 70."""
    nodes, weights = np.polynomial.legendre.leggauss(96)
    around = 2 * np.pi * weights * phase(nodes, forward)
    assert around.sum() == pytest.approx(1, rel=1e-6)
    assert (around * nodes).sum() == pytest.approx(forward, rel=1e-6)


def test_ways_are_drawn_as_often_as_light_goes_there() -> None:
    """The share of the phase function below a drawn cosine is the number it was drawn from."""
    nodes, weights = np.polynomial.legendre.leggauss(96)
    for u in (0.1, 0.5, 0.93):
        end = float(drawn_cosine(u))
        half = 0.5 * (end + 1)
        below = 2 * np.pi * half * float((weights * phase(half * (nodes + 1) - 1)).sum())
        assert below == pytest.approx(u, rel=1e-6)

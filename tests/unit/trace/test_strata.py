"""Random numbers of a pixel's samples are uniform, and spread as evenly as they are said to be."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from render.trace import Engine
from render.trace.choice import worker_environment

PIXELS = 3000
DRAW = f"""
import json, sys
import mitsuba as mi
import numpy as np
mi.set_variant(sys.argv[1])
import drjit as dr
from render.trace.strata import Strata
found = []
for samples in (4, 16, 12):
    index = dr.arange(mi.UInt32, {PIXELS} * samples)
    count, bits, seed = (dr.opaque(mi.UInt32, n) for n in (samples, (samples - 1).bit_length(), 7))
    pixel = index // count
    strata = Strata(pixel, index - pixel * count, bits, seed)
    drawn = [np.array(strata.next_1d())[None], *(np.array(strata.next_2d()) for _ in range(2))]
    drawn = np.concatenate(drawn).reshape(5, {PIXELS}, samples)
    boxes = []
    for x, y in ((drawn[1], drawn[2]), (drawn[3], drawn[4])):
        for k in range((samples - 1).bit_length() + 1):
            wide, high = 2 ** k, 2 ** ((samples - 1).bit_length() - k)
            box = np.floor(x * wide) * high + np.floor(y * high)
            boxes.append(len(np.unique(np.sort(box, 1)[0])) / samples)
            boxes.append(float(np.mean(np.diff(np.sort(box, 1), axis=1) > 0)))
    flat = drawn.reshape(5, -1).astype(float)
    found.append({{
        "boxes": min(boxes), "least": flat.min(), "most": flat.max(),
        "means": (flat.mean(1) - 0.5).tolist(), "squares": ((flat - 0.5) ** 2).mean(1).tolist(),
        "together": [np.corrcoef(flat)[i, j] for i in range(5) for j in range(i)],
        "pixels": [np.corrcoef(d[1:, 0], d[:-1, 0])[0, 1] for d in drawn],
    }})
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def drawn(engine: Engine) -> list[dict[str, object]]:
    """Figures of numbers for 4, 16 and 12 samples a pixel."""
    if engine.name == "scalar":
        pytest.skip("the plain engine draws its numbers one by one")
    command = [sys.executable, "-c", DRAW, engine.choice.variant]
    env = worker_environment(engine.choice)
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=True)
    found: list[dict[str, object]] = json.loads(done.stdout)
    return found


def test_every_box_holds_one_sample(drawn: list[dict[str, float]]) -> None:
    """Truth: the first two dimensions of Sobol's sequence are a (0, 2)-sequence in base 2, so 2^k
    points lie one in each of the 2^k boxes of 2^-i by 2^(i-k), for every i (Sobol 1967); fewer
    than 2^k leave some of them empty and none with two."""
    assert [each["boxes"] for each in drawn] == [1, 1, 1]


def test_each_number_is_uniform_by_itself(drawn: list[dict[str, list[float]]]) -> None:
    """Truth: mean 1/2, variance 1/12; within five errors of independent numbers."""
    for each, samples in zip(drawn, (4, 16, 12), strict=True):
        count = PIXELS * samples
        assert 0 <= each["least"] < each["most"] < 1  # type: ignore[operator]
        assert max(map(abs, each["means"])) < 5 / (12 * count) ** 0.5
        assert max(abs(s - 1 / 12) for s in each["squares"]) < 5 / (180 * count) ** 0.5


def test_numbers_and_pixels_know_nothing_of_each_other(drawn: list[dict[str, list[float]]]) -> None:
    """Truth: correlation 0, five errors of independent numbers."""
    for each, samples in zip(drawn, (4, 16, 12), strict=True):
        assert max(map(abs, each["together"])) < 5 / (PIXELS * samples) ** 0.5
        assert max(map(abs, each["pixels"])) < 5 / PIXELS**0.5

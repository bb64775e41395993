"""A set small enough to trace in a moment: key, fill, a sheet of paper, a place for the meter."""

from __future__ import annotations

from pathlib import Path

import pytest

SCENE = """
title = "A chair"

[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
walls = 0.6

[backdrop]
gap_m = 1.3
reflectance = 0.5

[camera]
distance_m = 1.8

[light.key]
flash = "monobloc-400"
size_cm = [10, 10]
power = "1/16"
azimuth_deg = -30
distance_m = 1.0
aim = "chair"

[light.fill]
flash = "monobloc-200"
size_cm = [60, 60]
power = "1/8"
azimuth_deg = 40
distance_m = 1.3

[point.chair]
position_m = [0, 1.2, 0]
facing = "key"

[wanted]
chair = { point = "chair", f_number = 8 }
"""


@pytest.fixture(scope="session")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("scene") / "chair.toml"
    file.write_text(SCENE)
    return file

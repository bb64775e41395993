"""What a look says of a picture in which nothing carries tone."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from render.cli import main

EMPTY = """
title = "A lamp in a black void"
[camera]
distance_m = 2.0
height_m = 1.2
aim_height_m = 1.2
focal_length_mm = 85
f_number = 8
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/4"
azimuth_deg = -45
elevation_deg = 28
distance_m = 1.2
[point.chair]
position_m = [0.0, 1.2, 0.0]
facing = "key"
"""


def test_a_black_picture_is_called_black(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing in the frame gives light back, so no pixel has an error in stops to tell."""
    scene, out = tmp_path / "void.toml", tmp_path / "look.png"
    scene.write_text(EMPTY)
    monkeypatch.setenv("TENTHSTOP_CACHE", str(tmp_path / "cache"))
    words = ["look", str(scene), "--size", "16", "--out", str(out), "--quality", "draft"]
    monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    said = capsys.readouterr().out
    assert "the whole picture is black" in said
    assert "nan" not in said

"""What `look --json` prints, with its keys as docs/json.md names them."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from render.cli import main

OWN = """
title = "A ball of paper"
[camera]
distance_m = 2.0
height_m = 1.2
aim_height_m = 1.2
focal_length_mm = 85
f_number = 8
[backdrop]
gap_m = 0.5
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/4"
azimuth_deg = -45
elevation_deg = 28
distance_m = 1.2
"""


def test_its_keys_are_those_of_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    scene, out = tmp_path / "own.toml", tmp_path / "look.png"
    scene.write_text(OWN)
    monkeypatch.setenv("TENTHSTOP_CACHE", str(tmp_path / "cache"))
    words = ["look", str(scene), "--size", "32", "--out", str(out), "--json"]
    words += ["--precision", "0.5", "--quality", "draft", "--exr"]
    if _has_library():
        words.append("--denoise")
    monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    found = json.loads(capsys.readouterr().out)
    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    part = page.split("## look\n")[1].split("\n## ")[0]
    rows = found["sure"] + (found["denoised"] or [])
    for key in (*found, *(key for row in rows for key in row)):
        assert f"`{key}`" in part, key
    assert found["reached"] is True
    assert all(row["at_most_stops"] <= 0.5 for row in found["sure"])
    assert [Path(each).suffix for each in found["files"]] == [".png", ".exr"]


def _has_library() -> bool:
    import importlib.util

    return importlib.util.find_spec("pyoidn") is not None

"""A mistake about the sitter is one sentence with file, key, what was found and what goes."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from render.cli import main

SCENE = """
title = "Sitter"
[sitter]
{line}
[camera]
distance_m = 2.0
[light.key]
luminous_energy_lm_s = 400
size_cm = [60, 90]
azimuth_deg = -45
distance_m = 1.2
"""


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('hair = "mohawk"', 'hair: found "mohawk" (accepted: bald, close crop'),
        ('hair = ""', 'hair: found "" (accepted: bald, close crop'),
        ('hair = """two\nlines"""', 'hair: found "two lines" (accepted: bald'),
        ('hair_color = "red"', "hair_color: unknown key (did you mean hair_colour?)"),
        ("glasses = true", "glasses: found true (accepted: text; none, round or square)"),
        ("model = 3", "model: found 3 (accepted: text; bundled sitter: alma, bram"),
        ("skin_reflectance = nan", "skin_reflectance: found nan (accepted: a number from 0.05"),
        ("skin_undertone = [1]", "skin_undertone: found [1] (accepted: two numbers from -6"),
        ("top_colour = [-0.1, 0.2, 0.3]", "top_colour: found -0.1 (accepted: three numbers"),
        ("top_reflectance = 2", "top_reflectance: found 2 (accepted: a number from 0.01 to 0.9)"),
        # The luminance of linear sRGB's red is 0.2126 (IEC 61966-2-1): 0.95 of it is 0.20.
        ("top_colour = [0.9, 0, 0]\ntop_reflectance = 0.5", "can reflect (at most 0.2, or a"),
        ("head_nod_deg = 31", "head_nod_deg: found 31 (accepted: a number from -30 to 30"),
        ('gaze = "up"', 'gaze: found "up" (accepted: camera, ahead, or a place x, y, z'),
        ("gaze = [0, 1.2, 0]", "gaze: found [0.0, 1.2, 0.0], 0 m from the eyes (a place 0.1"),
        ("gaze = [900, 900, 0]", "m from the eyes (a place 0.1 to 1000 m from them)"),
        (
            "gaze = 5",
            "gaze: found 5 (accepted: text or three numbers from -1000 to 1000 in brackets",
        ),
        ("mesh_unit = 'mm'", "mesh_unit: found without a mesh (only beside mesh)"),
        ("landmarks = { chin = [1e300, 0, 0] }", "chin: found 1e+300 (accepted: three numbers"),
        ('mesh = ""', 'mesh: found "" (a file ending in .obj, .ply'),
        ('mesh = "."', 'mesh: found "." (a file ending in .obj, .ply'),
        ('mesh = "none.obj"', "mesh_unit: missing (OBJ files do not say their unit"),
        ('mesh = "none.glb"', "mesh: no file none.glb (a mesh file"),
        ('mesh = "a\\u0007.glb"', "mesh: no file a .glb (a mesh file"),
    ],
)
def test_a_mistake_about_the_sitter_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    line: str,
    said: str,
) -> None:
    file = tmp_path / "set.toml"
    file.write_text(SCENE.format(line=line))
    monkeypatch.setenv("TENTHSTOP_CACHE", str(tmp_path / "kept"))
    monkeypatch.setattr(sys, "argv", ["tenthstop", "meter", str(file), "--direct"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    shown = capsys.readouterr()
    assert shown.err.startswith("tenthstop: set.toml: sitter.")
    assert said in shown.err
    assert shown.err.count("\n") == 1
    assert shown.out == ""
    assert not list(tmp_path.rglob("*.npz"))

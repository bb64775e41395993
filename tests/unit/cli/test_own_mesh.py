"""The commands on a scene with the photographer's own head."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
import trimesh

from render.cli import main
from tests.unit.sitter.own_heads import own_set, scan_of

KEYS = """\
mesh_unit = "mm"
mesh_up = "z"
mesh_faces = "-y"
skin_reflectance = 0.3
turn_deg = -20
"""
SCENE = own_set("scans/head.ply", KEYS)


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A scene file with a head in millimetres, z up, beside it in a folder."""
    folder = tmp_path_factory.mktemp("own")
    (folder / "scans").mkdir()
    scan = scan_of("alma")
    vertices = 1000 * scan.vertices @ [[1, 0, 0], [0, 0, 1], [0, -1, 0]]
    trimesh.Trimesh(vertices, scan.triangles, process=False).export(folder / "scans/head.ply")
    (folder / "set.toml").write_text(SCENE)
    return folder / "set.toml"


@pytest.fixture(autouse=True)
def kept(scene: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TENTHSTOP_CACHE", str(scene.parent / "kept"))


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0)


def test_meter(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], scene: Path
) -> None:
    assert run(monkeypatch, "meter", str(scene), "--direct", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    shown = {(row["point"], row["lights"]): row["f_number"] for row in found["readings"]}
    # 400 lm·s from 0.54 m² at about 1.1 m and 35 degrees: E = L·A·cos/d², N² = E·ISO/250, within
    # half a stop of the point law; the closed form itself is checked elsewhere.
    assert shown["key_cheek", "key"] == pytest.approx(5.6, rel=0.2)
    assert any(note.startswith("face 1") for note in found["mesh_notes"])


def test_look(monkeypatch: pytest.MonkeyPatch, scene: Path) -> None:
    out = scene.parent / "look.png"
    assert (
        run(monkeypatch, "look", str(scene), "--quality", "1", "--size", "32", "--out", str(out))
        == 0
    )
    assert out.stat().st_size > 0


def test_compare(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], scene: Path
) -> None:
    """Matte direct, predicted and rendered agree within their error bars on a scan as well."""
    assert run(monkeypatch, "compare", str(scene), "--strict", "--json") == 0
    assert json.loads(capsys.readouterr().out)["rows"]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('hair = "bob"', "sitter.hair: found together with mesh"),
        ('model = "bram"', "sitter.model: found together with mesh"),
        ("head_turn_deg = 10", "sitter.head_turn_deg: found with mesh"),
        ('gaze = "ahead"', "sitter.gaze: found together with mesh"),
        ("landmarks = { nose = [0, 0, 0] }", "sitter.landmarks.nose: unknown key"),
    ],
)
def test_what_goes_with_a_bundled_sitter_only(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    scene: Path,
    line: str,
    said: str,
) -> None:
    file = scene.parent / "wrong.toml"
    file.write_text(SCENE.replace("turn_deg = -20", line, 1))
    assert run(monkeypatch, "meter", str(file), "--direct") == 2
    shown = capsys.readouterr().err
    assert said in shown
    assert shown.count("\n") == 1


def test_a_unit_without_a_mesh(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], scene: Path
) -> None:
    file = scene.parent / "wrong.toml"
    file.write_text(SCENE.replace('mesh = "scans/head.ply"', "", 1))
    assert run(monkeypatch, "meter", str(file), "--direct") == 2
    assert "sitter.mesh_unit: found without a mesh" in capsys.readouterr().err

"""Cells are the scene file with keys set anew: the same checks, the same sentences."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from render.cli import main
from render.errors import OutputError
from render.scenefile import load_scene
from render.series.cells import placed, read_series
from render.series.variables import split


def changes(scene: Path, *asked: str) -> list[str]:
    return [cell.change for cell in read_series(scene, list(asked)).cells]


def test_each_cell_is_the_file_with_its_keys_written_into_it(scene: Path, tmp_path: Path) -> None:
    series = read_series(scene, ["light.key.distance_m=0.7,1.4", "room.walls=0.2,cream-paint"])
    assert [cell.change for cell in series.cells] == [
        "key distance 0.7 m, room walls 0.2",
        "key distance 1.4 m, room walls 0.2",
        "key distance 0.7 m, room walls cream-paint",
        "key distance 1.4 m, room walls cream-paint",
    ]
    by_hand = tmp_path / "hand.toml"
    text = scene.read_text().replace("distance_m = 1.0", "distance_m = 1.4")
    by_hand.write_text(text.replace("walls = 0.6", 'walls = "cream-paint"'))
    assert series.cells[3].setup.scene == load_scene(by_hand).scene
    assert len({cell.file_stem for cell in series.cells}) == 4


def test_values_are_read_as_in_the_file(scene: Path) -> None:
    series = read_series(scene, ["light.key.power=1/4,1/8 +0.3,0.5"])
    powers = [cell.setup.scene.light["key"].power for cell in series.cells]
    assert powers == pytest.approx([0.25, 0.125 * 2**0.3, 0.5])
    aims = [c.setup.scene.light["key"].aim for c in read_series(
        scene, ["light.key.aim=eyes,[0.1, 1.2, 0],-"]
    ).cells]  # fmt: skip
    assert aims == ["eyes", (0.1, 1.2, 0), None]
    hair = read_series(scene, ["sitter.hair=tied back"]).cells[0].setup.scene.sitter
    assert hair is not None
    assert hair.hair == "tied back"


def test_commas_in_brackets_and_quotes_part_nothing() -> None:
    assert split("1,[2,3],\"a,b\",'c,d',e") == ["1", "[2,3]", '"a,b"', "'c,d'", "e"]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["light.key.distanc_m=1"], "did you mean light.key.distance_m"),
        (["light.kye.power=1"], "unknown key (did you mean light.key.power or light.fill.power?)"),
        (["camera=3"], "did you mean camera."),
        (["camera.f_number.x=3"], "did you mean camera.f_number"),
        (["zzz=1"], "accepted: a key of the scene file"),
        (["light.key.power"], "accepted: KEY=V1,V2,..."),
        (["light.key.power=1,,2"], "found nothing for one of its values"),
        (["light.key.power=1,0.5,1.0"], "found 1.0 twice"),
        (["camera.f_number=8", "camera.f_number=4"], "found camera.f_number twice"),
        ([], "found none (accepted: one or two"),
        (
            ["light.key.distance_m=1,40"],
            "cell 2 (key distance 40 m): chair.toml: light.key.distance_m: found 40 (accepted: a "
            "number from 0.15 to 15 [m])",
        ),
        (["light.key.distance_m=1,-"], None),
        (["sitter.model=nobody"], None),
        (["light.key.elevation_deg=0,80", "light.key.distance_m=1,2"], None),
    ],
)
def test_a_mistake_is_one_sentence_before_anything_is_written(
    scene: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    asked: list[str],
    said: str | None,
) -> None:
    """What only shows when the set is placed names its cell as well; no file is there after it."""
    words = [word for each in asked for word in ("--vary", each)]
    if not asked:
        with pytest.raises(OutputError, match="found none"):
            read_series(scene, asked)
        return
    out = tmp_path / "series.png"
    arguments = ["tenthstop", "series", str(scene), *words, "--out", str(out)]
    monkeypatch.setattr(sys, "argv", arguments)
    with pytest.raises(SystemExit) as ended:
        main()
    shown = capsys.readouterr()
    assert ended.value.code == 2
    assert shown.err.startswith("tenthstop: ")
    assert shown.err.count("\n") == 1
    assert (said or "cell ") in shown.err
    assert list(tmp_path.iterdir()) == []


def test_a_sitter_is_seated_once_while_lights_move() -> None:
    cells = read_series("violin-one-light", ["light.key.distance_m=0.9,1.1"]).cells
    bodies = [layout.body for _, layout in placed(cells)]
    assert bodies[0] is bodies[1]

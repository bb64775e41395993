"""A result has a recipe beside it that makes it again; inputs stay; mistakes are one sentence."""

import hashlib
import json
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
import tifffile

from render.cli import main
from render.combine.black import Black
from render.combine.joining import Difference
from render.combine.photo import read_photo
from render.combine.plates import Subtracted
from render.combine.recipe import Element, Recipe, Region, read_recipe
from render.combine.report import Laid, Report
from render.errors import RecipeError
from tests.unit.combine.files import flat, png, tiff

RNG = np.random.default_rng(6)
DOCS = Path(__file__).parents[3] / "docs"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A look, two elements and a plate, in the folder that the command runs in."""
    png(tmp_path / "look.png", RNG.integers(0, 200, (40, 30, 3)))
    dust = np.zeros((50, 60, 3), np.uint8)
    dust[20:24, 30:36] = 180
    png(tmp_path / "dust.png", dust + 6)
    png(tmp_path / "plate.png", flat(6, (60, 50)))
    tiff(tmp_path / "sparks.tif", (dust[::-1].astype(np.uint16) * 200))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["tenthstop", "combine", *words])
    try:
        main()
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


def digests(folder: Path) -> dict[str, str]:
    return {f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in folder.iterdir()}


@pytest.mark.parametrize("out", ["result.png", "result.tif", "result.exr"])
def test_the_recipe_makes_the_same_bits_again(
    out: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = digests(folder)
    words = ["look.png", "dust.png", "sparks.tif", "--out", out, "--plate", "plate.png"]
    assert run(monkeypatch, *words[:2], "--out", out, "--plate", "plate.png", "--turn", "9") == 0
    first = digests(folder)
    assert {name: first[name] for name in before} == before
    (folder / out).write_bytes(b"spoilt")
    assert run(monkeypatch, "result.toml") == 0
    assert digests(folder) == first
    assert set(first) - set(before) == {out, "result.toml"}


def test_a_recipe_may_be_changed_and_made_elsewhere(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two elements, each with its own gain and way; a region added by hand; made from a folder
    beside, and into another, where its paths still lead to the same pictures."""
    words = [
        "look.png",
        "dust.png",
        "sparks.tif",
        "--out",
        "r.tif",
        "--gain",
        "-1",
        "--gain",
        "0.5",
    ]
    assert run(monkeypatch, *words, "--way", "screen", "--at", "0.4,0.6", "--at", "0.5,0.5") == 0
    recipe = read_recipe(folder / "r.toml")
    assert [e.gain_stops for e in recipe.element] == [-1.0, 0.5]
    assert [e.way for e in recipe.element] == ["screen", "screen"]
    assert [e.at for e in recipe.element] == [(0.4, 0.6), (0.5, 0.5)]
    text = (folder / "r.toml").read_text()
    text += "[[element.region]]\npoints = [[0, 0], [0.5, 0], [0.5, 1]]\nkeep = 'outside'\n"
    (folder / "r.toml").write_text(text)
    assert run(monkeypatch, "r.toml") == 0
    there = folder / "there"
    there.mkdir()
    monkeypatch.chdir(there)
    assert run(monkeypatch, "../r.toml", "--out", "again.tif") == 0
    assert (there / "again.tif").read_bytes() == (folder / "r.tif").read_bytes()
    moved = read_recipe(there / "again.toml")
    assert (moved.look, moved.out) == ("../look.png", "again.tif")
    assert moved.element[1].region == read_recipe(folder / "r.toml").element[1].region
    assert len(moved.element[1].region) == 1
    assert run(monkeypatch, "again.toml") == 0
    assert (there / "again.tif").read_bytes() == (folder / "r.tif").read_bytes()


def test_deep_results_are_deep(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """16 bits with an sRGB profile; an EXR keeps what lies over white."""
    png(folder / "pale.png", flat(240, (30, 40)))
    for out in ("d.tif", "d.exr"):
        assert run(monkeypatch, "pale.png", "pale.png", "--out", out, "--replace") == 0
    with tifffile.TiffFile(folder / "d.tif") as file:
        page = file.pages.first
        assert (page.dtype, page.bitspersample) == (np.dtype(np.uint16), 16)
        assert 34675 in page.tags
        assert "pale.png" in page.description
    assert read_photo(folder / "d.exr").linear.max() > 1.7


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("look.png",), "look.png: found one picture"),
        (("look.png", "dust.png"), "--out: found none"),
        (("look.png", "dust.png", "--out", "r.jpg"), "must end in .png or .tif"),
        (("look.png", "dust.png", "--out", "no/r.png"), "no folder no"),
        (("look.png", "dust.png", "--out", "look.png"), "one of the pictures it is made of"),
        (("look.png", "dust.png", "--out", "dust.png", "--replace"), "one of the pictures"),
        (("look.png", "dust.png", "--out", "link.png", "--replace"), "one of the pictures"),
        (("look.png", "dust.png", "--out", "plate.png"), "plate.png is there already"),
        (("look.png", "dust.png", "--out", "r.png", "--at", "left"), '--at: found "left"'),
        (("look.png", "dust.png", "--out", "r.png", "--at", "99,0"), "--at: found 99"),
        (("look.png", "dust.png", "--out", "r.png", "--gain", "99"), "--gain: found 99"),
        (("look.png", "dust.png", "--out", "r.png", "--scale", "0"), "--scale: found 0"),
        (("look.png", "dust.png", "--out", "r.png", "--fade", "nan"), "--fade: found nan"),
        (
            ("look.png", "dust.png", "--out", "r.png", "--gain", "1", "--gain", "2"),
            "--gain: found 2 of them",
        ),
        (("look.png", "none.png", "--out", "r.png"), "none.png: no such file"),
        (("look.png", "dust.png", "--out", "r.png", "--matte", "alpha"), "no transparency in it"),
        (("none.toml",), "none.toml: no such file"),
        (("bad.toml",), "bad.toml: element[0].gain_stop: unknown key"),
        (("jpg.toml",), 'jpg.toml: out: found "r.jpg"'),
        (("over.toml", "--replace"), "one of the pictures it is made of"),
        (("other.toml",), "dust.png is there already"),
        (("bad.toml", "--gain", "1"), "--gain: is for pictures"),
    ],
)
def test_a_mistake_is_one_sentence_and_writes_nothing(
    words: tuple[str, ...],
    said: str,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    head = 'look = "look.png"\nout = "{out}"\n[[element]]\nfile = "{file}"\n'
    (folder / "bad.toml").write_text(head.format(out="r.png", file="x.png") + "gain_stop = 1\n")
    (folder / "jpg.toml").write_text(head.format(out="r.jpg", file="dust.png"))
    (folder / "over.toml").write_text(head.format(out="./look.png", file="dust.png"))
    (folder / "other.toml").write_text(head.format(out="dust.png", file="plate.png"))
    (folder / "link.png").symlink_to("dust.png")
    before = digests(folder)
    assert run(monkeypatch, *words) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.startswith("tenthstop: ")
    assert shown.err.count("\n") == 1
    assert shown.out == ""
    assert digests(folder) == before


def test_a_result_is_there_whole_or_not_at_all(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The disk fills up while the picture is written: the old result stays, no part is left."""
    assert run(monkeypatch, "look.png", "dust.png", "--out", "r.tif") == 0
    before = digests(folder)

    def full(*words: object, **said: object) -> None:
        Path(str(words[0])).write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("render.combine.written.iio.imwrite", full)
    assert run(monkeypatch, "r.toml") == 2
    assert "no space left" in capsys.readouterr().err
    assert digests(folder) == before


def test_the_report_is_there_as_json_and_in_words(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["look.png", "dust.png", "--out", "r.png"]
    assert run(monkeypatch, *words, "--black") == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "its black reaches code 6.0, 1.0 stops over code 3: either its backdrop is lit" in shown
    assert (folder / "r.black-1.png").stat().st_size > 5000
    assert run(monkeypatch, *words, "--replace", "--plate", "plate.png", "--json") == 0
    told = json.loads(capsys.readouterr().out, parse_constant=lambda name: pytest.fail(name))
    element = told["elements"][0]
    assert element["plate"]["veil_code"] == pytest.approx(6, abs=0.01)
    assert element["black"]["clean"]
    assert not element["found"]["clean"]
    assert told["warnings"] == []


def test_keys_of_json_and_recipe_are_the_documented_ones() -> None:
    page = (DOCS / "json.md").read_text(encoding="utf-8")
    part = page.split("## combine\n")[1].split("\n## ")[0]
    for kind in (Report, Laid, Black, Subtracted, Difference):
        for field in fields(kind):
            assert f"`{field.name}`" in part, field.name
    page = (DOCS / "commands.md").read_text(encoding="utf-8")
    part = page.split("## combine\n")[1].split("\n## ")[0]
    for model in (Recipe, Element, Region):
        for key in model.model_fields:
            assert f"`{key}`" in part, key


def test_a_recipe_without_elements_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "r.toml"
    file.write_text('look = "a.png"\nout = "b.png"\n')
    with pytest.raises(RecipeError, match=r"r.toml: element: found none"):
        read_recipe(file)

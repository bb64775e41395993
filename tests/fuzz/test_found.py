"""Faults that were found by driving the program with bad input, each as it was met."""

from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile
import trimesh
from PIL import Image

from render.combine.photo import read_photo
from render.combine.recipe import read_recipe
from render.errors import (
    KitError,
    OutputError,
    PhotoError,
    ReadingsError,
    SceneError,
    TenthstopError,
)
from render.page.document import open_document
from render.plan.balance.balance import balance
from render.plan.calibrate.noted import read_notes
from render.quiz.files import keep, kept
from render.scenefile import load_scene
from render.series.cells import read_series
from render.sitter.own import reader
from render.sitter.own.beside import named_files
from render.sitter.own.wish import MeshFault
from render.sitter.store import load_body
from render.trace.store import FrameStore
from render.trace.tally import Tally
from tests.fuzz import seeds
from tests.fuzz.files import QUESTION
from tests.fuzz.lines import typed
from tests.unit.page.scenes import STOOL, client, session

DEEP = 5000
CRIED = "tenthstop: "


def refused(file: Path, text: str | bytes) -> str:
    """The sentence with which a scene is refused."""
    file.write_bytes(text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text)
    with pytest.raises((SceneError, KitError)) as told:
        load_scene(file)
    assert len(str(told.value)) < 1500
    return str(told.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = " + "[" * DEEP + "]" * DEEP, "lie too deep"),
        ("a = " + "{a = " * DEEP + "1" + "}" * DEEP, "lie too deep"),
        ("a = " + "1" * DEEP, "thousands of digits"),
        ("title = 0x" + "f" * DEEP, "too long to show"),
        ("title = " + "9" * 4000, "999..."),
        ("b" * 70000 + " = 1\n" + STOOL, "bbb..."),
        ("a = 1\n" * 1_000_000, "too large"),
        (b"\xff\xfe" + STOOL.encode("utf-16-le"), "not a text file"),
        (STOOL.replace("[0, 1.2, 0]", "[0, 1e308, 0]"), "point.stool.position_m"),
        (STOOL.replace("f_number = 8", "f_number = 1" + "0" * 400), "wanted.face.f_number"),
        (STOOL.replace('"1/4" ', '"1/16 +9999"'), "light.key.power"),
        (STOOL.replace('"1/4" ', "nan"), "light.key.power"),
        ('kit = ["../../../../etc/passwd"]\n' + STOOL, ": "),
        ('kit = ["a\\u0000b"]\n' + STOOL, "kit"),
        (f'kit = ["{"k" * 5000}"]\n' + STOOL, "kit"),
    ],
)
def test_a_scene_that_nobody_writes_by_hand(tmp_path: Path, text: str | bytes, said: str) -> None:
    assert said in refused(tmp_path / "set.toml", text)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize("read", [read_notes, read_recipe, read_photo, load_scene])
@pytest.mark.parametrize("name", ["pipe.toml", "pipe.csv"])
def test_a_pipe_is_not_waited_for(
    tmp_path: Path, read: Callable[[Path], object], name: str
) -> None:
    os.mkfifo(tmp_path / name)
    with pytest.raises(TenthstopError):
        read(tmp_path / name)


def test_links_that_lead_nowhere_or_in_a_circle(tmp_path: Path) -> None:
    for name, target in (("gone.toml", "nowhere"), ("loop.toml", "loop.toml")):
        (tmp_path / name).symlink_to(tmp_path / target)
        for read in (load_scene, read_notes, read_recipe, read_photo):
            with pytest.raises(TenthstopError):
                read(tmp_path / name)


def test_names_that_the_page_may_not_follow(tmp_path: Path) -> None:
    (tmp_path / "stool.toml").write_text('kit = ["../kit.toml"]\n' + STOOL)
    with pytest.raises(SceneError, match="lies elsewhere"):
        open_document(tmp_path / "stool.toml", None)
    (tmp_path / "stool.toml").write_text("a = " + "[" * DEEP)
    with pytest.raises(SceneError, match="too deep"):
        open_document(tmp_path / "stool.toml", None)


@pytest.mark.parametrize("what", ["add", "remove"])
@pytest.mark.parametrize("odd", [["light"], {"a": 1}, 10**300])
def test_the_page_is_asked_for_what_has_no_name(tmp_path: Path, what: str, odd: object) -> None:
    browser = client(session(tmp_path))
    for said in ({"what": odd, "name": "rim"}, {"what": "light", "name": odd}):
        answer = browser.post(f"/api/{what}", json={"version": 1, **said})
        assert answer.status_code == 422, answer.text


def test_a_head_that_the_kit_lacks_is_named_by_balance(tmp_path: Path) -> None:
    (tmp_path / "set.toml").write_text(STOOL.replace("monobloc-400", "monoblok"))
    with pytest.raises(SceneError, match='"monoblok" is not in the kit'):
        balance(load_scene(tmp_path / "set.toml"), bounce=False)
    code, said, cried = typed(tmp_path, ("balance", "set.toml", "--direct", "--json"))
    assert (code, said) == (2, "")
    assert cried.startswith(CRIED)


def test_a_mesh_whose_corners_lie_in_a_plane_of_two_numbers(tmp_path: Path) -> None:
    data = dict(seeds.meshes())["gltf"].replace(b'"VEC3"', b'"VEC2"')
    (tmp_path / "head.gltf").write_bytes(data)
    (tmp_path / "skin.png").write_bytes(seeds.encoded("PNG"))
    with pytest.raises(MeshFault):
        reader._read(tmp_path / "head.gltf", named_files(tmp_path / "head.gltf").contents)


def test_light_that_is_no_number_is_black_in_every_kind_of_file(tmp_path: Path) -> None:
    light = np.full((4, 5, 3), 0.25, np.float32)
    light[1, 2] = np.inf, np.nan, 3e38
    tifffile.imwrite(tmp_path / "a.tif", light, photometric="rgb")
    found = read_photo(tmp_path / "a.tif")
    assert np.isfinite(found.linear).all()
    assert (found.linear[1, 2] == 0).all()
    assert found.notes == ("1 pixels that are no number are taken as black",)


def test_bombs_are_refused_before_they_are_unpacked(tmp_path: Path) -> None:
    (tmp_path / "vast.png").write_bytes(seeds.bomb_png())
    with pytest.raises(PhotoError, match="pixels"):
        read_photo(tmp_path / "vast.png")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("look.png", b"\0" * 10_000_000)
    (tmp_path / "packed.png").write_bytes(packed.getvalue())
    with pytest.raises(PhotoError, match="no picture"):
        read_photo(tmp_path / "packed.png")
    (tmp_path / "packed.toml").write_bytes(packed.getvalue())
    with pytest.raises(ReadingsError, match="not a text file"):
        read_notes(tmp_path / "packed.toml")


@pytest.mark.parametrize("flag", [0x01, 0x20])  # "encrypted", "patched data"
def test_a_frame_whose_archive_says_odd_things_counts_as_absent(tmp_path: Path, flag: int) -> None:
    store = FrameStore(tmp_path)
    light = np.ones((2, 2, 3), np.float32)
    store.save("light", Tally(1, light, light[..., 0]))
    file = tmp_path / "light.npz"
    data = bytearray(file.read_bytes())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = -1
        while (place := data.find(mark, place + 1)) >= 0:
            data[place + at] |= flag
    file.write_bytes(data)
    assert store.load("light", (2, 2)) is None
    assert store.arrays("light") is None
    assert store.early("light", (2, 2)) == {}
    assert store.chunks("light") == 0
    assert load_body(file) is None


def test_the_library_says_nothing_of_its_own_about_a_broken_exr(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """It complains at both outputs and goes on; what else is said there stays."""
    whole = seeds.pictures()[-1]
    for cut in (len(whole) // 2, len(whole) - 40, 400):
        (tmp_path / "a\nb.exr").write_bytes(whole[:cut])
        with pytest.raises(PhotoError, match="a broken EXR"):
            read_photo(tmp_path / "a\nb.exr")
    assert capfd.readouterr() == ("", "")
    (tmp_path / "whole.exr").write_bytes(whole)
    assert np.isfinite(read_photo(tmp_path / "whole.exr").linear).all()
    os.write(1, b"still open")
    assert capfd.readouterr() == ("still open", "")


@pytest.mark.parametrize("asked", [("a", "b", "c"), ("light.key.distance_m", "camera.distance_m")])
def test_a_series_of_more_pictures_than_anybody_compares(
    tmp_path: Path, asked: tuple[str, ...]
) -> None:
    (tmp_path / "stool.toml").write_text(STOOL)
    many = [f"{key}={','.join(str(1 + k / 50) for k in range(50))}" for key in asked]
    with pytest.raises(OutputError, match=r"found (2500 pictures|3) \(accepted"):
        read_series(tmp_path / "stool.toml", many)
    with pytest.raises(OutputError, match="found 5000 pictures"):
        read_series(tmp_path / "stool.toml", [f"title={','.join(map(str, range(5000)))}"])


def test_values_and_options_deeper_and_longer_than_any(tmp_path: Path) -> None:
    """Brackets deeper than the interpreter follows are text; 400 digits are no number of pixels."""
    (tmp_path / "stool.toml").write_text(STOOL)
    deep = read_series(tmp_path / "stool.toml", ["title=" + "[" * DEEP])
    assert deep.cells[0].setup.scene.title == "[" * DEEP
    code, said, cried = typed(tmp_path, ("lights", "--size", "1" * 400))
    assert (code, said) == (2, "")
    assert "accepted: a whole number from 16 to 8192" in cried


def test_a_kept_question_that_was_touched_counts_as_absent(tmp_path: Path) -> None:
    """One digit of an answer is enough; so is JSON deeper than the interpreter follows."""
    file = tmp_path / "one.json"
    keep(file, QUESTION)
    assert kept(file) == QUESTION
    whole = file.read_text()
    for told in (whole.replace("4.0", "8.0"), whole.split("\n")[1], "[" * 100_000, ""):
        file.write_text(told)
        assert kept(file) is None


@pytest.mark.parametrize("odd", [np.nan, np.inf, 1e30, -1e30])
def test_a_place_in_a_picture_that_is_none_is_its_corner(tmp_path: Path, odd: float) -> None:
    uv = np.array([[0.5, 0.5], [odd, 0.2], [0.1, odd]])
    mesh = trimesh.Trimesh(np.eye(3), [[0, 1, 2]], process=False)
    picture = Image.new("RGB", (4, 4), (90, 90, 90))
    mesh.visual = trimesh.visual.TextureVisuals(uv=uv, image=picture)
    (tmp_path / "head.glb").write_bytes(mesh.export(file_type="glb"))
    part = reader._read(tmp_path / "head.glb", {})[0]
    assert np.isfinite(part.uv).all()
    assert np.abs(part.uv).max() <= 1

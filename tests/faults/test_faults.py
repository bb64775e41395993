"""Full and forbidden folders, broken and older caches, odd clocks, and a short round of kills."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.errors import OutputError
from render.page.document import open_document
from render.picture.files import write_whole
from render.scenefile import load_scene
from render.scenefile.write import write_powers
from render.sitter.body import Body, Painted, Surface
from render.sitter.store import load_body, save_body
from render.trace.choice import EngineChoice, worker_environment
from render.trace.store import FrameStore
from render.trace.tally import Tally
from tests.faults.jobs import JOBS, STOOL
from tests.faults.kills import killed
from tests.faults.space import growing_to

KILLS = 4
FULL_BYTES = 100
NOBODY = 65534  # a user without rights, by custom
LIGHT = np.random.default_rng(1).random((40, 50, 3), np.float32)
TALLY = Tally(2, LIGHT, LIGHT[..., 0])


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """A folder that this process may read but not write, even where root runs the tests."""
    folder.chmod(0o555)
    root = os.geteuid() == 0
    if root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)
        folder.chmod(0o755)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that anybody may enter."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


def body() -> Body:
    corners, paint = np.eye(3, dtype=np.float32), Painted(np.full((64, 64, 3), 0.4), 0.5)
    triangle = np.array([[0, 1, 2]], np.int32)
    skin = Surface("skin", corners, triangle, corners, corners[:, :2], paint)
    return Body((skin,), (), {}, "one")


def unwritable(folder: Path) -> None:
    """Everything that keeps something, in a folder that takes nothing: a sentence each."""
    before = (folder / "stool.toml").read_bytes()
    setup = load_scene(folder / "stool.toml")
    document = open_document(folder / "stool.toml", None)
    document.take(document.edited({"light.key.power": "1/8", "title": "a" * 200}))
    for work in (
        lambda: FrameStore(folder).save("light", TALLY),
        lambda: save_body(folder / "sitter-one.npz", body()),
        lambda: write_powers(setup, {"key": "1/8"}),
        lambda: write_whole(folder / "look.png", Image.fromarray(np.zeros((99, 99))).save),
        document.save,
    ):
        with pytest.raises(OutputError) as told:
            work()
        assert "\n" not in str(told.value)
    assert (folder / "stool.toml").read_bytes() == before
    assert [file.name for file in folder.iterdir()] == ["stool.toml"]


def test_a_full_disk_is_one_sentence_and_leaves_no_litter(tmp_path: Path) -> None:
    (tmp_path / "stool.toml").write_text(STOOL)
    with growing_to(FULL_BYTES):
        unwritable(tmp_path)
    FrameStore(tmp_path).save("light", TALLY)
    assert FrameStore(tmp_path).load("light", (50, 40)) is not None


def test_a_folder_that_can_only_be_read(open_folder: Path) -> None:
    (open_folder / "stool.toml").write_text(STOOL)
    (open_folder / "stool.toml").chmod(0o644)
    with read_only(open_folder):
        unwritable(open_folder)


def test_frames_of_a_folder_that_can_only_be_read_are_found(open_folder: Path) -> None:
    store = FrameStore(open_folder)
    store.save("light", TALLY)
    (open_folder / "light.npz").chmod(0o644)
    with read_only(open_folder):
        assert store.load("light", (50, 40)) is not None
        with pytest.raises(OutputError, match="cannot be deleted"):
            store.clear()


def test_a_file_where_a_folder_is_asked_for(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(OutputError, match="cannot be written"):
        write_whole(tmp_path / "file" / "look.png", lambda part: part.write_bytes(b""))
    with pytest.raises(OutputError, match="cannot be kept there"):
        FrameStore(tmp_path / "file").save("light", TALLY)
    choice = EngineChoice("llvm", "llvm_ad_rgb", None, "")
    with pytest.raises(OutputError, match="cannot be kept there"):
        worker_environment(choice, tmp_path / "file")


def test_work_of_an_older_version_counts_as_absent(tmp_path: Path) -> None:
    file = tmp_path / "sitter-one.npz"
    save_body(file, body())
    with np.load(file) as stored:
        older = {name: stored[name] for name in stored.files if "roughness" not in name}
    np.savez(file, **older)
    assert load_body(file) is None
    store = FrameStore(tmp_path)
    store.put("light", {"colour": LIGHT.astype(float), "chunks": np.array(2)})
    assert store.load("light", (50, 40)) is None
    store.save("light", TALLY)
    assert store.load("light", (50, 40)) is not None


def test_sitters_that_were_not_used_for_longest_go_first(tmp_path: Path) -> None:
    files = [tmp_path / f"sitter-{name}.npz" for name in "abcd"]
    for k, file in enumerate(files[:3]):
        save_body(file, body())
        os.utime(file, (k, k))
    assert load_body(files[0]) is not None  # used again
    (tmp_path / "notes.npz").write_bytes(bytes(9999))
    save_body(files[3], body(), limit_bytes=2 * files[0].stat().st_size)
    assert [file for file in files if file.exists()] == [files[0], files[3]]
    save_body(files[3], body(), limit_bytes=1)
    assert [file for file in files if file.exists()] == [files[3]]
    assert (tmp_path / "notes.npz").exists()


@pytest.mark.parametrize("jump_s", [-(10**9), 10**9])
def test_a_clock_that_jumps_loses_nothing(tmp_path: Path, jump_s: int) -> None:
    store = FrameStore(tmp_path)
    store.save("before", TALLY)
    told = (tmp_path / "before.npz").stat()
    os.utime(tmp_path / "before.npz", (told.st_mtime + jump_s,) * 2)
    store.save("after", TALLY)
    assert {name for name, _ in store.entries()} == {"before", "after"}
    assert store.load("before", (50, 40)) is not None
    small = FrameStore(tmp_path, limit_bytes=1)
    small.save("last", TALLY)
    assert [name for name, _ in small.entries()] == ["last"]


def test_saves_of_the_page_that_are_killed_leave_one_state_or_the_other(tmp_path: Path) -> None:
    save = next(job for job in JOBS if job.name == "save")
    told = killed(save, KILLS, tmp_path, seed=3)
    assert told.faults == []
    assert told.kills == KILLS

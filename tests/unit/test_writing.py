"""Files are there whole or not at all, with their permissions; left drafts go, others stay."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from render import writing
from render.writing import LONG_S, MARK, QUIET_S, alone_in, in_place_of, put, sweep

LATER_S = 2 * QUIET_S
HOLD = """
import sys
import threading
from pathlib import Path
from render.writing import in_place_of
with in_place_of(Path(sys.argv[1])) as part:
    part.write_bytes(b"half")
    print(part.name, flush=True)
    sys.stdin.read()
    part.write_bytes(b"whole")
"""


def aged(file: Path, by_s: float) -> Path:
    """The file, as if nobody had written to it for so long."""
    told = file.stat()
    os.utime(file, (told.st_atime - by_s, told.st_mtime - by_s))
    return file


def interrupted(file: Path, lasting: bool, new: bool) -> None:
    with in_place_of(file, lasting, new) as part:
        part.write_bytes(b"new")
        raise KeyboardInterrupt


def permissions(file: Path) -> int:
    return stat.S_IMODE(file.stat().st_mode)


@pytest.mark.parametrize("lasting", [True, False])
@pytest.mark.parametrize("new", [True, False])
def test_a_block_that_fails_changes_nothing(tmp_path: Path, lasting: bool, new: bool) -> None:
    file = tmp_path / "a.toml"
    for there in (None, b"old"):
        if there is not None:
            file.write_bytes(there)
        with pytest.raises(KeyboardInterrupt):
            interrupted(file, lasting, new)
        assert (file.read_bytes() if file.exists() else None) == there
        assert [each.name for each in tmp_path.iterdir()] == ([] if there is None else ["a.toml"])


def test_permissions_are_those_of_any_new_file_and_stay(tmp_path: Path) -> None:
    """Truth: a file made by the system's own open()."""
    plain, file = tmp_path / "plain", tmp_path / "a.png"
    plain.touch()
    put(file, b"one")
    assert permissions(file) == permissions(plain)
    file.chmod(0o640)
    put(file, b"two")
    assert (permissions(file), file.read_bytes()) == (0o640, b"two")


@pytest.mark.parametrize("links", [True, False])
def test_a_new_file_takes_nobodys_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    def none(*_: object) -> None:
        raise PermissionError(1, "no links here")

    if not links:
        monkeypatch.setattr(os, "link", none)
    file = tmp_path / "a.toml"
    with in_place_of(file, new=True) as part:
        part.write_bytes(b"mine")
    assert file.read_bytes() == b"mine"
    with pytest.raises(FileExistsError), in_place_of(file, new=True) as part:
        part.write_bytes(b"theirs")
    assert file.read_bytes() == b"mine"
    (tmp_path / "b.toml").symlink_to("nowhere")
    with pytest.raises(FileExistsError), in_place_of(tmp_path / "b.toml", new=True) as part:
        part.write_bytes(b"theirs")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a.toml", "b.toml"]


def test_a_name_as_long_as_names_may_be(tmp_path: Path) -> None:
    """Truth: 255 bytes are the most that common file systems take (POSIX NAME_MAX on Linux)."""
    file = tmp_path / f"{'a' * 251}.png"
    put(file, b"whole")
    assert file.read_bytes() == b"whole"


@pytest.mark.parametrize("by_s", [LATER_S, -LATER_S])
def test_the_next_write_clears_away_what_dead_ones_left(tmp_path: Path, by_s: float) -> None:
    """Also where the clock was set: a draft from the future is as dead as one from the past."""
    old = tmp_path / f"{MARK}1-abc.png"
    old.write_bytes(b"half")
    aged(old, by_s)
    young = tmp_path / f"{MARK}1-def.png"
    young.write_bytes(b"half")
    put(tmp_path / "a.png", b"whole")
    assert sorted(each.name for each in tmp_path.iterdir()) == [young.name, "a.png"]


def test_a_draft_of_a_live_process_stays_however_old_it_is(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    writer = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(file)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(Path(writing.__file__).parents[1])},
    )
    assert writer.stdin is not None
    assert writer.stdout is not None
    draft = tmp_path / writer.stdout.readline().strip()
    aged(draft, 2 * LONG_S)
    assert sweep(tmp_path) == 0
    assert draft.exists()
    writer.communicate("")
    assert (writer.returncode, file.read_bytes()) == (0, b"whole")


def test_a_draft_of_a_killed_process_goes(tmp_path: Path) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path / "a.toml")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(Path(writing.__file__).parents[1])},
    )
    with writer:
        assert writer.stdout is not None
        aged(tmp_path / writer.stdout.readline().strip(), LATER_S)
        writer.kill()
    assert sweep(tmp_path) == 1
    assert list(tmp_path.iterdir()) == []


def test_nothing_else_is_taken_for_a_draft(tmp_path: Path) -> None:
    (tmp_path / f"{MARK}folder").mkdir()
    (tmp_path / f"{MARK}link").symlink_to(tmp_path / "a.png")
    for name in ("a.png", ".hidden.png", "tenthstop-1.png", "old.part"):
        (tmp_path / name).write_bytes(b"mine")
    for each in tmp_path.iterdir():
        aged(each, LATER_S)
    assert sweep(tmp_path) == 0
    assert sweep(tmp_path, (".part",)) == 1
    assert sweep(tmp_path / "nowhere") == 0


def without_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writing, "fcntl", None)


def refused_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise OSError(95, "operation not supported")

    monkeypatch.setattr(writing.fcntl, "flock", refused)


@pytest.mark.parametrize("locks", [without_locks, refused_locks])
def test_without_locks_only_a_day_makes_a_draft_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locks: Callable[[pytest.MonkeyPatch], None]
) -> None:
    locks(monkeypatch)
    put(tmp_path / "a.png", b"whole")
    draft = tmp_path / f"{MARK}1-abc.png"
    draft.write_bytes(b"half")
    aged(draft, LATER_S)
    assert sweep(tmp_path) == 0
    aged(draft, LONG_S)
    assert sweep(tmp_path) == 1


def test_two_who_read_and_write_wait_for_each_other(tmp_path: Path) -> None:
    """Truth: a hundred times one more, by four at once, is four hundred."""
    file = tmp_path / "count"
    file.write_text("0")

    def count() -> None:
        for _ in range(100):
            with alone_in(tmp_path):
                put(file, str(int(file.read_text()) + 1).encode(), lasting=False)

    threads = [threading.Thread(target=count) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert file.read_text() == "400"


def test_nobody_waits_for_ever_or_without_locks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "WAIT_S", 0.03)
    with alone_in(tmp_path), alone_in(tmp_path), alone_in(tmp_path / "nowhere"):
        refused_locks(monkeypatch)
        with alone_in(tmp_path):
            put(tmp_path / "a.png", b"whole")
    assert (tmp_path / "a.png").read_bytes() == b"whole"

"""Frames on disk: whole or absent, resumable, shared, limited."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from render.errors import OutputError
from render.trace.store import FrameStore
from render.trace.tally import Tally, chunk_samples, chunks_for, samples_in

try:
    import fsspec
except ImportError:
    fsspec = None  # the extra `cluster`

SIZE = (4, 3)


def tally(chunks: int, seed: int = 0) -> Tally:
    """A small exposure of so many random chunks."""
    noise = np.random.default_rng(seed)
    made = Tally.empty(SIZE)
    for _ in range(chunks):
        made = made.plus(noise.random((3, 4, 3), np.float32))
    return made


def test_what_is_stored_comes_back(tmp_path: Path) -> None:
    store, made = FrameStore(tmp_path), tally(5)
    store.save("a", made)
    found = store.load("a", SIZE)
    assert found is not None
    assert found.chunks == 5
    np.testing.assert_array_equal(found.colour, made.colour)
    np.testing.assert_array_equal(found.squares, made.squares)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.99])
def test_a_truncated_file_counts_as_absent(tmp_path: Path, share: float) -> None:
    store = FrameStore(tmp_path)
    store.save("a", tally(4))
    file = next(tmp_path.glob("a*"))
    file.write_bytes(file.read_bytes()[: int(share * file.stat().st_size)])
    assert store.load("a", SIZE) is None
    store.save("a", tally(4))
    assert store.load("a", SIZE) is not None


def test_a_flipped_bit_counts_as_absent(tmp_path: Path) -> None:
    """The container keeps a checksum of every array."""
    store, made = FrameStore(tmp_path), tally(4)
    store.save("a", made)
    file = next(tmp_path.glob("a*"))
    content = bytearray(file.read_bytes())
    content[content.find(made.colour.tobytes()) + 5] ^= 1
    file.write_bytes(content)
    assert store.load("a", SIZE) is None


def test_another_size_is_another_picture(tmp_path: Path) -> None:
    store = FrameStore(tmp_path)
    store.save("a", tally(4))
    assert store.load("a", (3, 4)) is None


def test_a_failed_write_leaves_the_old_frame_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = FrameStore(tmp_path)
    store.save("a", tally(4))

    def full_disk(*_: object, **__: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(np, "savez", full_disk)
    with pytest.raises(OSError, match="no space"):
        store.save("a", tally(5))
    found = store.load("a", SIZE)
    assert found is not None
    assert found.chunks == 4
    assert len(list(tmp_path.iterdir())) == 1


def test_a_shorter_exposure_does_not_replace_a_longer_one(tmp_path: Path) -> None:
    store = FrameStore(tmp_path)
    store.save("a", tally(6))
    store.save("a", tally(4))
    found = store.load("a", SIZE)
    assert found is not None
    assert found.chunks == 6


def test_writers_at_the_same_time_leave_one_whole_frame(tmp_path: Path) -> None:
    store = FrameStore(tmp_path)
    seen: list[bool] = []

    def write(seed: int) -> None:
        for chunks in range(4, 12):
            store.save("a", tally(chunks, seed))
            seen.append(store.load("a", SIZE) is not None)

    writers = [threading.Thread(target=write, args=(k,)) for k in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert all(seen)
    assert len(seen) == 32
    assert [file.name for file in tmp_path.iterdir()] == ["a.npz"]


def test_the_oldest_go_first_when_the_folder_is_full(tmp_path: Path) -> None:
    store = FrameStore(tmp_path)
    for k, name in enumerate("abc"):
        store.save(name, tally(4))
        os.utime(tmp_path / f"{name}.npz", (k, k))
    one = store.size_bytes() // 3
    assert store.load("a", SIZE) is not None  # used again, so no longer the oldest
    limited = FrameStore(tmp_path, limit_bytes=2 * one + one // 2)
    limited.save("d", tally(4))
    assert {name for name, _ in limited.entries()} == {"a", "d"}
    assert limited.clear() == 2
    assert limited.size_bytes() == 0


def test_chunks_and_samples() -> None:
    """Truth by hand: four chunks of 4, then chunks of 16."""
    assert [chunk_samples(k) for k in range(6)] == [4, 4, 4, 4, 16, 16]
    assert [chunks_for(n) for n in (1, 16, 17, 32, 64, 256)] == [4, 4, 5, 5, 7, 19]
    assert [samples_in(chunks_for(n)) for n in (16, 64, 256)] == [16, 64, 256]


def test_variance_of_the_mean_is_that_of_many_exposures() -> None:
    """Truth: white noise of variance s² per sample leaves s² / n in the mean of n samples."""
    noise = np.random.default_rng(5)
    made = Tally.empty((200, 200))
    for k in range(7):
        grey = noise.normal(1.0, 0.3 / np.sqrt(chunk_samples(k)), (200, 200, 1))
        made = made.plus(np.repeat(grey, 3, -1).astype(np.float32))
    assert made.samples == 64
    assert np.mean(made.variance()) == pytest.approx(0.09 / 64, rel=0.02)
    assert np.var(made.mean()[..., 1]) == pytest.approx(0.09 / 64, rel=0.04)


@pytest.fixture
def address() -> Iterator[str]:
    """An address that fsspec keeps in memory."""
    pytest.importorskip("fsspec", reason="extra `cluster` is not installed")
    yield "memory://frames"
    fsspec.filesystem("memory").store.clear()


def test_an_address_keeps_frames_like_a_folder(address: str, tmp_path: Path) -> None:
    """Truth: what one program stores another finds, early chunks too, in memory and in files."""
    chunk = np.random.default_rng(1).random((3, 4, 3), np.float32)
    for place in (address, f"file://{tmp_path}/new/frames"):
        mine, theirs = FrameStore(place), FrameStore(place)
        mine.save("a", tally(5), {7: chunk})
        mine.save("a", tally(4))
        found = theirs.load("a", SIZE)
        assert found is not None
        np.testing.assert_array_equal(found.colour, tally(5).colour)
        np.testing.assert_array_equal(theirs.early("a", SIZE)[7], chunk)
        assert [name for name, _ in theirs.entries()] == ["a"]
        assert (theirs.chunks("a"), theirs.chunks("b"), theirs.load("b", SIZE)) == (5, 0, None)
        assert theirs.clear() == 1
        assert mine.chunks("a") == 0


def test_a_failed_move_leaves_the_old_frame_and_no_litter(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = FrameStore(address)
    store.save("a", tally(4))

    def lost(*_: object, **__: object) -> None:
        raise ConnectionResetError("connection reset by peer")

    monkeypatch.setattr(type(fsspec.filesystem("memory")), "mv", lost)
    with pytest.raises(OutputError, match=r"memory://.*cannot be kept there: connection reset"):
        store.save("a", tally(5))
    assert store.chunks("a") == 4
    assert len(fsspec.filesystem("memory").find("frames")) == 1


def test_an_address_that_is_lost_is_one_sentence(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = FrameStore(address)
    store.save("a", tally(4))

    def lost(*_: object, **__: object) -> None:
        raise ConnectionResetError("connection reset by peer")

    files = type(fsspec.filesystem("memory"))
    monkeypatch.setattr(files, "rm_file", lost)
    with pytest.raises(OutputError, match=r"memory://.*cannot be deleted there: connection reset"):
        store.clear()
    monkeypatch.setattr(files, "find", lost)
    with pytest.raises(OutputError, match=r"memory://.*cannot be listed there: connection reset"):
        store.entries()


def test_an_address_where_nothing_can_be_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: port 9 is that of a service which only swallows what it is sent (RFC 863)."""
    pytest.importorskip("fsspec", reason="extra `cluster` is not installed")
    monkeypatch.setenv("TENTHSTOP_FRAMES", "nowhere://frames")
    with pytest.raises(OutputError, match=r"nowhere://frames: .*Protocol not known: nowhere"):
        FrameStore()
    monkeypatch.setenv("TENTHSTOP_FRAMES", "ftp://127.0.0.1:9/frames")
    with pytest.raises(OutputError, match=r"ftp://127.*refused.*\(accepted: a folder, or"):
        FrameStore()

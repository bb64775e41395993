"""A short round of the campaign: power cuts, full disks, two at once, left drafts, no memory."""

from __future__ import annotations

import json
import os
import resource
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest

from render.cli.examine import clear_drafts
from render.errors import OutputError
from render.trace.choice import EngineChoice, worker_environment
from render.trace.store import FrameStore
from render.trace.tally import Tally
from render.writing import QUIET_S, in_place_of
from tests.faults.memory import COMBINE
from tests.faults.pairs import saved_by_two
from tests.faults.places import CACHES
from tests.faults.power import cut, watched
from tests.faults.runs import Bench, Case, run
from tests.faults.space import refused
from tests.faults.writers import CARDS, WRITERS, Writer

SPACE_BYTES = 450 << 20  # of addresses: enough for the libraries, not for the pictures
LIGHT = np.random.default_rng(1).random((40, 50, 3), np.float32)
TALLY = Tally(2, LIGHT, LIGHT[..., 0])


def wrong(cases: Iterable[Case]) -> list[str]:
    return [f"{case.name}: {case.fault}" for case in cases if case.fault]


@pytest.mark.parametrize("writer", [*WRITERS, *CARDS], ids=lambda writer: writer.name)
def test_after_a_power_cut_a_users_file_is_the_old_or_the_new_one(
    writer: Writer, tmp_path: Path
) -> None:
    """Truth: POSIX promises what was synced, and neither content nor name before that."""
    assert cut(writer, tmp_path) == ""


def test_a_file_that_is_not_synced_would_be_found_out(tmp_path: Path) -> None:
    file = tmp_path / "a.png"
    with watched(file) as disk, in_place_of(file, lasting=False) as part:
        part.write_bytes(b"whole")
    assert b"" in set().union(*disk.moments)


def test_every_writer_stopped_at_every_call_and_in_every_part_of_its_file(tmp_path: Path) -> None:
    cases = list(refused(tmp_path / "refused"))
    assert len(cases) > 15 * len(WRITERS)
    assert wrong(cases) == []


def test_two_pages_that_save_one_scene(tmp_path: Path) -> None:
    assert wrong([saved_by_two(tmp_path / "pages", saves=25)]) == []


def test_drafts_of_dead_programs_go_with_doctor_and_no_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TENTHSTOP_CACHE", str(tmp_path))
    for folder in ("frames", "sitters", "kernels", "quiz", "somebody's"):
        (tmp_path / folder).mkdir()
    old = [
        tmp_path / "frames" / ".tenthstop-1-abc.npz",
        tmp_path / "frames" / "of-an-earlier-version.part",
        tmp_path / "sitters" / ".tenthstop-1-abc.npz",
        tmp_path / "quiz" / ".tenthstop-1-abc.json",
        tmp_path / "kernels" / "0f.llvm.v6.bin.77.tmp",
        tmp_path / ".tenthstop-1-abc.json",
    ]
    with in_place_of(tmp_path / "frames" / "live.npz", lasting=False) as live:
        kept = [live, tmp_path / "kernels" / "young.tmp", tmp_path / "sitters" / "sitter-1.npz"]
        kept += [tmp_path / "download.part", tmp_path / "somebody's" / "download.part"]
        for file in [*old, *kept]:
            file.write_bytes(b"half")
        for file in (*old, live, *kept[2:]):
            os.utime(file, (file.stat().st_mtime - 2 * QUIET_S,) * 2)
        FrameStore().clear()
        clear_drafts(tmp_path)
        assert [file for file in old if file.exists()] == []
        assert [file for file in kept if not file.exists()] == []
    assert (tmp_path / "frames" / "live.npz").exists()


def test_an_address_keeps_a_young_draft_and_loses_an_old_one(tmp_path: Path) -> None:
    pytest.importorskip("fsspec", reason="extra `cluster` is not installed")
    store = FrameStore(f"file://{tmp_path}")
    store.save("light", TALLY)
    for name, age_s in (("old.npz-1.part", 2 * QUIET_S), ("young.npz-2.part", 0.0)):
        (tmp_path / name).write_bytes(b"half")
        told = (tmp_path / name).stat()
        os.utime(tmp_path / name, (told.st_mtime - age_s,) * 2)
    assert [name for name, _ in store.entries()] == ["light"]
    assert store.clear() == 1
    assert [file.name for file in tmp_path.iterdir()] == ["young.npz-2.part"]


def test_a_broken_frame_does_not_keep_a_shorter_one_away(tmp_path: Path) -> None:
    """Truth: what cannot be read is worth nothing, however long its exposure was."""
    store = FrameStore(tmp_path)
    store.save("light", Tally(9, LIGHT, LIGHT[..., 0]))
    file = tmp_path / "light.npz"
    content = bytearray(file.read_bytes())
    content[content.find(LIGHT.tobytes()) + 5] ^= 1
    file.write_bytes(content)
    assert store.load("light", (50, 40)) is None
    store.save("light", TALLY)
    found = store.load("light", (50, 40))
    assert found is not None
    assert found.chunks == TALLY.chunks


@pytest.mark.parametrize("name", list(CACHES))
def test_a_cache_that_is_no_folder_is_one_sentence(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or it is one after all: then frames are kept in it."""
    cache = tmp_path / "cache"
    (cache / "frames").mkdir(parents=True)
    (cache / "kernels").mkdir()
    (cache / "engines.json").write_text(json.dumps({}))
    monkeypatch.setenv("TENTHSTOP_CACHE", str(CACHES[name](cache)))
    try:
        worker_environment(EngineChoice("llvm", "llvm_ad_rgb", None, ""))
        FrameStore().save("light", TALLY)
    except OutputError as problem:
        told = str(problem)
        assert "cannot be kept there" in told
        assert "\n" not in told
    else:
        assert FrameStore().load("light", (50, 40)) is not None


def test_pictures_too_large_for_memory_are_one_sentence(tmp_path: Path) -> None:
    """Truth: numpy says how much it could not have; the program is to end with code 2."""
    bench = Bench(tmp_path / "bench")
    COMBINE.lay(tmp_path)

    def small() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (SPACE_BYTES, SPACE_BYTES))

    ended = run(COMBINE.words, tmp_path, bench.cache, before=small)
    if "ImportError" in ended.said:
        pytest.skip("the libraries alone need more addresses here")
    lines = ended.said.strip().splitlines()
    assert (ended.code, len(lines)) == (2, 1)
    assert "memory" in lines[0]
    assert not (tmp_path / "made.png").exists()

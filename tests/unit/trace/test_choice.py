"""A bad compiler library costs a verdict, never the program."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from render.errors import EngineError
from render.trace import choice, choose_engine, engine_report


@pytest.fixture
def broken_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A file that calls itself LLVM 19 and is none, the only one on this machine."""
    file = tmp_path / "libLLVM.so.19.1"
    file.write_bytes(b"not a library")
    monkeypatch.setattr(choice, "llvm_libraries", lambda: [file])
    return file


def test_a_broken_library_is_refused_and_named(broken_library: Path, tmp_path: Path) -> None:
    with pytest.raises(EngineError, match="install LLVM 17 or newer") as refusal:
        choose_engine("llvm", tmp_path)
    assert str(broken_library) in str(refusal.value)


def test_without_a_library_the_plain_engine_is_left(broken_library: Path, tmp_path: Path) -> None:
    assert choose_engine("auto", tmp_path).name in ("cuda", "scalar")
    report = {verdict.choice.name: verdict.usable for verdict in engine_report(tmp_path)}
    assert report["llvm"] is False
    assert report["scalar"] is True


def test_a_verdict_is_remembered_until_the_library_changes(
    broken_library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trials: list[str] = []

    def trial(candidate: choice.EngineChoice, _: Path) -> tuple[bool, str]:
        trials.append(candidate.name)
        return True, "tried"

    monkeypatch.setattr(choice, "_trial", trial)
    choose_engine("llvm", tmp_path)
    choose_engine("llvm", tmp_path)
    assert trials == ["llvm"]
    broken_library.write_bytes(b"another version")
    os.utime(broken_library, ns=(1, 1))
    choose_engine("llvm", tmp_path)
    assert trials == ["llvm", "llvm"]


def test_one_bad_moment_is_no_verdict(
    broken_library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A trial that fails for want of memory is made again; one that always fails is believed."""
    fails, trials = [True], []

    def trial(*_: object) -> tuple[bool, str]:
        trials.append(1)
        return not fails[0], "tried"

    monkeypatch.setattr(choice, "_trial", trial)
    for _ in range(choice.FAILURES + 2):
        with pytest.raises(EngineError, match="tried"):
            choose_engine("llvm", tmp_path)
    assert len(trials) == choice.FAILURES
    fails[0] = False
    engine_report(tmp_path)  # as `doctor` asks, which tries again what was refused
    assert choose_engine("llvm", tmp_path).name == "llvm"


@pytest.mark.parametrize(
    "content",
    [
        "{ half a fi",
        "",
        "[]",
        '{"llvm": [true, "of an older version"]}',
        '{"llvm": {"usable": true, "of": "a newer one"}}',
        "[" * 100_000,
        "\x00" * 99,
    ],
)
def test_a_spoilt_memory_is_forgotten(
    tmp_path: Path, content: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(choice, "_trial", lambda *_: (True, "tried"))
    (tmp_path / "engines.json").write_text(content)
    assert choose_engine("scalar", tmp_path).variant == "scalar_rgb"
    assert json.loads((tmp_path / "engines.json").read_text())


def test_an_old_library_is_known_by_its_name() -> None:
    assert choice.llvm_version(Path("/usr/lib/llvm-14/lib/libLLVM.so")) == 14
    assert choice.llvm_version(Path("/opt/lib/libLLVM.so.23.1")) == 23
    assert choice.llvm_version(Path("/opt/lib/libLLVM-15.so.1")) == 15


def test_an_unknown_engine_names_the_known_ones(tmp_path: Path) -> None:
    with pytest.raises(EngineError, match="choose auto, cuda, llvm or scalar"):
        choose_engine("quick", tmp_path)


def test_the_parent_never_loads_the_tracer() -> None:
    """Truth: after using the whole public interface, mitsuba and drjit are not in memory."""
    program = (
        "import sys, render.trace as t\n"
        "with t.Engine() as e:\n"
        "    from tests.unit.trace.small import portrait\n"
        "    t.receptor_readings(portrait(), [[0, 1.2, 0.3]], [[0, 0, 1]], 'flat',\n"
        "                        engine=e, samples=16)\n"
        "sys.exit(any(m.split('.')[0] in ('mitsuba', 'drjit') for m in sys.modules))\n"
    )
    subprocess.run([sys.executable, "-c", program], check=True, timeout=120)

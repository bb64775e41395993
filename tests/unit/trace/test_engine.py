"""The worker may die; the job is done all the same, or a clear error says why not."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from render.errors import EngineError
from render.trace import Engine, receptor_readings
from render.trace.engine import REPEATS
from render.trace.stage import stage_of
from tests.resting import START, STOP
from tests.unit.trace.small import SIZE, portrait

pytestmark = pytest.mark.usefixtures("own_workers")
WHERE, FACING = [[0.0, 1.2, 0.3]], [[0.0, 0.0, 1.0]]


@pytest.fixture
def own_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Engines start and end their own processes, as they do outside the tests."""
    monkeypatch.setattr(Engine, "_start", START)
    monkeypatch.setattr(Engine, "_stop", STOP)


def kill_soon(engine: Engine, after_s: float) -> threading.Thread:
    """Kill the worker in the middle of what it does."""

    def kill() -> None:
        time.sleep(after_s)
        if engine.process_id is not None:
            os.kill(engine.process_id, signal.SIGKILL)

    thread = threading.Thread(target=kill)
    thread.start()
    return thread


def test_a_job_survives_the_death_of_its_worker() -> None:
    """Truth: the same seed gives the same reading, killed in between or not."""
    with Engine() as engine:
        quiet = receptor_readings(portrait(), WHERE, FACING, "flat", engine=engine)
        first = engine.process_id
        killer = kill_soon(engine, 0.02)
        again = receptor_readings(portrait(), WHERE, FACING, "flat", engine=engine, samples=1 << 24)
        killer.join()
        assert engine.process_id != first
        after = receptor_readings(portrait(), WHERE, FACING, "flat", engine=engine)
    np.testing.assert_array_equal(quiet.total, after.total)
    assert np.all(np.abs(again.total - quiet.total) < 4 * quiet.total_error)


def test_a_worker_that_always_dies_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    starts: list[int] = []

    def start_a_dying_one(self: Engine) -> None:
        self._log = None
        starts.append(1)
        self._process = subprocess.Popen(
            [sys.executable, "-c", "import os; os.abort()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )

    monkeypatch.setattr(Engine, "_start", start_a_dying_one)
    told = r"stopped 3 times: .*aborted, as may happen where memory runs out: a smaller picture"
    with Engine("scalar") as engine, pytest.raises(EngineError, match=told):
        engine.call("receptors", stage_of(portrait(), "plain"), {})
    assert len(starts) == 1 + REPEATS


def test_a_worker_starts_where_there_is_no_room_for_what_it_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Truth: `tempfile` raises FileNotFoundError where no folder takes a file (its manual)."""

    def none() -> None:
        raise FileNotFoundError(2, "No usable temporary directory found")

    monkeypatch.setattr(tempfile, "TemporaryFile", none)
    with Engine("scalar") as engine:
        assert engine.process_id is not None
        with pytest.raises(EngineError, match="KeyError"):
            engine.call("no such job", stage_of(portrait(), "plain"), {})


def test_a_refused_job_is_an_error_and_the_worker_lives(engine: Engine) -> None:
    stage = stage_of(portrait(), "plain")
    before = engine.process_id
    with pytest.raises(EngineError, match="KeyError"):
        engine.call("no such job", stage, {})
    assert engine.process_id == before


def test_leaving_the_block_ends_the_worker() -> None:
    with Engine("scalar") as engine:
        process = engine._process
        assert process is not None
        assert process.poll() is None
    assert process.poll() == 0


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGKILL])
def test_no_orphan_is_left(sent: signal.Signals) -> None:
    """Ctrl-C or the violent death of the parent: the worker goes too."""
    program = (
        "import signal, time, render.trace as t\n"
        # A shell's background jobs ignore the interrupt, and so would their children.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "with t.Engine('scalar') as e:\n"
        "    print(e.process_id, flush=True)\n"
        "    time.sleep(60)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    with parent:
        assert parent.stdout is not None
        worker = int(parent.stdout.readline())
        parent.send_signal(sent)
        parent.wait(20)
    assert gone(worker)


def gone(process: int) -> bool:
    """Wait until a process has ended (a dead one that nobody collects counts as ended)."""
    for _ in range(200):
        try:
            os.kill(process, 0)
            if Path(f"/proc/{process}/stat").read_text().split(") ")[1].startswith("Z"):
                return True
        except OSError:
            return True
        time.sleep(0.05)
    return False


def test_the_sitter_travels_once(engine: Engine, monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: a second job with the same sitter sends a few kilobytes, not the sitter."""
    sent: list[object] = []
    send = Engine._send
    monkeypatch.setattr(Engine, "_send", lambda self, m: (sent.append(m), send(self, m))[1])
    made = portrait()
    fronts = (replace(made.fronts[0], width_m=0.55), made.fronts[1])
    for layout in (made, replace(made, fronts=fronts)):
        receptor_readings(layout, WHERE, FACING, "flat", engine=engine, samples=16)
    assert sum(message is made.body for message in sent) <= 1
    assert len(sent) <= 3


def test_a_job_that_was_begun_is_finished_whatever_comes_between(engine: Engine) -> None:
    """Truth: the same bits as of a job that was waited for; so too if its worker dies meanwhile."""
    made = portrait()
    stage, told = stage_of(made, "real"), {"view": made.view, "size_px": SIZE, "samples": 4}
    one, other = (engine.call("chunk", stage, told | {"seed": seed}) for seed in (1, 2))
    engine.begin("chunk", stage, told | {"seed": 1})
    assert np.array_equal(engine.call("chunk", stage, told | {"seed": 2}), other)
    assert np.array_equal(engine.finish(), one)
    engine.begin("chunk", stage, told | {"seed": 1})
    os.kill(engine.process_id or 0, signal.SIGKILL)
    assert np.array_equal(engine.finish(), one)
    engine.begin("chunk", stage, told | {"seed": 1})
    engine.drop()
    assert np.array_equal(engine.call("chunk", stage, told | {"seed": 2}), other)


def test_a_job_that_was_begun_and_refused_is_an_error(engine: Engine) -> None:
    engine.begin("chunk", stage_of(portrait(), "real"), {"samples": 4})
    with pytest.raises(EngineError, match="refused a job"):
        engine.finish()

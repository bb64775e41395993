"""Workers of one machine: the same frames as one process makes, whoever dies on the way."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.errors import EngineError
from render.layout.placed import Layout
from render.trace import (
    Engine,
    FrameStore,
    LightFrame,
    Order,
    Progress,
    Readers,
    ReceptorReading,
    Task,
    chunks_missing,
    light_frames,
    many_frames,
    receptor_readings,
)
from render.trace.stage import Stage
from render.workers import LocalWorkers, local
from render.workers.line import Piece
from tests.unit.trace.small import portrait

SMALL = (32, 40)
Frames = dict[str, LightFrame]


@pytest.fixture(scope="module")
def crew() -> Iterator[LocalWorkers]:
    """Two workers with the engine that starts soonest."""
    with LocalWorkers(2, "scalar") as working:
        yield working


def moved(step_m: float) -> Layout:
    """The small portrait with its key moved up."""
    made = portrait()
    key, *others = made.fronts
    key = replace(key, centre_m=key.centre_m + [0.0, step_m, 0.0])
    return replace(made, fronts=(key, *others))


def same(a: Frames, b: Frames) -> bool:
    """Bit for bit, mean and variance and number of samples."""
    return list(a) == list(b) and all(
        np.array_equal(a[k].mean, b[k].mean)
        and np.array_equal(a[k].variance, b[k].variance)
        and a[k].samples == b[k].samples
        for k in a
    )


class Backwards:
    """A crew of one that does the last task first."""

    def __init__(self, engine: Engine) -> None:
        self.name, self._engine, self.hands = engine.name, engine, 1
        self._tasks: list[Task] = []

    @property
    def room(self) -> int:
        return 4 - len(self._tasks)

    def give(self, task: Task) -> None:
        self._tasks.append(task)

    def take(self) -> tuple[Task, Any]:
        task = self._tasks.pop()
        return task, self._engine.call(task.job, task.stage, task.arguments)

    def read(self, job: str, stage: Stage, chunks: Any) -> list[Any]:
        return self._engine.read(job, stage, chunks)

    def forget(self) -> None:
        self._tasks.clear()


def test_two_workers_make_what_one_process_makes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: a chunk hangs on its number alone and chunks are added in their order.

    With the best engine of this machine, one process with all its threads.
    """
    monkeypatch.setattr("render.trace.readings.PATHS_AT_ONCE", 5000)
    with Engine(threads=os.cpu_count()) as alone, LocalWorkers(2) as crew:
        one = light_frames(portrait(), 16, SMALL, FrameStore(tmp_path / "one"), alone)
        two = light_frames(portrait(), 16, SMALL, FrameStore(tmp_path / "two"), crew)
        engines = crew._engines
        read, again = (held(each, samples=4000) for each in (alone, crew))
    assert [each.process_id for each in engines] == [None, None]
    assert same(one, two)
    assert float(np.mean(one["key"].mean)) > 0
    assert alike(read, again)
    assert float(read.bounce.min()) > 0


def held(engine: Readers, samples: int) -> ReceptorReading:
    """Light on three receptors in front of the small portrait's paper."""
    places = [[x, 1.2, -1.0] for x in (-0.4, 0.0, 0.4)]
    axes = [[0.0, 0.0, -1.0]] * 3
    return receptor_readings(portrait(), places, axes, "flat", engine=engine, samples=samples)


def alike(a: ReceptorReading, b: ReceptorReading) -> bool:
    """Bit for bit, means and standard errors."""
    return all(np.array_equal(x, y) for x, y in zip(a, b, strict=True))


def test_a_worker_killed_while_readings_are_traced_loses_nothing(
    crew: LocalWorkers, alone: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: the chunk that it had is read again with its seed; sums are added in their order."""
    monkeypatch.setattr("render.trace.readings.PATHS_AT_ONCE", 300)
    killed: list[int] = []

    def dying(engine: Engine, piece: Piece) -> Any:
        if not killed:
            killed.append(engine.process_id or 0)
            os.kill(killed[0], signal.SIGKILL)
        return result_of(engine, piece)

    result_of = local._result
    monkeypatch.setattr(local, "_result", dying)
    told: list[int] = []
    monkeypatch.setattr(alone, "call", counted(alone, told))
    assert alike(held(crew, samples=500), held(alone, samples=500))
    assert len(told) == 5  # 3 readings of 500 paths, at most 300 paths at a time
    assert killed[0] not in crew.process_ids


def counted(engine: Engine, told: list[int]) -> Any:
    """The engine's call, which notes the samples of every job."""
    call = engine.call

    def noting(job: str, stage: Stage, arguments: Any) -> Any:
        told.append(arguments["samples"])
        return call(job, stage, arguments)

    return noting


def test_a_killed_worker_loses_nothing(tmp_path: Path, crew: LocalWorkers, alone: Engine) -> None:
    """Truth: its chunk is done again with the same seed."""
    killed: list[int] = []

    def kill_one(progress: Progress) -> None:
        if progress.done_chunks == 1:
            killed.append(crew.process_ids[0])
            os.kill(killed[0], signal.SIGKILL)

    store = FrameStore(tmp_path / "two")
    two = light_frames(moved(0.1), 32, SMALL, store, crew, progress=kill_one)
    one = light_frames(moved(0.1), 32, SMALL, FrameStore(tmp_path / "one"), alone)
    assert killed
    assert killed[0] not in crew.process_ids
    assert same(one, two)


def orders() -> list[Order]:
    """Three set-ups that share the fill; the last two differ in samples only."""
    low, high = Order(moved(0.1), 16, SMALL), Order(moved(0.2), 16, SMALL)
    return [low, high, Order(moved(0.2), 32, SMALL)]


def test_many_orders_share_frames_and_come_in_order(
    tmp_path: Path, crew: LocalWorkers, alone: Engine
) -> None:
    """Truth: key low, key high and one fill are three frames; one by one gives the same bits."""
    stores = {name: FrameStore(tmp_path / name) for name in ("one", "two")}
    need = chunks_missing(orders(), stores["two"], crew.name)
    assert sorted(need.values()) == [4, 5, 5]
    told: list[Progress] = []
    together = list(many_frames(iter(orders()), stores["two"], crew, told.append))
    by_one = [light_frames(o.layout, o.quality, o.size_px, stores["one"], alone) for o in orders()]
    assert all(same(a, b) for a, b in zip(together, by_one, strict=True))
    assert len(stores["two"].entries()) == 3
    # Key and fill of the first, the second's key alone, one chunk more of the second's both.
    assert len(told) == 4 + 4 + 1
    assert chunks_missing(orders(), stores["two"], crew.name) == {}


def test_a_stopped_run_keeps_chunks_that_came_out_of_turn(tmp_path: Path, alone: Engine) -> None:
    """Truth: four chunks, the last two done, are two still to do; the sum is that of one run."""
    store, order = FrameStore(tmp_path / "stopped"), Order(moved(0.3), 16, SMALL)
    backwards = Backwards(alone)

    def stop(progress: Progress) -> None:
        if progress.done_chunks == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        next(many_frames([order], store, backwards, stop))
    assert [store.chunks(name) for name, _ in store.entries()] == [0, 0]
    told: list[Progress] = []
    resumed = next(many_frames([order], store, alone, told.append))
    assert len(told) == 2
    at_once = next(many_frames([order], FrameStore(tmp_path / "once"), alone))
    assert same(resumed, at_once)


def test_a_refused_task_is_an_error_and_the_crew_lives(
    tmp_path: Path, crew: LocalWorkers, alone: Engine
) -> None:
    made = portrait()
    assert made.view is not None
    broken = replace(made, view=replace(made.view, f_number=0.0))
    with pytest.raises(EngineError, match="scalar engine refused a job"):
        light_frames(broken, 16, SMALL, FrameStore(tmp_path / "a"), crew)
    after = light_frames(made, 16, SMALL, FrameStore(tmp_path / "b"), crew)
    assert same(after, light_frames(made, 16, SMALL, FrameStore(tmp_path / "c"), alone))

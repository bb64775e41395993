"""Workers of a cluster: the same frames as one process makes, whoever dies on the way."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from render.errors import EngineError
from render.trace import Engine, FrameStore, Order, Progress, many_frames
from render.workers import ClusterWorkers
from render.workers.errand import traced
from tests.unit.workers.test_local import SMALL, alike, held, moved, same

distributed = pytest.importorskip("distributed", reason="extra `cluster` is not installed")


Workers = list[subprocess.Popen[bytes]]


@pytest.fixture(scope="module")
def cluster() -> Iterator[tuple[str, Workers]]:
    """The address of a scheduler, and two workers of one thread each that are started by hand."""
    with distributed.LocalCluster(n_workers=0, dashboard_address=None) as running:
        address = running.scheduler_address
        command = [sys.executable, "-m", "distributed.cli.dask_worker", address]
        command += ["--nthreads", "1", "--no-nanny", "--no-dashboard"]
        workers = [subprocess.Popen(command, stderr=subprocess.DEVNULL) for _ in range(2)]
        with distributed.Client(address, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
        yield address, workers
        for worker in workers:
            worker.kill()
            worker.wait()


def test_a_cluster_makes_what_one_process_makes_even_if_a_worker_is_killed(
    tmp_path: Path,
    cluster: tuple[str, Workers],
    alone: Engine,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Truth: a chunk hangs on its number alone; a lost one is done again by somebody else."""
    monkeypatch.setattr("render.trace.readings.PATHS_AT_ONCE", 300)
    orders = [Order(moved(0.1), 16, SMALL), Order(moved(0.2), 32, SMALL)]
    address, workers = cluster
    told: list[Progress] = []

    def kill_one(progress: Progress) -> None:
        told.append(progress)
        if progress.done_chunks == 2:
            workers[0].kill()

    with ClusterWorkers(address, "scalar") as crew:
        assert crew.hands == 2
        assert alike(held(crew, samples=500), held(alone, samples=500))
        many = list(many_frames(orders, FrameStore(tmp_path / "many"), crew, kill_one))
        # What is left reads on.
        assert alike(held(crew, samples=200), held(alone, samples=200))
    one = list(many_frames(orders, FrameStore(tmp_path / "one"), alone))
    # Key and fill of the first; of the second the key, and both once more.
    assert len(told) == 4 + 4 + 1
    assert all(same(a, b) for a, b in zip(many, one, strict=True))
    assert workers[0].wait(10) == -signal.SIGKILL


def test_another_version_is_refused() -> None:
    """Truth: chunks of different tracers do not belong to one frame."""
    with pytest.raises(EngineError, match="install the same tenthstop everywhere: tracer 0, model"):
        traced("chunk", None, {}, None, "scalar", ("0", 0))  # type: ignore[arg-type]


def test_nobody_at_the_address(monkeypatch: pytest.MonkeyPatch) -> None:
    """Truth: port 9 is that of a service which only swallows what it is sent (RFC 863)."""
    monkeypatch.setattr("render.workers.cluster.CONNECT_S", 0.5)
    with pytest.raises(EngineError, match='no scheduler answers at "tcp://127'):
        ClusterWorkers("tcp://127.0.0.1:9")
    with pytest.raises(EngineError, match="it is no address"):
        ClusterWorkers("the other room")

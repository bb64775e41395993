"""Workers of a cluster: the same frames as one process makes, whoever dies on the way."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from render.errors import EngineError
from render.trace import Engine, FrameStore, Order, Progress, many_frames
from render.workers import ClusterWorkers
from render.workers.errand import traced
from tests.unit.workers.test_local import SMALL, moved, same

distributed = pytest.importorskip("distributed", reason="extra `cluster` is not installed")


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    """A scheduler and two workers of one thread each, all on this machine."""
    with distributed.LocalCluster(
        processes=True, n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as running:
        yield running


def test_a_cluster_makes_the_frames_of_one_process_even_if_a_worker_is_killed(
    tmp_path: Path, cluster: Any
) -> None:
    """Truth: a chunk hangs on its number alone; a lost one is done again by somebody else."""
    orders = [Order(moved(0.1), 16, SMALL), Order(moved(0.2), 32, SMALL)]
    pids = [worker.pid for worker in cluster.workers.values()]
    told: list[Progress] = []

    def kill_one(progress: Progress) -> None:
        told.append(progress)
        if progress.done_chunks == 2:
            os.kill(pids[0], signal.SIGKILL)

    with ClusterWorkers(cluster.scheduler_address, "scalar") as crew:
        assert crew.hands == 2
        many = list(many_frames(orders, FrameStore(tmp_path / "many"), crew, kill_one))
    with Engine("scalar") as alone:
        one = list(many_frames(orders, FrameStore(tmp_path / "one"), alone))
    # Key and fill of the first; of the second the key, and both once more.
    assert len(told) == 4 + 4 + 1
    assert all(same(a, b) for a, b in zip(many, one, strict=True))
    assert pids[0] not in [worker.pid for worker in cluster.workers.values()]


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

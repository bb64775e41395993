"""Sitters that scenes of the tests seat have few hairs and small maps: quick to make and trace.

Engines share their workers; see `resting`.
"""

import os
import shutil
from collections.abc import Iterator
from functools import partial

import pytest

from render.layout import people
from render.sitter import build_body
from render.trace import Engine
from tests.people import MAP_WIDTH, STORE
from tests.resting import resting_workers

HAIRS = 8000  # of which draft and proof trace 0.4; radii make up for the rest
BODIES = "bodies"  # folder of the sitters that all processes of a run share


def pytest_sessionfinish(session: pytest.Session) -> None:
    """The process that started all others clears away the bodies, some 30 MB each."""
    if not hasattr(session.config, "workerinput"):
        folder = session.config._tmp_path_factory.getbasetemp() / BODIES
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session", autouse=True)
def _small_sitters() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        small = partial(build_body, strand_count=HAIRS, map_width=MAP_WIDTH)
        patch.setattr(people, "build_body", small)
        yield


@pytest.fixture(scope="session", autouse=True)
def _shared_bodies(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Bodies are made once a run: processes of pytest-xdist have one parent folder."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / BODIES
    folder.mkdir(exist_ok=True)
    STORE.append(folder)
    yield
    STORE.clear()


@pytest.fixture(scope="session", autouse=True)
def _resting_workers() -> Iterator[None]:
    with resting_workers():
        yield


@pytest.fixture(scope="module")
def engine() -> Iterator[Engine]:
    """The best engine of this machine; verdicts and kernels stay in the user's cache."""
    with Engine() as running:
        yield running

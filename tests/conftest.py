"""Sitters that scenes of the tests seat have few hairs and small maps: quick to make and trace.

Engines share their workers; see `resting`. Long files are begun first, so that no core waits for
another at the end.
"""

import os
import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path

# Linear algebra here is small: more threads than one only wait for each other, at full speed.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest

from render.layout import people
from render.sitter import build_body
from render.trace import Engine
from tests.people import MAP_WIDTH, STORE
from tests.resting import resting_workers

HAIRS = 8000  # of which draft and proof trace 0.4; radii make up for the rest
TESTS = Path(__file__).parent
LONGEST_FIRST = (  # files of some 10 s of CPU time and more
    "unit/sitter/test_hair.py",
    "agreement/test_bundled_scenes.py",
    "look/test_picture.py",
    "unit/sitter/test_own_mesh.py",
    "agreement/test_traced_rooms.py",
    "page/test_browser.py",
    "page/test_moving.py",
    "page/test_taking.py",
    "page/test_combining.py",
    "unit/sitter/test_sitter.py",
    "unit/quiz/test_quiz.py",
    "agreement/test_skin_light.py",
    "unit/sitter/test_face.py",
    "look/test_modifier_sheet.py",
    "unit/series/test_lessons.py",
    "unit/plan/test_calibrate.py",
    "unit/plan/checks/test_pattern.py",
    "unit/sitter/test_skin.py",
    "unit/sitter/test_wear.py",
    "unit/cli/test_own_mesh.py",
    "unit/plan/checks/test_lens.py",
    "agreement/test_hair_light.py",
    "unit/workers/test_local.py",
    "unit/report/test_modifiers.py",
    "unit/trace/test_engine.py",
    "unit/plan/test_contributors_traced.py",
    "unit/trace/test_choice.py",
    "unit/plan/test_in_frame.py",
    "look/test_gallery.py",
    "unit/card/test_printed.py",
)
BODIES = "bodies"  # folder of the sitters that all processes of a run share


def pytest_configure(config: pytest.Config) -> None:
    """pytest-xdist would begin the files with the most tests first, not the longest ones."""
    config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    last = len(LONGEST_FIRST)

    def place(item: pytest.Item) -> int:
        named = item.path.relative_to(TESTS).as_posix()
        return LONGEST_FIRST.index(named) if named in LONGEST_FIRST else last

    items.sort(key=place)


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

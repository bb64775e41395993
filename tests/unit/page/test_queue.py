"""The engine works for the newest set only; what nobody waits for is dropped between chunks."""

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

from render.errors import EngineError
from render.page import operations
from render.page.checking import Checking
from render.page.hand import Hand
from render.page.jobs import MOST_JOBS
from render.page.latest import Latest
from render.page.pictures import Pictures
from render.page.queue import Asked, Ears, Queue
from render.page.standing import Standing, stand
from render.plan.checks import Finding
from render.plan.checks.finding import Check, Context
from render.trace import FrameStore
from tests.unit.page.scenes import opened, session

SECONDS = 30.0  # far more than anything here takes


class Puppet:
    """Stands for an engine: each chunk is even light, traced when the test says so."""

    name = "llvm"

    def __init__(self) -> None:
        self.may_go, self.asked = threading.Semaphore(0), threading.Semaphore(0)
        self.chunks: list[tuple[tuple[str, ...], float, int]] = []
        self.left = False

    def __enter__(self) -> "Puppet":
        return self

    def __exit__(self, *_: object) -> None:
        self.left = True

    def abandon(self) -> None:
        self.left = True
        self.may_go.release()

    def call(self, job: str, stage: Any, arguments: dict[str, Any]) -> Any:
        if job != "chunk":
            raise EngineError("the puppet traces pictures only")
        height = float(stage.fronts[0].centre_m[2])
        lights = arguments.get("only", stage.emitting)
        self.chunks.append((lights, height, arguments["seed"]))
        self.asked.release()
        assert self.may_go.acquire(timeout=SECONDS)
        if self.left:
            raise EngineError("abandoned")
        width, height_px = arguments["size_px"]
        return np.full((len(lights), height_px, width, 3), 0.5, np.float32)


@pytest.fixture
def told() -> list[Any]:
    return []


def ears(told: list[Any]) -> Ears:
    def noted(kind: str) -> Callable[..., None]:
        return lambda *said: told.append((kind, *said))

    return Ears(noted("shown"), noted("bounced"), noted("grown"), noted("troubled"))


def traced_already(standing: Standing) -> Standing:
    return replace(standing, bounce=np.zeros_like(standing.direct), traced=True)


def test_older_work_ends_after_its_chunk(
    tmp_path: Path, told: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", 10)
    document, puppet = opened(tmp_path), Puppet()
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    first = traced_already(stand(document.checked(document.text)))
    moved = document.checked(document.edited({"light.key.distance_m": 1.1}))
    second = traced_already(stand(moved, first))
    queue = Queue(puppet, pictures, ears(told))  # type: ignore[arg-type]
    queue.show(Asked(1, first, pictures.wanted(first.layout)))
    queue.start()
    assert puppet.asked.acquire(timeout=SECONDS)
    queue.show(Asked(2, second, pictures.wanted(second.layout)))
    for _ in range(7):  # the one under way, then two coarse ones and the four of a draft
        puppet.may_go.release()
    assert queue.ask(lambda engine: engine is puppet)
    for _ in range(6):
        assert puppet.asked.acquire(timeout=SECONDS)
    while len([each for each in told if each[0] == "grown"]) < 7:
        threading.Event().wait(0.01)
    queue.end()
    # A coarse picture for the first set; a coarse one of the key, which has moved, then a less
    # coarse one of both, since that of the fill was never drawn.
    assert {lights for lights, _, _ in puppet.chunks} == {("key", "fill"), ("key",)}
    assert len(puppet.chunks) == 7
    assert puppet.chunks[0][1] != puppet.chunks[1][1]
    drawn = [list(each[1]) for each in told if each[0] == "grown"]
    assert drawn[:3] == [["key", "fill"], ["key"], ["key", "fill"]]
    assert puppet.left
    assert [each[1].number for each in told if each[0] == "shown"] == [2]


def test_a_chunk_under_way_keeps_no_first_picture_waiting(
    tmp_path: Path, told: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", 10)
    document, slow, quick = opened(tmp_path), Puppet(), Puppet()
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    first = traced_already(stand(document.checked(document.text)))
    moved = document.checked(document.edited({"light.key.distance_m": 1.1}))
    second = traced_already(stand(moved, first))
    queue = Queue(slow, pictures, ears(told), quick)  # type: ignore[arg-type]
    queue.show(Asked(1, first, pictures.wanted(first.layout)))
    queue.start()
    quick.may_go.release(100)
    assert slow.asked.acquire(timeout=SECONDS)  # its first chunk, which nobody lets go
    drawn = len(quick.chunks)
    queue.show(Asked(2, second, pictures.wanted(second.layout)))
    while len([each for each in told if each[0] == "grown"]) < 4:
        threading.Event().wait(0.01)
    assert len(slow.chunks) == 1
    assert len(quick.chunks) == drawn + 2
    assert quick.chunks[-1][1] == second.layout.fronts[0].centre_m[2]
    slow.may_go.release(100)
    while not slow.asked.acquire(blocking=False) or len(slow.chunks) < 5:
        threading.Event().wait(0.01)
    queue.end()
    assert quick.left
    assert [each[1].number for each in told if each[0] == "shown"] == [1, 2]
    # Each engine draws with what it was asked for: first pictures never come from the slow one.
    assert {height for _, height, _ in slow.chunks[1:]} == {second.layout.fronts[0].centre_m[2]}


def test_no_chunk_is_begun_while_a_thing_is_dragged(
    tmp_path: Path, told: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", 10)
    monkeypatch.setattr("render.page.hand.REST_S", 0.05)
    document, puppet, now = opened(tmp_path), Puppet(), [0.0]
    pictures, hand = Pictures(FrameStore(tmp_path / "frames"), "llvm"), Hand(lambda: now[0])
    standing = traced_already(stand(document.checked(document.text)))
    queue = Queue(puppet, pictures, ears(told), hand=hand)  # type: ignore[arg-type]
    queue.show(Asked(1, standing, pictures.wanted(standing.layout)))
    queue.start()
    for _ in range(2):  # coarse ones
        puppet.may_go.release()
    for _ in range(3):
        assert puppet.asked.acquire(timeout=SECONDS)
    hand.moves()
    puppet.may_go.release(10)  # the first of four of the draft; more may go
    assert not puppet.asked.acquire(timeout=0.2)
    assert queue.ask(lambda engine: engine is puppet)  # what is asked for is done meanwhile
    now[0] = 1.0  # the hand has left
    for _ in range(3):
        assert puppet.asked.acquire(timeout=SECONDS)
    queue.end()


def test_a_series_waits_while_a_thing_is_dragged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.page.hand.REST_S", 0.05)
    now, done = [0.0], []
    hand = Hand(lambda: now[0])
    hand.moves()
    queue = Queue(None, None, ears([]), hand=hand)
    queue.start()
    series = threading.Thread(target=queue.ask_patiently, args=(done.append, lambda: False))
    series.start()
    assert queue.ask(lambda _: 1) == 1
    series.join(0.15)
    assert not done
    now[0] = 1.0
    series.join(SECONDS)
    assert done == [None]
    queue.end()


def test_a_hand_that_leaves_between_two_looks_keeps_no_job_waiting() -> None:
    class Leaving(Hand):
        left: ClassVar[list[float]] = []

        @property
        def rest_s(self) -> float:
            return self.left.pop() if self.left else 0.0

    queue = Queue(None, None, ears([]), hand=Leaving())
    queue.start()
    assert queue.ask(lambda _: 1) == 1
    Leaving.left.append(0.01)
    since = time.monotonic()
    assert queue.ask_patiently(lambda _: 2, lambda: time.monotonic() - since > SECONDS) == 2
    queue.end()


def test_a_hand_rests_no_longer_than_it_may_and_not_once_it_let_go() -> None:
    now = [100.0]
    hand = Hand(lambda: now[0])
    assert hand.rest_s == 0
    hand.moves()
    assert hand.rest_s == pytest.approx(1.5)
    hand.lets_go()
    assert hand.rest_s == 0
    for k in range(400):  # a page that never stops trying: 40 s of it
        now[0] = 200 + 0.1 * k
        hand.moves()
        assert (hand.rest_s > 0) == (0.1 * k < 30)
    now[0] += 2.0
    hand.moves()
    assert hand.rest_s > 0


def test_checks_of_a_set_that_is_gone_are_cut_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = opened(tmp_path)
    standing, done = stand(document.checked(document.text)), list[int]()

    def check(k: int) -> Check:
        def run(_: Context) -> list[Finding]:
            done.append(k)
            return [Finding(f"{k}", "", "fine", 0, "", None, "")]

        return Check(f"thing {k}", run)

    monkeypatch.setattr("render.page.checking.CHECKS", tuple(check(k) for k in range(5)))
    checking = Checking()
    assert checking.findings(standing, lambda: len(done) == 3) is None
    assert done == [0, 1, 2]
    found = checking.findings(standing)
    assert found is not None
    assert [each.check for each in found] == ["0", "1", "2", "3", "4"]


def test_first_pictures_come_from_the_one_engine_where_the_other_fails(
    tmp_path: Path, told: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Broken(Puppet):
        def __enter__(self) -> "Puppet":
            raise EngineError("no second engine")

    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", 10)
    document, puppet = opened(tmp_path), Puppet()
    pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    standing = traced_already(stand(document.checked(document.text)))
    queue = Queue(puppet, pictures, ears(told), Broken())  # type: ignore[arg-type]
    queue.show(Asked(1, standing, pictures.wanted(standing.layout)))
    puppet.may_go.release(100)
    queue.start()
    while len([each for each in told if each[0] == "grown"]) < 6:
        threading.Event().wait(0.01)
    queue.end()
    assert ("troubled", "no second engine") in told


def test_jobs_come_between_chunks_and_end_with_the_page(tmp_path: Path, told: list[Any]) -> None:
    queue = Queue(None, None, ears(told))
    queue.start()
    assert queue.ask(lambda engine: engine) is None
    with pytest.raises(ZeroDivisionError):
        queue.ask(lambda _: 1 // 0)
    queue.end()
    with pytest.raises(EngineError, match="being closed"):
        queue.ask(lambda _: 1)


def test_jobs_that_nobody_does_are_not_heaped_up(told: list[Any]) -> None:
    queue = Queue(None, None, ears(told))  # never started
    waiting = [
        threading.Thread(target=queue.ask, args=(lambda _: None,), daemon=True)
        for _ in range(MOST_JOBS)
    ]
    for each in waiting:
        each.start()
    while len(queue.jobs.soon) < MOST_JOBS:
        threading.Event().wait(0.001)
    with pytest.raises(EngineError, match="too much"):
        queue.ask(lambda _: None)
    queue.start()
    for each in waiting:
        each.join(SECONDS)
    assert queue.ask(lambda _: 7) == 7
    queue.end()


def test_checks_are_done_for_the_newest_set_alone() -> None:
    begun, may_go, done = threading.Event(), threading.Semaphore(0), []

    def work(number: int) -> None:
        begun.set()
        assert may_go.acquire(timeout=SECONDS)
        done.append(number)
        if number == 4:
            raise ZeroDivisionError

    said: list[str] = []
    latest = Latest("test", work, said.append)
    latest.give(1)
    latest.start()
    assert begun.wait(SECONDS)
    for number in (2, 3, 4):
        latest.give(number)
    may_go.release(2)
    while len(said) < 1:
        threading.Event().wait(0.01)
    latest.end()
    assert done == [1, 4]
    assert "ZeroDivisionError" in said[0]


def test_what_is_late_is_not_taken(tmp_path: Path) -> None:
    held = session(tmp_path)
    finding = Finding(
        "frame", "light.key", "wrong", float("nan"), "cm", None, "It is in the frame."
    )
    held._found(held._number - 1, (finding,))
    assert held.now()["findings_ready"] is False
    held._found(held._number, (finding,))
    told = held.now()["findings"]
    assert [(each["severity"], each["what"], each["value"]) for each in told] == [
        ("wrong", "It is in the frame.", None)
    ]


def test_bounce_is_kept_as_an_estimate_and_taken_for_its_own_geometry(tmp_path: Path) -> None:
    held = session(tmp_path)
    first = held.standing
    traced = replace(first, bounce=np.ones_like(first.direct), traced=True)
    operations.change(held, 1, {"light.key.power": "1/8"})  # the same geometry
    held._bounced(traced)
    assert held.now()["bounce"] == "traced"
    after = operations.change(held, 2, {"light.key.distance_m": 1.0})
    direct = held.standing.direct[0, 0]
    assert after["points"][0]["alone"][0] == pytest.approx(direct + 1, rel=1e-5)
    assert held.standing.traced is False
    held._bounced(traced)  # of the place where the key was
    assert held.standing.traced is False

"""A series asked for on the page is one sheet, traced when the page has nothing else to trace."""

import io
import math
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from render.errors import EngineError, OutputError, TenthstopError
from render.page.events import Hub
from render.page.making import make_apart
from render.page.pictures import Pictures, _enlarged
from render.page.queue import Ears, Queue
from render.page.serial import Wished, wished
from render.page.session import Session
from render.trace import Engine, FrameStore
from tests.unit.page.scenes import client, opened, session

SECONDS = 30.0  # far more than anything here takes
TABLES: dict[str, Any] = {"light": {"key": {"distance_m": 1.0}}}
ASKED = {"key": "light.key.distance_m", "values": [0.8, 1.6], "rebalance": False}


def until(truth: Callable[[], bool]) -> None:
    end = time.monotonic() + SECONDS
    while not truth():
        assert time.monotonic() < end
        time.sleep(0.01)


def ears() -> Ears:
    return Ears(*[lambda *_: None] * 4)


@pytest.mark.parametrize(
    ("key", "values", "said"),
    [
        ("light.key.place", [1, 2], "light.key.power"),
        ("light.rim.distance_m", [1, 2], "a key of this scene"),
        (7, [1, 2], "a key of this scene"),
        ("light.key.distance_m", [1], "2 to 5 values"),
        ("light.key.distance_m", [1, 2, 3, 4, 5, 6], "2 to 5 values"),
        ("light.key.distance_m", "1, 2", "2 to 5 values"),
        ("light.key.distance_m", [1, 2, 1], "found 1 twice"),
    ],
)
def test_what_cannot_be_a_series_is_one_sentence(key: object, values: object, said: str) -> None:
    with pytest.raises(OutputError, match=said):
        wished(Wished(key, values), TABLES)


def test_lengths_of_a_caption_are_in_feet_where_the_page_shows_feet() -> None:
    # 0.8 m = 31.5 in, 1.6 m = 63.0 in (1 in = 25.4 mm).
    said = wished(Wished("light.key.distance_m", [0.8, 1.61], feet=True), TABLES)
    assert [said.change(each) for each in said.values] == [
        "key distance 2′ 7″",
        "key distance 5′ 3″",
    ]
    turned = wished(Wished("light.key.azimuth_deg", [-20, 20], feet=True), TABLES)
    assert turned.change(turned.values[0]) == "key azimuth -20°"
    # No length: it is said as it came, and refused where it is read.
    wished(Wished("light.key.distance_m", [math.nan, math.inf, 10**400], feet=True), TABLES)


def test_a_series_needs_an_engine_a_camera_and_values_that_can_stand(tmp_path: Path) -> None:
    held = session(tmp_path)
    browser = client(held)
    without = browser.post("/api/export/series", json={"version": 1, **ASKED})
    assert (without.status_code, list(without.json())) == (503, ["error"])
    held._pictures = Pictures(FrameStore(tmp_path / "frames"), "llvm")
    far = browser.post("/api/export/series", json={"version": 1, **ASKED, "values": [1, 2000]})
    assert far.status_code == 422
    assert "cell 2 (key distance 2000 m)" in far.json()["error"]
    file = {"version": 1, "key": "kit", "values": ["/etc/hosts", "other.toml"]}
    assert "name files" in browser.post("/api/export/series", json=file).json()["error"]
    assert browser.post("/api/export/series", json={"version": 7, **ASKED}).status_code == 409
    with held.sheets.lock:
        busy = browser.post("/api/export/series", json={"version": 1, **ASKED})
    assert (busy.status_code, "already" in busy.json()["error"]) == (503, True)


def test_the_sheet_holds_every_picture_and_takes_the_pages_own_light(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second sheet differs in exposure alone, so that it asks for no new light."""
    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", 40)
    store = FrameStore(tmp_path / "frames")
    held = Session(opened(tmp_path), Hub(), None, Pictures(store, engine.name))
    chunks: list[str] = []

    class Counted:
        """The engine of the tests, which goes on after this one."""

        name = engine.name

        def __enter__(self) -> "Counted":
            return self

        def __exit__(self, *_: object) -> None: ...
        def abandon(self) -> None: ...

        def call(self, job: str, stage: Any, arguments: Any) -> Any:
            chunks.append(job)
            return engine.call(job, stage, arguments)

        def read(self, job: str, stage: Any, all_of_them: Any) -> Any:
            return engine.read(job, stage, all_of_them)

    told: list[str] = []
    monkeypatch.setattr(held.hub, "tell", lambda name, words: told.append(f"{name}: {words}"))
    held.queue._engine = Counted()  # type: ignore[assignment]
    held.queue.start()
    until(lambda: not held._pictures.missing(held._wanted))
    own = chunks.count("chunk")
    browser = client(held)
    made = browser.post("/api/export/series", json={"version": 1, **ASKED})
    assert made.headers["content-type"] == "image/png"
    assert "stool-key-distance.png" in made.headers["content-disposition"]
    sheet = Image.open(io.BytesIO(made.content))
    assert sheet.width > 2 * 32  # two pictures of 32 x 40 side by side
    assert chunks.count("chunk") == own + 4  # of 16 samples, by four, of the farther place alone
    assert any("4 of 4" in each for each in told)
    again = browser.post("/api/export/series", json={"version": 1, **ASKED, "rebalance": True})
    assert again.status_code == 200
    assert chunks.count("chunk") == own + 4
    held.queue.end()


def test_patient_jobs_wait_for_the_others_and_can_be_given_up() -> None:
    queue, stop, done = Queue(None, None, ears()), threading.Event(), []
    waiting = [
        threading.Thread(target=queue.ask_patiently, args=(lambda _: done.append(2), bool)),
        threading.Thread(target=queue.ask, args=(lambda _: done.append(1),)),
    ]
    for each in waiting:
        each.start()
    while not (queue.jobs.soon and queue.jobs.patient):
        threading.Event().wait(0.001)
    threading.Timer(0.05, stop.set).start()
    with pytest.raises(EngineError, match="given up"):
        queue.ask_patiently(lambda _: done.append(3), stop.is_set)
    queue.start()
    for each in waiting:
        each.join(SECONDS)
    assert done == [1, 2]
    queue.end()
    with pytest.raises(EngineError, match="being closed"):
        queue.ask_patiently(lambda _: 1, bool)


def test_a_sitter_nobody_waits_for_is_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    sleeper = ["sleep", "100"]
    monkeypatch.setattr("render.page.making.COMMAND", sleeper)
    make_apart({}, lambda: True)  # type: ignore[arg-type]
    monkeypatch.setattr("render.page.making.COMMAND", ["sh", "-c", "echo a reason >&2; exit 1"])
    with pytest.raises(TenthstopError, match="a reason"):
        make_apart({}, bool)  # type: ignore[arg-type]


def test_a_coarse_picture_is_spread_without_steps_and_without_ringing() -> None:
    """Straight lines between the middles of pixels: a ramp stays one, nothing leaves its range."""
    ramp = np.arange(8, dtype=np.float32)[None, :, None].repeat(6, 0).repeat(3, 2)
    large = _enlarged(ramp, (32, 24))
    assert large.shape == (24, 32, 3)
    # A pixel of the large one lies at (k + 1/2) / 4 - 1/2 of the small one's.
    truth = np.clip((np.arange(32) + 0.5) / 4 - 0.5, 0, 7)
    assert np.abs(large[5, :, 1] - truth).max() < 1e-5
    spike = np.zeros((5, 4, 3), np.float32)
    spike[2, 2] = 9.0
    large = _enlarged(spike, (17, 21))
    assert large.shape == (21, 17, 3)
    assert large.min() >= 0.0
    assert large.max() <= 9.0

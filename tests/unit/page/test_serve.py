"""The page is served on this machine alone, and Ctrl-C leaves nothing behind."""

import asyncio
import os
import signal
import subprocess
import sys
from pathlib import Path

import httpx2
import pytest

from render.errors import OutputError
from render.page.events import MOST_WAITING, Hub
from render.page.guard import Door
from render.page.serve import Opened, is_here, open_page
from tests.unit.page.scenes import written

SECONDS = 60.0  # far more than a start takes


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "example.org", "", "127.0.0.1:80"])
def test_only_one_address_of_this_machine_is_served(tmp_path: Path, host: str) -> None:
    asked = Opened(str(written(tmp_path)), address=host, browser=False)
    with pytest.raises(OutputError, match="--host"):
        open_page(asked, lambda _: pytest.fail("it was served"))


def test_the_address_in_a_network_is_its_own() -> None:
    # 192.0.2.0/24 is kept for documentation: RFC 5737.
    door = Door("192.0.2.7", 8000)
    assert door.hosts == ("192.0.2.7:8000",)
    assert not is_here(door.address)
    assert is_here("127.0.0.1")
    assert is_here("::1")
    assert Door("::1", 8000).url.startswith("http://[::1]:8000/?token=")


def test_a_tab_is_told_in_order_and_a_slow_one_loses_the_oldest() -> None:
    async def told() -> list[str]:
        hub, ended = Hub(), False
        lines = hub.listen(lambda: ended)
        found = [await anext(lines)]
        for number in range(MOST_WAITING + 5):
            hub.tell("set", number)
        await asyncio.sleep(0)
        found += [await anext(lines), await anext(lines)]
        await lines.aclose()  # type: ignore[attr-defined]
        assert not hub._tabs
        hub.tell("set", 0)  # nobody is there
        return found

    assert asyncio.run(told()) == [
        ": here\n\n",
        "event: set\ndata: 5\n\n",
        "event: set\ndata: 6\n\n",
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there, Ctrl-C is no signal to one process")
def test_ctrl_c_ends_page_streams_and_engine(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "render", "open", str(written(tmp_path)), "--no-browser"]
    page = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    try:
        assert page.stdout is not None
        url = next(line.strip() for line in page.stdout if line.startswith("http"))
        assert url.startswith("http://127.0.0.1:")
        with httpx2.Client(follow_redirects=True, timeout=SECONDS) as browser:
            assert browser.get(url).status_code == 200
            base = url.split("/?")[0]
            assert browser.get(f"{base}/api/set").json()["file"] == "stool.toml"
            with browser.stream("GET", f"{base}/api/events") as events:
                assert next(events.iter_lines()) == ": here"
                os.kill(page.pid, signal.SIGINT)
                assert page.wait(SECONDS) == 0
        assert "Traceback" not in (page.stderr.read() if page.stderr else "")
        with pytest.raises(ProcessLookupError):
            os.killpg(page.pid, 0)  # nobody of its group is left: the engine's worker has gone
    finally:
        page.kill()
        page.communicate()

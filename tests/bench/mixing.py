"""Time of a re-balance in the browser, one light turned: `python -m tests.bench.mixing`.

The mix alone, on a plain canvas and by WebGL2 (imitated by the processor where there is no graphics
card), and a whole refresh of the page: picture, readings, wishes, rows of five lights.
"""

import json
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Page, Route, sync_playwright

from render.folders import data_folder
from render.page.app import STATIC
from render.page.document import open_document
from render.page.events import Hub
from render.page.session import Session

PAGE = "http://page.invalid/"  # never asked: every request is answered here
TURNS, LIGHTS = 31, 5
SIZES = ((480, 600), (960, 1200))
IMITATED = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader")
SCENE = "workshop-three-lights.toml"
TWO_MORE = """
[light.fill]
flash = "monobloc-200"
modifier = "softbox-60x90"
power = "1/16"
azimuth_deg = -30
elevation_deg = 10
distance_m = 1.6

[light.rim]
flash = "monobloc-200"
modifier = "strip-25x110"
power = "1/8"
azimuth_deg = 140
elevation_deg = 10
distance_m = 1.1
"""
TURN = """async ([how, width, height, lights, turns]) => {
  const { lookOn } = await import("/static/mix.js");
  const look = lookOn(document.createElement("canvas"), how);
  const halves = () => new Uint16Array(3 * width * height).fill(0x2c00);  // 1/16
  const parts = Array.from({ length: lights }, (_, i) => (
    { name: `${i}`, frame: { width, height, halves: halves() }, gain: [0.3, 0.3, 0.3] }));
  look.show(parts);
  const times = [];
  for (let turn = 0; turn < turns; turn += 1) {
    parts[2] = { ...parts[2], gain: [turn / turns, 0.2, 0.3] };
    const start = performance.now();
    look.show(parts);
    if (look.way === "webgl2") look.codes(0, 0);  // waits until it is drawn
    times.push(performance.now() - start);
  }
  times.sort((one, other) => one - other);
  return { way: look.way, least_ms: times[0], median_ms: times[turns >> 1] };
}"""
# From the first to the last that the page does in a screen refresh after a dial was turned.
REFRESH = """async (turns) => {
  const refresh = () => new Promise((done) =>
    requestAnimationFrame(() => done(performance.now())));
  const dial = document.querySelectorAll("#rows input[type=range]")[2];
  const times = [];
  for (let turn = 0; turn < turns; turn += 1) {
    await refresh();
    const start = refresh();
    dial.value = -1 - (turn % 10) / 10;
    dial.dispatchEvent(new Event("input"));
    const end = refresh();
    const took = -(await start) + (await end);
    if (took > 1) times.push(took);  // else it was drawn before, with an answer of the server
  }
  times.sort((one, other) => one - other);
  return { way: tenthstop.picture.way, least_ms: times[0], median_ms: times[times.length >> 1] };
}"""


def answered(route: Route) -> None:
    """Files of the page from the source tree, and an empty page."""
    name = route.request.url.rsplit("/", 1)[-1]
    if name:
        route.fulfill(path=STATIC / name, content_type="text/javascript")
    else:
        route.fulfill(body="<!doctype html><title>bench</title>", content_type="text/html")


def five_lights() -> dict[str, Any]:
    """The set of a scene with five lights as the page gets it, its frames said to be ready."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / SCENE
        text = (data_folder("scenes") / SCENE).read_text(encoding="utf-8")
        file.write_text(text.replace("\n[wanted]", f"{TWO_MORE}\n[wanted]"), encoding="utf-8")
        found = Session(open_document(file, None), Hub()).now()
    for light in found["lights"]:
        light["frame"] = {"digest": light["name"], "ready": True, "samples": 16, "of": 16}
    return found


def whole_page(page: Page, size: tuple[int, int], found: dict[str, Any]) -> dict[str, Any]:
    """Time of a refresh of the page, its server played by this function."""
    frame = np.full((size[1], size[0], 3), 1 / 16, "<f2").tobytes()
    headers = {"X-Width": str(size[0]), "X-Height": str(size[1])}
    types = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}

    def served(route: Route) -> None:
        path = route.request.url.removeprefix(PAGE).split("?")[0]
        name = STATIC / (path.removeprefix("static/") or "index.html")
        if path.startswith("api/frame/"):
            kind = "application/octet-stream"
            route.fulfill(body=frame, headers=headers, content_type=kind)
        elif path.startswith("api/events"):
            route.fulfill(body=": quiet\n\n", content_type="text/event-stream")
        elif path.startswith("api/"):
            route.fulfill(json=found)
        else:
            route.fulfill(path=name, content_type=types.get(name.suffix, "text/html"))

    page.unroute_all()
    page.route("**/*", served)
    page.goto(PAGE)
    page.wait_for_function(
        "window.tenthstop?.set.current() && tracing.textContent === '' && look.width > 400"
    )
    return dict(page.evaluate(REFRESH, TURNS))


def main(*arguments: str) -> None:
    """Print all times as JSON."""
    rows: list[dict[str, Any]] = []
    found = five_lights()
    with sync_playwright() as playing:
        browser = playing.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", *IMITATED, *arguments]
        )
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        for size in SIZES:
            page.unroute_all()
            page.route("**/*", answered)
            page.goto(PAGE)
            told = {"width": size[0], "height": size[1], "lights": LIGHTS}
            for how in ("plain", "gl"):
                rows.append(
                    told | {"what": "mix"} | page.evaluate(TURN, [how, *size, LIGHTS, TURNS])
                )
            rows.append(told | {"what": "whole refresh"} | whole_page(page, size, found))
        browser.close()
    print(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main(*sys.argv[1:])

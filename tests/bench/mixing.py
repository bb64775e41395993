"""Time of a re-balance in the browser, one light turned: `python -m tests.bench.mixing`."""

import json
import shutil
import sys
from typing import Any

from playwright.sync_api import Route, sync_playwright

from render.page.app import STATIC

PAGE = "http://page.invalid/"  # never asked: every request is answered here
TURNS, LIGHTS = 31, 5
SIZES = ((480, 600), (960, 1200))
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


def answered(route: Route) -> None:
    """Files of the page from the source tree, and an empty page."""
    name = route.request.url.rsplit("/", 1)[-1]
    if name:
        route.fulfill(path=STATIC / name, content_type="text/javascript")
    else:
        route.fulfill(body="<!doctype html><title>bench</title>", content_type="text/html")


def main(*arguments: str) -> None:
    rows: list[dict[str, Any]] = []
    with sync_playwright() as playing:
        browser = playing.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", *arguments]
        )
        page = browser.new_page()
        page.route("**/*", answered)
        page.goto(PAGE)
        for width, height in SIZES:
            for how in ("plain", ""):
                found = page.evaluate(TURN, [how, width, height, LIGHTS, TURNS])
                rows.append({"width": width, "height": height, "lights": LIGHTS, **found})
        browser.close()
    print(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main(*sys.argv[1:])

"""One process that renders a scene twice: layer by layer, and with the stock path integrator."""

from __future__ import annotations

import json
import sys
import time

import mitsuba as mi
import numpy as np

from render.layout import place
from render.scenefile import load_scene

SIZE_PX, SAMPLES, REPEATS = (480, 600), 16, 5
PARTS = {"face": np.s_[180:340, 180:310], "backdrop": np.s_[20:80, 20:460]}


def main() -> None:
    """Alternate both, take the best of each, print their samples per second and variances."""
    mi.set_variant(sys.argv[1])
    from render.trace import jobs
    from render.trace.camera import sensor
    from render.trace.fronts import shaped_emission
    from render.trace.nodes import scene_nodes
    from render.trace.stage import stage_of

    layout = place(load_scene(sys.argv[2]))
    assert layout.view is not None
    stage = stage_of(layout, "real")
    film = sensor(layout.view, SIZE_PX, SAMPLES)
    nodes = scene_nodes(stage, shaped_emission)
    nodes["integrator"] = {"type": "path", "max_depth": stage.max_depth, "rr_depth": 5}
    scene = mi.load_dict(nodes, optimize=False)

    def ours(seed: int) -> np.ndarray:
        return jobs.chunk(stage, "bench", layout.view, SIZE_PX, SAMPLES, seed).sum(0)

    def bare(seed: int) -> np.ndarray:
        return np.array(mi.render(scene, sensor=film, spp=SAMPLES, seed=seed))[..., :3]

    found: dict[str, float] = {}
    times: dict[str, list[float]] = {"layered": [], "bare": []}
    pictures: dict[str, list[np.ndarray]] = {"layered": [], "bare": []}
    for seed in range(REPEATS + 1):
        for name, work in (("layered", ours), ("bare", bare)):
            start = time.perf_counter()
            picture = work(seed)
            if seed:  # the first of each compiles
                times[name].append(time.perf_counter() - start)
                pictures[name].append(picture)
    samples = SIZE_PX[0] * SIZE_PX[1] * SAMPLES
    for name, each in times.items():
        found[f"{name}_samples_per_s"] = samples / min(each)
    found["layered_to_bare_speed"] = min(times["bare"]) / min(times["layered"])
    # Median over the pixels, so that single bright samples do not decide.
    for part, pixels in PARTS.items():
        spread = {
            name: np.median(np.var([picture[pixels] for picture in each], axis=0, ddof=1))
            for name, each in pictures.items()
        }
        found[f"bare_to_layered_variance_{part}"] = float(spread["bare"] / spread["layered"])
    print(json.dumps(found))


if __name__ == "__main__":
    main()

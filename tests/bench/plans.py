"""What `balance` takes for 12 wishes and 4 lights, with an engine that runs already.

`python -m tests.bench.plans` prints JSON; CPU times of this process and the tracer's.
"""

from __future__ import annotations

import json

from render.plan.balance.balance import balance
from render.plan.changes.settings import Setting, changed
from render.report.readings import BOUNCE_SAMPLES
from render.scenefile import Setup, load_scene
from render.trace import Engine
from tests.bench.clock import least_s

SCENE = "workshop-three-lights"
REPEATS = 5
FILL = {
    "flash": "monobloc-200",
    "modifier": "softbox-90x120",
    "power": "1/16",
    "azimuth_deg": -35,
    "elevation_deg": 10,
    "distance_m": 1.5,
}
# Name, point, light, stops from the first wish, how far off; common practice, no source.
WISHES = (
    ("shadow", "shadow_cheek", "all", -1.2, 0.3),
    ("forehead", "forehead", "all", 0.0, 0.5),
    ("chin", "chin", "all", -0.2, 0.5),
    ("collar", "collar", "all", -0.3, 0.7),
    ("key", "key_cheek", "key", -0.2, 0.5),
    ("fill", "shadow_cheek", "fill", -2.0, 0.5),
    ("shoulder", "shoulder_camera_left", "hair", -1.0, 1.5),
    ("paper_left", "backdrop_top_left", "all", -1.0, 2.0),
    ("paper_right", "backdrop_top_right", "all", -1.5, 2.0),
)


def twelve_wishes() -> Setup:
    """The bundled three lights with a fill, and nine wishes beside its three."""
    wishes = [
        Setting(
            f"wanted.{name}",
            {"point": point, "light": light, "stops": stops, "range_stops": [-play, play]},
        )
        for name, point, light, stops, play in WISHES
    ]
    return changed(load_scene(SCENE), [Setting("light.fill", FILL), *wishes])


def plans() -> dict[str, float]:
    """CPU times [s], the least of some: as the command does it, with other samples, without."""
    setup = twelve_wishes()
    assert (len(setup.scene.wanted), len(setup.scene.light)) == (12, 4)
    with Engine("llvm") as engine:
        first = least_s(lambda: balance(setup, engine=engine, cures=False), 1)
        return {
            "balance_12_wishes_4_lights_first_s": first,
            "balance_12_wishes_4_lights_s": least_s(
                lambda: balance(setup, engine=engine, cures=False), REPEATS
            ),
            "balance_samples_of_meter_s": least_s(
                lambda: balance(setup, engine=engine, cures=False, samples=BOUNCE_SAMPLES), REPEATS
            ),
            "balance_direct_s": least_s(lambda: balance(setup, bounce=False, cures=False), REPEATS),
        }


if __name__ == "__main__":
    print(json.dumps(plans()))

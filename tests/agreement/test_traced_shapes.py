"""Traced light of every kind of front against brute force, a handbook formula, and itself."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.emission import Ball, Cap, Disk, Lobe
from render.layout.placed import View
from render.predict import Obstacles, direct_exposure
from render.trace import Engine, Spot, receptor_readings, spots
from render.trace.choice import choose_engine, worker_environment
from render.trace.receptors import held
from render.trace.stage import stage_of
from tests.agreement.shape_light import lights
from tests.agreement.test_traced_fronts import agrees
from tests.modifiers import FRONTS, square
from tests.sets import layout, sheet

ROOT = Path(__file__).resolve().parents[2]
STOP = np.log(2.0)
# On and off the axis, near and far, the last behind the front.
PLACES = np.array(
    [[0, 0, 1.5], [0.5, 0.2, 1.2], [-0.4, 0.6, 0.7], [0.2, -0.3, 3.5], [0.5, 0.9, -1.2]]
)
AXES = np.array([[0, 0, -1], [-0.3, 0.1, -0.9], [0.2, -0.5, -0.8], [0, 0.8, -0.6], [-0.3, -0.5, 1]])
AXES = AXES / np.linalg.norm(AXES, axis=1, keepdims=True)


@pytest.mark.parametrize("kind", FRONTS)
def test_light_of_any_front_is_its_integral(kind: str, engine: Engine) -> None:
    """Truth: brute force over small elements (module shape_light), good to 0.003 stop."""
    truth = lights(FRONTS[kind], PLACES, AXES)
    found = receptor_readings(
        layout(FRONTS[kind]), PLACES, AXES, "flat", engine=engine, samples=1 << 17
    )
    lit = truth > truth.max() / 1000
    assert np.all(found.total[~lit, 0] < truth.max() / 500)
    own = np.hypot(found.total_error[lit, 0], 0.001 * truth[lit])  # of truth and of facets
    agrees(found.total[lit, 0], own, truth[lit], 0.1)
    assert np.all(np.abs(np.log2(found.total[lit, 0] / truth[lit])) < 0.02)
    assert not found.bounce.any()  # nothing is there to bounce from
    made = layout(replace(FRONTS[kind], luminous_energy_lm_s=1.0))
    predicted = direct_exposure(made, PLACES, AXES, "flat", obstacles=Obstacles.of(made))
    assert np.all(np.abs(np.log2(predicted.luminous_exposure_lx_s[lit, 0] / truth[lit])) < 0.01)


def around(count: int, radius: float) -> Any:
    """Evenly spread places on a sphere (golden angle)."""
    height = 1 - 2 * (np.arange(count) + 0.5) / count
    turn = np.pi * (1 + 5**0.5) * np.arange(count)
    rim = np.sqrt(1 - height**2)
    return radius * np.stack([rim * np.cos(turn), rim * np.sin(turn), height], -1)


def tube(radius: float, length: float) -> float:
    """Light of one end of a black tube that leaves it at the other: coaxial parallel disks.

    F = (X - √(X² - 4)) / 2, X = 2 + (length / radius)²; any handbook of radiation (configuration
    factor C-41 in Howell's catalogue).
    """
    x = 2 + (length / radius) ** 2
    return float((x - np.sqrt(x * x - 4)) / 2)


# What leaves of one lumen second at the cloth; a head takes what falls on it.
LEAVING = {
    "octa": 1.0,
    "round box": 1.0,
    "measured": 1.0,
    "silver umbrella": 1.0,
    "thin umbrella": 1.0,
    "bare ball": 1.0,
    "bare shoot-through": 1.0,
    "lobe": 1.0,
    "tube": tube(0.035, 0.15),
}
BARE = {
    "bare ball": square(0.5, shape=Ball()),
    "bare shoot-through": square(1.0, shape=Cap(0.18, False, 0.4)),
    "lobe": square(0.18, shape=Disk(), beam=Lobe(50)),
    "tube": square(0.07, shape=Disk(), recess_m=0.15),
}


@pytest.mark.parametrize("kind", LEAVING)
def test_all_light_of_a_front_passes_a_sphere_around_it(kind: str, engine: Engine) -> None:
    """Truth: one lumen second, or what a handbook lets leave a tube."""
    places, radius = around(3000, 3.0), 3.0
    reading = receptor_readings(
        layout((FRONTS | BARE)[kind]), places, -places / radius, "flat", engine=engine, samples=512
    )
    area = 4 * np.pi * radius**2
    error = area * np.sqrt((reading.total_error**2).sum()) / len(places)
    truth = LEAVING[kind]
    agrees(area * reading.total.mean(), error + 0.0005 * truth, truth, 0.02)


def test_a_shallow_cloth_sends_its_share_backwards(engine: Engine) -> None:
    """Truth: 0.4 of the light, by definition, while the bowl is nearly flat."""
    places = around(3000, 3.0)
    for hollow, ahead in ((False, 1.0), (True, 1.0)):
        made = square(0.6, shape=Cap(0.005, hollow, 0.4))
        reading = receptor_readings(
            layout(made), places, -places / 3, "flat", engine=engine, samples=512
        )
        behind = ahead * places[:, 2] < 0
        area = 4 * np.pi * 9
        error = area * np.sqrt((reading.total_error[behind] ** 2).sum()) / len(places)
        agrees(area * reading.total[behind].sum() / len(places), error + 0.002, 0.4, 0.05)


def test_either_way_to_draw_rays_finds_the_same(engine: Engine, tmp_path: Path) -> None:
    """Truth: the same integral by points on the front and by directions from the receptor; the
    chance to be drawn adds up to one where all of a front is seen."""
    places = {name: 3 if name == "snoot" else 1 for name in FRONTS}  # where each shines
    cases = [(FRONTS[name], PLACES[k], AXES[k]) for name, k in places.items()]
    file = tmp_path / "fronts.pickle"
    file.write_bytes(pickle.dumps(cases))
    found = run("tests.agreement.two_ways", engine, file)
    whole = {"octa", "octa with grid", "round box", "honeycomb", "measured", "silver umbrella"}
    for name, ways in zip(FRONTS, found, strict=True):
        (a, ea), (b, eb) = ways["drawn"], ways["met"]
        agrees(a, np.hypot(ea, eb), b, 0.1)
        chance, error = ways["chance"]
        assert chance < 1 + 4 * error, (name, ways)
        if name in whole:
            agrees(chance, error, 1.0, 0.05)


def run(module: str, engine: Engine, file: Path) -> Any:
    """What a script of this folder prints, on a compiling engine."""
    choice = engine.choice if engine.name != "scalar" else choose_engine("llvm")
    done = subprocess.run(
        [sys.executable, "-m", module, choice.variant, str(file)],
        env=worker_environment(choice), cwd=ROOT, check=True, stdout=subprocess.PIPE,
    )  # fmt: skip
    return json.loads(done.stdout)


def test_a_moved_light_needs_no_new_kernel(engine: Engine, tmp_path: Path) -> None:
    """Truth: the compiler's own count, once as many sets are kept as ever are."""
    names = ("octa with lip", "honeycomb", "measured", "silver umbrella", "lantern")
    file = tmp_path / "fronts.pickle"
    file.write_bytes(pickle.dumps([FRONTS[name] for name in names]))
    compiled = run("tests.agreement.moved_lights", engine, file)
    assert compiled[-3:] == [0, 0, 0]


def bowl(width: float, depth: float) -> tuple[float, float]:
    """Area of a bowl, and the part of the light from inside that does not meet it again."""
    radius = (width**2 / 4 + depth**2) / (2 * depth)
    area = np.pi * (width**2 / 4 + depth**2)
    return area, 1 - area / (4 * np.pi * radius**2)


def test_a_light_that_is_looked_at_shows_its_luminance(engine: Engine) -> None:
    """Truth: L = energy / (pi · area) of a matte surface, for either side of a cloth."""
    thin, leaves = bowl(1.0, 0.25)
    shallow, comes = bowl(1.0, 0.18)
    through = square(1.0, shape=Cap(0.18, False, 0.4))
    cases = [
        (BARE["bare ball"], [0.1, 0, 2], [0, 0, 0.25], 1 / (np.pi * np.pi * 0.5**2)),
        (square(0.6, shape=Disk()), [1, 0, 1], [0.2, 0, 0], 1 / (np.pi * np.pi * 0.3**2)),
        (FRONTS["thin umbrella"], [0, 0.1, 2], [0, 0.1, -0.23], 0.7 / (np.pi * thin * leaves)),
        (FRONTS["thin umbrella"], [0, 0.1, -2], [0, 0.1, -0.25], 0.3 / (np.pi * thin)),
        (through, [0, 0.1, 2], [0, 0.1, 0], 0.6 / (np.pi * shallow)),
        (through, [0, 0.1, -2], [0, 0.1, 0], 0.4 / (np.pi * shallow * comes)),
    ]
    for made, eye, place, truth in cases:
        seen = spots(
            layout(made), [Spot(np.array(eye, float), np.array([place], float))], "plain",
            room=True, bounces=1, samples=64, engine=engine,
        )  # fmt: skip
        assert seen.mean[0, 0] == pytest.approx(truth, rel=4e-3)  # its facets are smaller


def test_a_light_that_is_off_is_a_black_thing(engine: Engine) -> None:
    """Truth: in the middle of the frame the lantern's black, at its edge the paper."""
    lens = View(
        np.array([0, 0, 3.0]), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]),
        0.05, 16.0, 0.024, 0.024, 3.0,
    )  # fmt: skip
    paper = sheet([0, 0, -1], [1, 0, 0], [0, 1, 0], 4, 4, reflectance=(0.5,) * 3)
    fill = square(0.6, name="fill", centre=[0, 0, 3.5], normal=[0, 0, -1])
    made = layout(FRONTS["lantern"], fill, sheets=(paper,))
    stage = stage_of(made, "plain", emitting=("fill",))
    arguments = {"view": lens, "size_px": (24, 24), "samples": 16, "seed": 0}
    picture = engine.call("chunk", stage, arguments)[0, ..., 1]
    assert picture[10:14, 10:14].max() == 0
    assert picture[0].min() > 0


def test_a_light_shows_the_same_beside_others(engine: Engine) -> None:
    """Truth: the reading with that light alone on; the others stay as black things."""
    names = ["octa with lip", "dish", "reflector", "shoot-through", "lantern"]
    shift = [[0, 0, 0], [-0.8, 0, 0], [0.8, 0, 0.1], [0, 1.1, 0], [0, -0.9, 0.2]]
    ring = [
        replace(FRONTS[name], name=name, centre_m=np.array(place, float))
        for name, place in zip(names, shift, strict=True)
    ]
    made = layout(*ring)
    places, axes = PLACES[:1], AXES[:1]
    together = receptor_readings(made, places, axes, "dome", engine=engine, samples=1 << 16)
    for k, light in enumerate(ring):
        stage = stage_of(made, "plain", emitting=(light.name,))
        alone = held(stage, places, axes, "dome", engine=engine, samples=1 << 16, seed=9)
        spread = np.hypot(alone.total_error[0, 0], together.total_error[0, k])
        agrees(together.total[0, k], spread, alone.total[0, 0], 0.1)


@pytest.mark.parametrize("kind", FRONTS)
def test_the_plain_engine_reads_the_same(kind: str, plain: Engine) -> None:
    """Truth: brute force over small elements (module shape_light)."""
    picks = [0, 2]
    truth = lights(FRONTS[kind], PLACES[picks], AXES[picks])
    found = receptor_readings(
        layout(FRONTS[kind]), PLACES[picks], AXES[picks], "flat", engine=plain, samples=1024
    )
    lit = truth > truth.max() / 1000
    assert np.all(found.total[~lit, 0] == 0)
    own = np.hypot(found.total_error[lit, 0], 0.001 * truth[lit])
    agrees(found.total[lit, 0], own, truth[lit], 0.4)


@pytest.fixture(scope="module")
def plain() -> Any:
    """The engine that needs no compiler."""
    with Engine("scalar") as running:
        yield running

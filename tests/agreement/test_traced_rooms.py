"""Rooms with pale walls: tracing against radiosity, against Radiance, against the stock path."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from render.emission import Ball, Cells, Disk, Lobe
from render.layout.placed import Layout
from render.trace import Engine, receptor_readings
from render.trace.choice import worker_environment
from render.trace.stage import Stage, stage_of
from tests.agreement.test_traced_fronts import agrees
from tests.checks import CHECKS
from tests.sets import from_reference, place_from_reference, room_a, room_b, sheet
from tests.unit.trace.small import portrait, view

Floats = NDArray[np.float64]
# The lamp of room A is flush with the ceiling: 0.1 mm below it, so that the two planes differ.
FLUSH_GAP_M = 1e-4
ENERGY = np.pi * 1000.0 * 0.54  # both lamps: 1000 cd·s/m² on 0.6 x 0.9 m
A_PLACES = [
    [2, 2.5, 0],
    [1, 1, 0],
    [2, 2.5, 1.2],
    [2, 1, 1.2],
    [3.5, 0.5, 0.8],
    [2, 2.5, 1.2],
    [2, 1, 1.2],
]
A_AXES = [[0, 0, 1], [0, 0, 1], [0, 0, 1], [0, 1, 0], [0, 0, 1], [1, 0, 0], [0, -1, 0]]
S = [2, 2.5, 1.2]
TO_BOX = np.array([1.265153, 1.765153, 1.8]) - S
B_PLACES = [S, S, S, S, S, [2, 5, 1.2], [2, 2.5, 0]]
B_AXES = [[0, -1, 0], [-1, 0, 0], [1, 0, 0], [0, 0, 1], TO_BOX, [0, -1, 0], [0, 0, 1]]


def room(name: str, reflectance: float) -> Layout:
    """A reference room; room A with its lamp a hair below the ceiling."""
    if name == "B":
        return room_b(reflectance)
    made = room_a(reflectance)
    lamp = made.fronts[0]
    lowered = replace(lamp, centre_m=lamp.centre_m + FLUSH_GAP_M * lamp.normal)
    return replace(made, fronts=(lowered,))


def in_our_axes(places: Any, axes: Any) -> tuple[Any, Any]:
    """Receptors of a reference room in our axes, those on a wall moved 0.01 mm off it."""
    facing = from_reference(np.array(axes, float))
    facing /= np.linalg.norm(facing, axis=1, keepdims=True)
    return place_from_reference(np.array(places, float)) + 1e-5 * facing, facing


HELD = {"A": (A_PLACES, A_AXES), "B": (B_PLACES, B_AXES)}


@pytest.fixture(scope="module")
def totals(engine: Engine) -> Callable[[str], tuple[Floats, Floats]]:
    """All light on the receptors of a reference room and its error [lx·s], traced once."""

    @cache
    def found(name: str) -> tuple[Floats, Floats]:
        reading = receptor_readings(
            room(name, 0.5), *in_our_axes(*HELD[name]), "flat", engine=engine, samples=1 << 20
        )
        return ENERGY * reading.total[:, 0], ENERGY * reading.total_error[:, 0]

    return found


@pytest.mark.parametrize(
    ("name", "rows"),
    [("A", [f"RM-5{k}" for k in range(7)]), ("B", [f"SX-0.5-{k}" for k in range(7)])],
)
def test_totals_of_the_reference_rooms(
    name: str, rows: list[str], totals: Callable[[str], tuple[Floats, Floats]]
) -> None:
    """Truth: tests/data/checks_values.csv (radiosity, Radiance 6.0a), 0.3 %."""
    truth = np.array([CHECKS[row].values[0] for row in rows])
    total, error = totals(name)
    assert np.all(4 * error < 0.003 * truth), error / truth
    assert np.all(np.abs(total / truth - 1) < 0.003), total / truth - 1


def radiance_scene(made: Layout, reflectance: float) -> bytes:
    """The same set as text for Radiance: matte walls, one light polygon."""
    lines = [
        f"void plastic wall\n0\n0\n5 {reflectance} {reflectance} {reflectance} 0 0",
        "void light lamp\n0\n0\n3 1000 1000 1000",
    ]
    shapes: list[tuple[str, Any]] = [("wall", s) for s in made.sheets]
    shapes.append(("lamp", made.fronts[0]))
    for k, (material, part) in enumerate(shapes):
        across, along = part.right * part.width_m / 2, part.up * part.height_m / 2
        corners = [-across - along, across - along, across + along, along - across]
        numbers = np.concatenate([part.centre_m + corner for corner in corners])
        lines.append(f"{material} polygon p{k}\n0\n0\n12 " + " ".join(f"{n:.9f}" for n in numbers))
    return "\n".join(lines).encode()


def test_room_b_as_radiance_sees_it(
    totals: Callable[[str], tuple[Floats, Floats]], tmp_path: Path
) -> None:
    """Truth: Radiance through pyradiance, run here; settings without bias (negative -lr)."""
    import pyradiance

    repeats = 120
    places, facing = in_our_axes(B_PLACES[:4], B_AXES[:4])
    octree = tmp_path / "room.oct"
    octree.write_bytes(pyradiance.oconv(stdin=radiance_scene(room("B", 0.5), 0.5)))
    rays = np.repeat(np.concatenate([places, facing], 1), repeats, 0)
    settings = "-aa 0 -as 0 -u+ -dj 1 -ds 0.1 -dt 0 -dc 1 -st 0 -ab 30 -ad 512 -lw 1e-5 -lr -30"
    answer = pyradiance.rtrace(
        "\n".join(" ".join(f"{n:.9f}" for n in ray) for ray in rays).encode(),
        octree, header=False, irradiance=True, params=settings.split(),
    )  # fmt: skip
    values = np.array(answer.split(), float).reshape(len(places), repeats, 3)[..., 1]
    error = values.std(1, ddof=1) / repeats**0.5
    total, own = (part[: len(places)] for part in totals("B"))
    agrees(total, np.hypot(error, own), values.mean(1), 0.03)
    np.testing.assert_allclose(total, values.mean(1), rtol=0.003)


PALE = (0.5, 0.85)  # reflectances of the walls
PALE_SIZE = (48, 60)
UPWARD = [0.0, 0.28, -0.96]  # of the silver board: it leans towards the camera


def pale_stage(walls: float) -> Stage:
    """The small portrait in room A, with a silver board below and a white one beside the ball."""
    made = replace(portrait(), view=view())
    silver = {"reflectance": (0.8,) * 3, "back_reflectance": (0.8,) * 3, "roughness": 0.25}
    boards = (
        sheet([0, 0.95, 0.15], [1, 0, 0], UPWARD, 0.4, 0.3, **silver, back_roughness=0.25),
        sheet([0.35, 1.2, 0.1], [0, 0, 1], [0, 1, 0], 0.4, 0.6, reflectance=(0.7,) * 3),
    )
    sheets = tuple(replace(s, centre_m=s.centre_m + [0.0, 0.0, 0.4]) for s in room_a(walls).sheets)
    return stage_of(replace(made, sheets=sheets + made.sheets + boards), "plain")


@pytest.fixture(scope="module")
def stock(engine: Engine, tmp_path_factory: pytest.TempPathFactory) -> dict[float, Any]:
    """Means of several runs of the stock path in each room, from one process."""
    job = tmp_path_factory.mktemp("stock") / "stages.pickle"
    job.write_bytes(pickle.dumps([(pale_stage(walls), view(), PALE_SIZE) for walls in PALE]))
    script = Path(__file__).with_name("stock_path.py")
    done = subprocess.run(
        [sys.executable, str(script), engine.choice.variant, str(job)],
        env=worker_environment(engine.choice), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return {w: np.array(runs) for w, runs in zip(PALE, json.loads(done.stdout), strict=True)}


@pytest.mark.parametrize("walls", PALE)
def test_layers_add_up_to_the_stock_path(
    walls: float, engine: Engine, stock: dict[float, Any]
) -> None:
    """Truth: the tracer's own path integrator with its own light sources, in a process apart,
    lights all at once; also that chunks of few samples are not biased in a pale room."""
    stage = pale_stage(walls)
    few = [
        engine.call("chunk", stage, {"view": view(), "size_px": PALE_SIZE, "samples": 4, "seed": k})
        for k in range(96)
    ]
    ours = np.array([chunk.sum(0).mean() for chunk in few])
    errors = [a.std(ddof=1) / len(a) ** 0.5 for a in (ours, stock[walls])]
    agrees(ours.mean(), np.hypot(*errors), stock[walls].mean(), 0.01)


def test_one_light_picked_of_several_stands_for_each(engine: Engine) -> None:
    """Truth: each light alone, where nothing has to be picked: the same light at every depth, for
    a gridded box, a small beam and a ball."""
    stage = pale_stage(0.85)
    key, fill = stage.fronts
    beam = {"width_m": 0.18, "height_m": 0.18, "shape": Disk(), "beam": Lobe(60)}
    ball = {"width_m": 0.08, "height_m": 0.08, "shape": Ball()}
    centre = np.array([-0.2, 2.2, -0.6])
    fronts = (
        replace(key, cells=Cells(0.05, 0.04, 0.06)),
        replace(fill, **beam),
        replace(fill, name="tube", centre_m=centre, **ball),
    )
    together = replace(stage, fronts=fronts, emitting=tuple(f.name for f in fronts))
    apart = [replace(together, emitting=(name,)) for name in together.emitting]
    told = {"view": view(), "size_px": PALE_SIZE, "samples": 16}

    def means(seen: Stage) -> Floats:
        chunks = [engine.call("chunk", seen, told | {"seed": k}) for k in range(24)]
        return np.array([[layer.mean() for layer in chunk] for chunk in chunks])

    picked = means(together)
    alone = np.concatenate([means(each) for each in apart], 1)
    errors = [a.std(0, ddof=1) / len(a) ** 0.5 for a in (picked, alone)]
    agrees(picked.mean(0), np.hypot(*errors), alone.mean(0), 0.05)


def test_the_plain_engine_agrees_with_the_compiling_one(engine: Engine) -> None:
    """Truth: two variants of the tracer with different code paths for the same physics."""
    if engine.name == "scalar":
        pytest.skip("no compiling engine here")
    places, facing = in_our_axes(B_PLACES[:4], B_AXES[:4])
    made = room("B", 0.5)
    fast = receptor_readings(made, places, facing, "dome", engine=engine, samples=1 << 16)
    with Engine("scalar") as plain:
        slow = receptor_readings(made, places, facing, "dome", engine=plain, samples=1 << 13)
    for name in ("bounce", "total"):
        error = np.hypot(getattr(fast, f"{name}_error"), getattr(slow, f"{name}_error"))
        agrees(getattr(slow, name), error, getattr(fast, name), 0.15)

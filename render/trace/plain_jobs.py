"""The same jobs on the plain engine: one light at a time, with the tracer's stock path integrator.

Much slower than a compiling engine. Fabric grids of matte boxes are real black walls here; the
stock shadow rays stop 0.9 mm per metre short of the cloth, so that a cell lets through a few per
cent too much far off its axis. Beams, honeycombs and bowls are asked of the emission model, ray by
ray. Light does not go under the skin here: every quality shows the surface skin.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import mitsuba as mi
import numpy as np

from render.emission import Cells, Front, room_from_local
from render.layout.placed import View
from render.trace import rays, unlit
from render.trace.camera import sensor
from render.trace.layers import ROULETTE_FROM, balance
from render.trace.materials import matte
from render.trace.meshes import mesh
from render.trace.nodes import lens_nodes, scene_nodes
from render.trace.origins import sums_by_surface
from render.trace.plain_fronts import plain_emission, stock
from render.trace.stage import Stage
from render.trace.surfaces import Surfaces, surfaces_of

# Pixels along a block, each with its own random numbers. Left alone, small pictures are cut by
# the number of threads, and the same seed shows something else on a machine of more cores.
BLOCK_PX = 32
KEPT_SCENES = 8  # one per light of a set
_scenes: dict[tuple[str, str], Any] = {}


def scene_of(stage: Stage, key: str, light: str) -> Any:
    """The built scene of a stage in which one light shines."""
    if (key, light) not in _scenes:
        alone = replace(stage, emitting=(light,), fronts=tuple(map(_set_back, stage.fronts)))
        nodes = scene_nodes(alone, plain_emission) | lens_nodes(alone)
        for k, front in enumerate(stage.fronts):
            if _walled(front):
                nodes[f"cells_{k}"] = mesh(f"cells_{k}", *cell_walls(front), matte(0.0))
        nodes["integrator"] = {
            "type": "path",
            "max_depth": stage.max_depth,
            "rr_depth": ROULETTE_FROM,
            "block_size": BLOCK_PX,
        }
        _scenes[key, light] = mi.load_dict(nodes, optimize=False)
        while len(_scenes) > KEPT_SCENES:
            _scenes.pop(next(iter(_scenes)))
    return _scenes[key, light]


def _walled(front: Front) -> bool:
    """Whether real walls stand for a front's grid."""
    return front.cells is not None and stock(front)


def _set_back(front: Front) -> Front:
    """With real cells the cloth lies behind them: half their depth behind the plane that stands
    for the whole front, where the formula of the grid is exact to 0.4 %."""
    if front.cells is None or not _walled(front):
        return front
    half = 0.5 * front.cells.depth_m
    return replace(
        front,
        centre_m=front.centre_m - half * front.normal,
        recess_m=half + max(half, front.recess_m),
        cells=None,
    )


def cell_walls(front: Front) -> tuple[Any, Any]:
    """The walls inside a grid: vertices (4n, 3) [m] in the room, triangles (2n, 3).

    Whole cells across the front; each wall is as deep as keeps the slope at which they close.
    """
    cells: Cells = front.cells  # type: ignore[assignment]
    half = 0.5 * np.array([front.width_m, front.height_m])
    walls = []
    for axis, (size, slope) in enumerate(
        zip((cells.width_m, cells.height_m), cells.slopes, strict=True)
    ):
        count = max(1, round(2 * half[axis] / size))
        depth = 2 * half[axis] / count / slope
        for place in np.linspace(-half[axis], half[axis], count + 1):
            wall = np.zeros((4, 3))
            wall[:, axis] = place
            wall[:, 1 - axis] = half[1 - axis] * np.array([-1, 1, 1, -1])
            wall[:, 2] = depth * np.array([0, 0, 1, 1]) - 0.5 * cells.depth_m
            walls.append(wall)
    first = 4 * np.arange(len(walls))[:, None, None]
    triangles = (first + np.array([[0, 1, 2], [0, 2, 3]])).reshape(-1, 3)
    return room_from_local(front, np.concatenate(walls)), triangles


def chunk(
    stage: Stage,
    key: str,
    view: View,
    size_px: tuple[int, int],
    samples: int,
    seed: int,
    only: tuple[str, ...] | None = None,
) -> Any:
    """One chunk of film; see `jobs.chunk`."""
    films = []
    for light in stage.emitting if only is None else only:
        film: Any = mi.render(
            scene_of(stage, key, light),
            sensor=sensor(view, size_px, samples, evenly=False),
            spp=samples,
            seed=seed,
        )
        films.append(np.array(film))
    return np.stack(films)


def spots(stage: Stage, key: str, **looks: Any) -> Any:
    """Sums of spot readings; see `rays.spot_sums`."""
    per_light = [
        _look(scene_of(stage, key, light), weight, **looks)
        for light, weight in zip(stage.emitting, stage.weights, strict=True)
    ]
    return tuple(np.stack(part, -1) for part in zip(*per_light, strict=True))


def _look(
    scene: Any,
    weight: Any,
    eyes: Any,
    first: Any,
    counts: Any,
    targets: Any,
    samples: int,
    seed: int,
) -> tuple[Any, Any]:
    sampler = _sampler(seed)
    values = np.zeros((len(eyes), samples))
    for i, eye in enumerate(eyes):
        for k in range(samples):
            pick = min(int(sampler.next_1d() * counts[i]), counts[i] - 1)
            towards = targets[first[i] + pick] - eye
            ray = mi.RayDifferential3f(mi.Point3f(eye), _unit(towards))
            values[i, k] = _luminance(scene.integrator().sample(scene, sampler, ray)[0], weight)
    return values.sum(1), np.square(values).sum(1)


def receptors(stage: Stage, key: str, **held: Any) -> Any:
    """Sums of receptor readings; see `rays.receptor_sums`."""
    known = surfaces_of(stage)
    per_light = [
        _hold(scene_of(stage, key, light), (weight, known), **held)
        for light, weight in zip(stage.emitting, stage.weights, strict=True)
    ]
    return tuple(np.stack(part, 1) for part in zip(*per_light, strict=True))


def _hold(
    scene: Any,
    told: tuple[Any, Surfaces],
    positions: Any,
    axes: Any,
    receptor: str,
    samples: int,
    seed: int,
) -> tuple[Any, ...]:
    """Sums for one light, weighed and told apart by `told`."""
    weight, surfaces = told
    sampler = _sampler(seed)
    values = np.zeros((2, len(positions), samples))
    surface = np.zeros((len(positions), samples), int)
    rest = len(surfaces.names) - 1
    for i, (position, axis) in enumerate(zip(positions, axes, strict=True)):
        for k in range(samples):
            *light, met = _one_path(scene, weight, position, axis, receptor, sampler)
            values[:, i, k], surface[i, k] = light, surfaces.shapes.get(met, rest)
    bounce, total = values
    parts = sums_by_surface([bounce.ravel()], surface.ravel(), len(positions), surfaces)
    sums, squares = (part[:, 0] for part in parts)
    whole = (sums.sum(-1), squares.sum(-1), total.sum(1), np.square(total).sum(1))
    return (*whole, sums, squares)


def _one_path(
    scene: Any, colour: Any, position: Any, axis: Any, receptor: str, sampler: Any
) -> tuple[float, float, str]:
    """Bounce and total of one sample (see `rays.receptor_sums` for the method), and the shape
    that the bounce comes from."""
    it: Any = mi.Interaction3f()
    it.p, it.t, it.n = mi.Point3f(position), 0.0, mi.Normal3f(0, 0, 0)
    facing = _unit(axis)
    ds, value = scene.sample_emitter_direction(it, sampler.next_2d(), True)
    straight = 0.0
    if ds.pdf > 0:
        cosine = float(np.dot(ds.d, facing))
        share = balance(ds.pdf, rays.pdf(receptor, cosine))
        straight = _luminance(value, colour) * rays.response(receptor, cosine) * share

    towards = rays.draw(receptor, mi.Frame3f(facing), sampler.next_2d())
    cosine = float(np.dot(towards, facing))
    pdf = rays.pdf(receptor, cosine)
    if pdf <= 0:
        return 0.0, straight, ""
    weight = rays.WEIGHT[receptor]
    ray = mi.RayDifferential3f(it.p, towards)
    found = _luminance(scene.integrator().sample(scene, sampler, ray)[0], colour)
    si = scene.ray_intersect(ray)
    front = si.emitter(scene)
    shine = _luminance(front.eval(si), colour) if front is not None else 0.0
    if shine > 0:
        met = mi.DirectionSample3f(scene, si, it)
        straight += weight * shine * balance(pdf, scene.pdf_emitter_direction(it, met))
    bounce = weight * (found - shine)
    return bounce, bounce + straight, si.shape.id() if si.is_valid() else ""


def _sampler(seed: int) -> Any:
    sampler: Any = mi.load_dict({"type": "independent"})
    sampler.seed(seed, 1)
    return sampler


def _unit(vector: Any) -> Any:
    return mi.Vector3f(np.asarray(vector) / np.linalg.norm(vector))


def _luminance(rgb: Any, weight: Any) -> float:
    return float(sum(w * value for w, value in zip(weight, rgb, strict=True)))


def guides(stage: Stage, key: str, **looks: Any) -> Any:
    """A view without light; see `unlit.film`."""
    return unlit.film(scene_of(stage, key, stage.emitting[0]), **looks, evenly=False)


JOBS: dict[str, Callable[..., Any]] = {
    "chunk": chunk,
    "spots": spots,
    "receptors": receptors,
    "guides": guides,
}

"""The jobs that a worker does with a compiling engine: film chunks, spots and receptors."""

from __future__ import annotations

import gc
from collections.abc import Callable
from typing import Any

import mitsuba as mi

from render.layout.placed import View
from render.sitter.body import Skin
from render.trace import layers, rays, unlit
from render.trace.film import Film
from render.trace.fronts import shaped_emission
from render.trace.haze import haze
from render.trace.materials import Node, albedo_map
from render.trace.moving import Changed, change
from render.trace.nodes import forget_parts, lens_nodes, scene_nodes, skin_of
from render.trace.panels import panels_of
from render.trace.stage import Dress, Stage
from render.trace.surfaces import surfaces_of
from render.trace.under import Under

# The last set built in each dress, with its key and its stage.
_scenes: dict[Dress, tuple[str, Any, Stage]] = {}
_parameters: dict[Dress, Any] = {}  # what can be changed in them
_films: dict[Dress, Film] = {}  # of them


def scene_of(stage: Stage, key: str) -> Any:
    """The built scene of a stage; the last one in each dress is kept.

    The one before goes first: kernels name the parts of every scene that is alive, so a set that is
    built beside an older one asks for a new kernel, one in its place does not. Sets of another
    sitter in other dresses go too. A set in which things were only moved is the same one.

    The dictionary is taken as it stands (`optimize=False`): otherwise shapes and lights come in
    an order of chance, seeds do not repeat and kernels are compiled anew.
    """
    known, scene, before = _scenes.get(stage.dress, ("", None, stage))
    if known == key:
        return scene
    known_as = _parameters.get(stage.dress)
    how = "not" if scene is None else _changed(scene, known_as, before, stage)
    if how != "not":
        if how == "reshaped":
            _films.pop(stage.dress, None)
        scene.integrator().panels = panels_of(stage)
        _scenes[stage.dress] = key, scene, stage
        return scene
    del scene, known_as
    _clear(stage)
    return _built(stage, key)


def _changed(scene: Any, parameters: Any, before: Stage, now: Stage) -> Changed:
    """As `change`; where that fails, a set that may be half moved is let go."""
    try:
        return change(scene, parameters, before, now)
    except BaseException:
        _scenes.pop(now.dress, None)
        forget_parts(now.dress)
        raise


def _clear(stage: Stage) -> None:
    """Let go of the set in the stage's dress, and of all others of another sitter."""
    sitter = _sitter(stage)
    _films.clear()
    for dress, (_, _, other) in list(_scenes.items()):
        if _sitter(other) != sitter:
            del _scenes[dress], _parameters[dress]
            forget_parts(dress)
    _scenes.pop(stage.dress, None)
    _parameters.pop(stage.dress, None)
    gc.collect()  # its light sources refer to each other


def _sitter(stage: Stage) -> str:
    return stage.body.version if stage.body else ""


def _built(stage: Stage, key: str) -> Any:
    nodes = scene_nodes(stage, shaped_emission)
    if one_scene_only():
        nodes |= lens_nodes(stage)
    nodes["integrator"] = {
        "type": layers.PLUGIN,
        "max_depth": stage.max_depth,
        "lights": len(stage.emitting),
    }
    scene: Any = mi.load_dict(nodes, optimize=False)
    _check_order(scene, stage)
    _complete(scene.integrator(), nodes, stage)
    _scenes[stage.dress], _parameters[stage.dress] = (key, scene, stage), mi.traverse(scene)
    return scene


def _complete(integrator: Any, nodes: Node, stage: Stage) -> None:
    """Panels and dust in the air, and small scenes of parts that rays ask for alone: lenses, the
    skin that light goes under."""
    integrator.panels = panels_of(stage)
    if dust := tuple(each for each in stage.elements if each.kind == "dust"):
        integrator.haze = haze(dust)
    if one_scene_only():
        return
    if lenses := lens_nodes(stage):
        integrator.sheets = mi.load_dict({"type": "scene"} | lenses, optimize=False)
    skin = skin_of(stage)
    if stage.skin == "under" and skin is not None and isinstance(skin.material, Skin):
        shape = nodes[f"body_{skin.name}"]
        alone = mi.load_dict({"type": "scene", "skin": shape}, optimize=False)
        index = skin.material.refractive_index
        integrator.under = Under(shape, alone, albedo_map(skin.material), index)


def one_scene_only() -> bool:
    """A graphics card traces one scene in a kernel: there, lenses stop shadow rays and eyes behind
    them are lit by paths that find a light by chance."""
    return str(mi.variant()).startswith("cuda")


def _check_order(scene: Any, stage: Stage) -> None:
    """Layers are told apart by the identifiers of the planes that shine."""
    found = [emitter.get_shape().id() for emitter in scene.emitters()]
    wanted = [f"light_{k}" for k, f in enumerate(stage.fronts) if f.name in stage.emitting]
    if found != wanted:
        raise RuntimeError(f"lights came as {found} instead of {wanted}")


def chunk(
    stage: Stage,
    key: str,
    view: View,
    size_px: tuple[int, int],
    samples: int,
    seed: int,
    only: tuple[str, ...] | None = None,
) -> Any:
    """One chunk of film: the mean of some samples per pixel.

    only    : lights that are wanted, by name, the others staying dark; None = all that shine
    returns : (lights, h, w, 3) float32  luminance·time per lumen second
    """
    scene = scene_of(stage, key)
    if stage.dress not in _films:
        _films[stage.dress] = Film(scene)
    numbers = None if only is None else tuple(stage.emitting.index(name) for name in only)
    return _films[stage.dress].expose(view, size_px, samples, seed, numbers)


def spots(stage: Stage, key: str, **looks: Any) -> Any:
    """Sums of spot readings; see `rays.spot_sums`."""
    return rays.spot_sums(scene_of(stage, key), weights=stage.weights, **looks)


def receptors(stage: Stage, key: str, **held: Any) -> Any:
    """Sums of receptor readings; see `rays.receptor_sums`."""
    known = surfaces_of(stage)
    return rays.receptor_sums(scene_of(stage, key), weights=stage.weights, surfaces=known, **held)


def guides(stage: Stage, key: str, **looks: Any) -> Any:
    """A view without light; see `unlit.film`."""
    return unlit.film(scene_of(stage, key), **looks)


JOBS: dict[str, Callable[..., Any]] = {
    "chunk": chunk,
    "spots": spots,
    "receptors": receptors,
    "guides": guides,
}

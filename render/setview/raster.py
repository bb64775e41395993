"""Draws meshes through a pinhole with the machine's GL: colours, or which mesh each pixel shows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.errors import ViewError
from render.setview.eye import Eye
from render.setview.gl import drawing_library
from render.setview.pieces import Mesh

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

NEAR_M, FAR_M = 0.02, 60.0  # what is drawn lies between; a lens barrel to a hall
SMALLER = 0.9  # of the nearest and the farthest vertex, so that neither is cut off


@dataclass(frozen=True, slots=True)
class Seen:
    """What each pixel shows."""

    index: NDArray[np.int32]  # (h, w) of the meshes in their order; -1 where there is none
    depth_m: NDArray[np.float32]  # (h, w) along the axis; 0 where there is none


def shade(
    meshes: Sequence[Mesh],
    colours: Sequence[Floats],
    eye: Eye,
    size_px: tuple[int, int],
    finer: int = 1,
) -> tuple[Bytes, Seen]:
    """The meshes in colours of their own, and what each pixel of that picture shows.

    colours : for each mesh (n, 3) sRGB of its vertices, 0 to 1; the ground is white
    size_px : width and height
    returns : (h, w, 3) uint8, smooth at edges, and Seen (finer h, finer w)
    raises  : ViewError where there is no GL
    """
    with _canvas(eye, size_px, meshes) as (gl, scene, painter):
        nodes = [
            scene.add(_drawable(gl, mesh, colour))
            for mesh, colour in zip(meshes, colours, strict=True)
        ]
        picture = np.array(painter.render(scene, gl.RenderFlags.FLAT)[0], np.uint8)
        painter.viewport_width, painter.viewport_height = finer * size_px[0], finer * size_px[1]
        return picture, _seen(gl, scene, painter, nodes)


def identify(meshes: Sequence[Mesh], eye: Eye, size_px: tuple[int, int]) -> Seen:
    """Which mesh each pixel shows; raises ViewError where there is no GL."""
    with _canvas(eye, size_px, meshes) as (gl, scene, painter):
        nodes = [scene.add(_drawable(gl, mesh, None)) for mesh in meshes]
        return _seen(gl, scene, painter, nodes)


def _seen(gl: Any, scene: Any, painter: Any, nodes: Sequence[Any]) -> Seen:
    """A pass in which every mesh has its number for a colour, 1 for the first."""
    numbers = {node: ((i >> 16) & 255, (i >> 8) & 255, i & 255) for i, node in enumerate(nodes, 1)}
    painted, depth = painter.render(scene, gl.RenderFlags.SEG, seg_node_map=numbers)
    red, green, blue = np.moveaxis(painted.astype(np.int32), -1, 0)
    index = (red << 16) + (green << 8) + blue - 1
    return Seen(np.where(depth > 0, index, -1).astype(np.int32), depth.astype(np.float32))


def _drawable(gl: Any, mesh: Mesh, colours: Floats | None) -> Any:
    vertices, triangles = mesh
    # The pass that numbers meshes draws front sides only, so every triangle is there both ways.
    both = np.concatenate([triangles, triangles[:, ::-1]])
    more = {} if colours is None else {"color_0": np.c_[colours, np.ones(len(colours))]}
    part = gl.Primitive(
        positions=vertices.astype(np.float32),
        indices=both.astype(np.uint32),
        mode=gl.constants.GLTF.TRIANGLES,
        **more,
    )
    return gl.Mesh([part])


@contextmanager
def _canvas(
    eye: Eye, size_px: tuple[int, int], meshes: Sequence[Mesh]
) -> Iterator[tuple[Any, Any, Any]]:
    """The library, an empty white scene seen through the eye, and what paints it."""
    pyrender = drawing_library()
    scene = pyrender.Scene(bg_color=[1.0, 1.0, 1.0, 1.0])
    pose = np.eye(4)
    pose[:3, :3] = np.stack([eye.right, eye.up, eye.back], 1)
    pose[:3, 3] = eye.position_m
    near, far = _reach(eye, meshes)
    angle, aspect = 2 * np.arctan(eye.half_height), eye.half_width / eye.half_height
    scene.add(pyrender.PerspectiveCamera(angle, near, far, aspectRatio=aspect), pose=pose)
    try:
        painter = pyrender.OffscreenRenderer(*size_px)
    except Exception as problem:
        raise ViewError(f"GL stopped working here: {type(problem).__name__}") from problem
    try:
        yield pyrender, scene, painter
    finally:
        painter.delete()


def _reach(eye: Eye, meshes: Sequence[Mesh]) -> tuple[float, float]:
    """Depths [m] between which everything lies: the closer together, the finer they are told."""
    depths = [(eye.position_m - vertices) @ eye.back for vertices, _ in meshes if len(vertices)]
    if not depths:
        return NEAR_M, FAR_M
    near, far = min(d.min() for d in depths), max(d.max() for d in depths)
    near = max(NEAR_M, SMALLER * float(near))
    return near, max(2 * near, float(far) / SMALLER)

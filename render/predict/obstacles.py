"""What can stand between a light and the meter: sitter, panels, backdrop, other lights."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.emission import FLAT, Front, cloth, housing, shades
from render.layout.placed import Layout
from render.layout.sweep import flat_parts, sheet_mesh
from render.predict.touch import Mesh, Turned, body_meshes, ray_scene, turned
from render.sitter.body import Body

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

END_GAP_M = 1e-3  # rays end short of the front: the ray kernel works in single precision
MANY = 200  # vertices; a light with more is bounded by its box
MAX_RAYS = 2_000_000  # sent to the ray kernel at once


@dataclass(frozen=True, slots=True)
class Still:
    """What stays where it is while lights move: sitter, panels, backdrop."""

    rays: EmbreeScene | Turned | None
    boxes: tuple[Floats, ...]  # corners (8, 3) around bodies and bent papers
    flats: tuple[Floats, ...]  # corners (4, 3)
    papers: EmbreeScene | Turned | None = None  # panels, backdrop, where they are not in `rays`

    @staticmethod
    def of(layout: Layout) -> Still:
        """Of a layout; most of the work of `Obstacles.of`."""
        sheets = [sheet for sheet in layout.sheets if sheet.kind != "wall"]
        body = body_meshes(layout.body)
        papers = [sheet_mesh(sheet)[::2] for sheet in sheets]
        boxes = _boxes(body)
        boxes += [mesh[0] for mesh, s in zip(papers, sheets, strict=True) if s.bend is not None]
        flats = [part for sheet in sheets for part in flat_parts(sheet)]
        return Still(ray_scene(body + papers), tuple(boxes), tuple(flats))

    def turned(self, body: Body, rotation: Floats, shift_m: Floats) -> Still:
        """Of a sitter alone who has turned as a whole: not built anew, their rays are turned.

        body : as turned by (3, 3) and moved by (3,) [m]
        """
        return Still(turned(self.rays, rotation, shift_m), tuple(_boxes(body_meshes(body))), ())

    @staticmethod
    def apart(layout: Layout, sitter: Still) -> Still:
        """Of a layout whose panels move and whose sitter does not.

        sitter : `Still.of` the same sitter without sheets
        """
        moving = Still.of(replace(layout, body=None))
        boxes = (*sitter.boxes, *moving.boxes)
        return Still(sitter.rays, boxes, moving.flats, papers=moving.rays)


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Everything solid but the walls, ready for shadow rays. Hair and clear lenses are left out."""

    shared: EmbreeScene | Turned | None  # sitter, panels, backdrop
    lights: tuple[EmbreeScene | None, ...]  # for each front the other lights and its own shades
    bulky: tuple[tuple[Floats, ...], ...]  # for each front, corner sets (k, 3) of solid things
    thin: tuple[tuple[Floats, ...], ...]  # for each front, corners (4, 3) of flat sheets and doors
    still: Still | None = None  # that they were built on
    papers: EmbreeScene | Turned | None = None  # panels, backdrop, where not in `shared`

    @staticmethod
    def of(layout: Layout, still: Still | None = None) -> Obstacles:
        """Build the ray scenes of a layout once; good for any number of readings in it.

        still : `Still.of` a layout that differs in its lights alone
        """
        still = still or Still.of(layout)
        shells = [_solids(front) for front in layout.fronts]
        own = [shades(front) for front in layout.fronts]
        others = [
            [mesh for j, shell in enumerate(shells) if j != i for mesh in shell]
            for i in range(len(shells))
        ]
        lumps = [pieces(mesh) for mesh in own]
        return Obstacles(
            shared=still.rays,
            lights=tuple(ray_scene([*o, mesh]) for o, mesh in zip(others, own, strict=True)),
            bulky=tuple(
                (*still.boxes, *(_few(v) for v, _ in o), *(v for v in parts if len(v) != 4))
                for o, parts in zip(others, lumps, strict=True)
            ),
            thin=tuple((*still.flats, *(v for v in parts if len(v) == 4)) for parts in lumps),
            still=still,
            papers=still.papers,
        )

    def blocked(self, front_index: int, origins: Floats, targets: Floats) -> Bools:
        """Whether something lies between places (n, 3) and places on a front (n, 3), room [m].

        Of the front's own light only what stands in its beam counts: doors, a head. Lip and cloth
        are accounted for by what a station sees of the front.
        """
        hit = np.zeros(len(origins), dtype=np.bool_)
        for scene in (self.shared, self.papers, self.lights[front_index]):
            if scene is not None:
                hit |= _any_hit(scene, origins, targets)
        return hit

    def clear_sight(self, eye: Floats, places: Floats) -> Bools:
        """Whether the eye (3,) sees each of the places (n, 3); fronts do not hide. Room [m]."""
        free = np.ones(len(places), dtype=np.bool_)
        for scene in (self.shared, self.papers):
            if scene is not None:
                free &= ~_any_hit(scene, np.broadcast_to(eye, places.shape), places)
        return free

    def may_block(self, front_index: int, starts: Floats, corners: Floats) -> tuple[Bools, Bools]:
        """Whether anything, and whether a thin sheet, may stand in the pyramid of sight.

        starts  : (m, 3) float     apex of each pyramid, room [m]
        corners : (m, 4, 3) float  its base at or behind the front, room [m]
        returns : two (m,) bool    False only where it is certain that nothing is in the way
        """
        planes = _pyramid_planes(starts, corners)
        solid = np.zeros(len(starts), dtype=np.bool_)
        for vertices in self.bulky[front_index]:
            solid |= _reaches_in(planes, vertices)
        thin = np.zeros(len(starts), dtype=np.bool_)
        for vertices in self.thin[front_index]:
            thin |= _reaches_in(planes, vertices) & _straddles(vertices, starts, corners)
        return solid | thin, thin


def _solids(front: Front) -> list[Mesh]:
    """What a light is for other lights: its housing, and the cloth that this does not cover."""
    parts = [housing(front)] if isinstance(front.shape, FLAT) else [housing(front), cloth(front)]
    return [mesh for mesh in parts if len(mesh[1])]


def _few(vertices: Floats) -> Floats:
    """Corners that bound vertices (n, 3): themselves or, if they are many, a box around them."""
    return vertices if len(vertices) <= MANY else _box(vertices)


def pieces(mesh: Mesh) -> list[Floats]:
    """Vertices (n, 3) of each connected part of a mesh."""
    vertices, triangles = mesh
    label = np.arange(len(vertices))  # in the end the lowest vertex that each hangs together with
    while True:
        lowest = label[triangles].min(1)
        grown = label.copy()
        for corner in triangles.T:
            np.minimum.at(grown, corner, lowest)
        grown = grown[grown]  # far ends meet in a few rounds
        if (grown == label).all():
            return [vertices[label == part] for part in np.unique(label)]
        label = grown


def _boxes(meshes: list[Mesh]) -> list[Floats]:
    """Corners (8, 3) around each mesh that has any."""
    return [_box(vertices) for vertices, _ in meshes if len(vertices)]


def _box(vertices: Floats) -> Floats:
    """The eight corners (8, 3) of the box around vertices (n, 3)."""
    ends = np.stack([vertices.min(axis=0), vertices.max(axis=0)])
    return np.stack(np.meshgrid(*ends.T, indexing="ij"), -1).reshape(8, 3)


def _any_hit(scene: EmbreeScene | Turned, origins: Floats, targets: Floats) -> Bools:
    """Whether the stretch from each origin to just short of its target is hit, (n,)."""
    hits = np.zeros(len(origins), dtype=np.bool_)
    built = scene.scene if isinstance(scene, Turned) else scene
    for i in range(0, len(origins), MAX_RAYS):
        start, way = origins[i : i + MAX_RAYS], (targets - origins)[i : i + MAX_RAYS]
        length = np.maximum(np.linalg.norm(way, axis=1), END_GAP_M)
        reach = (1.0 - END_GAP_M / length).astype(np.float32)
        if isinstance(scene, Turned):
            start, way = scene.back(start, way)
        start, way = start.astype(np.float32), way.astype(np.float32)
        found = built.run(start, way, reach, query="OCCLUDED")
        hits[i : i + MAX_RAYS] = found >= 0
    return hits


def _pyramid_planes(starts: Floats, corners: Floats) -> tuple[Floats, Floats]:
    """Inward normals (m, 6, 3) and offsets (m, 6): n·v > offset inside, for all six planes."""
    rays = corners - starts[:, None, :]
    sides = np.cross(rays, np.roll(rays, -1, axis=1))
    sides *= np.sign(np.sum(sides * np.roll(rays, -2, axis=1), axis=-1))[..., None]
    base = np.cross(corners[:, 1] - corners[:, 0], corners[:, 3] - corners[:, 0])[:, None, :]
    base *= np.sign(np.sum(base * -rays[:, :1], axis=-1))[..., None]  # towards the start
    normals = np.concatenate([sides, base, -base], axis=1)
    inner = np.repeat(starts[:, None, :], 6, axis=1)
    inner[:, 4] = corners[:, 0]
    return normals, np.sum(normals * inner, axis=-1)


def _reaches_in(planes: tuple[Floats, Floats], vertices: Floats) -> Bools:
    """False (m,) where one plane of the pyramid has all the vertices (k, 3) outside."""
    normals, offsets = planes
    outermost: Floats = np.max(normals @ vertices.T, axis=-1)
    inside: Bools = np.all(outermost > offsets, axis=-1)
    return inside


def _straddles(sheet: Floats, starts: Floats, corners: Floats) -> Bools:
    """Whether the pyramids (m,) have corners on both sides of a sheet's plane."""
    normal = np.cross(sheet[1] - sheet[0], sheet[3] - sheet[0])
    ends = np.concatenate([starts[:, None, :], corners], axis=1)
    side = (ends - sheet[0]) @ normal
    crosses: Bools = (side.min(axis=1) < 0.0) & (side.max(axis=1) > 0.0)
    return crosses

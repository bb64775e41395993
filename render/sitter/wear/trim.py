"""Cloth as surfaces: weave without torn patches, and the step to metres."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.sitter.arrays import M_PER_DM, Array, Index, unit
from render.sitter.body import Cloth, Surface
from render.sitter.shape.surfaces import smooth_normals

_TORN = 4.0  # a face whose uv is stretched this many times the usual spans a seam of the uv


def cloth_surface(
    name: str, vertices: Array, faces: Index, uv: Array, cloth: Cloth, normals: Array | None = None
) -> Surface:
    normals = smooth_normals(vertices, faces) if normals is None else normals
    return Surface(
        name=name,
        vertices=vertices.astype(np.float32),
        triangles=faces.astype(np.int32),
        normals=normals.astype(np.float32),
        uv=uv.astype(np.float32),
        material=cloth,
    )


def wound_surface(
    name: str, points: Array, normals: Array, faces: Index, turn: Array, flat: tuple[Array, Cloth]
) -> Surface:
    """A cloth wound round the body, its uv opened where the turn runs out.

    turn : (n,) azimuth in turns;  flat : v (n,) [dm], and the cloth
    """
    u = turn[faces]
    late = (np.ptp(u, axis=1, keepdims=True) > 0.5) & (u < u.max(1, keepdims=True) - 0.5)
    doubled, where = np.unique(faces[late], return_inverse=True)
    faces = faces.copy()
    faces[late] = len(points) + where
    own = np.concatenate([np.arange(len(points)), doubled])
    around = (
        2 * np.pi * float(np.median(np.hypot(points[:, 0], points[:, 2] - points[:, 2].mean())))
    )
    u = around * np.concatenate([turn, turn[doubled] + 1])
    uv = np.stack([u, flat[0][own]], 1)
    return cloth_surface(name, points[own], faces, uv, flat[1], unit(normals[own]))


def restitched(top: Surface) -> Surface:
    """The top with own vertices, and a weave of the usual size, for faces across a uv seam."""
    corners = top.vertices[top.triangles].astype(np.float64)
    flat = top.uv[top.triangles].astype(np.float64)
    side = np.linalg.norm(corners - np.roll(corners, 1, 1), axis=2).sum(1)
    stretch = np.linalg.norm(flat - np.roll(flat, 1, 1), axis=2).sum(1) / np.maximum(side, 1e-9)
    usual = float(np.median(stretch))
    torn = np.flatnonzero(stretch > _TORN * usual)
    e1, e2 = corners[torn, 1] - corners[torn, 0], corners[torn, 2] - corners[torn, 0]
    normal = unit(np.cross(e1, e2))
    x_axis = unit(np.cross([0.0, 1.0, 0.0], normal))
    y_axis = np.cross(normal, x_axis)
    laid = [np.stack([(e * x_axis).sum(1), (e * y_axis).sum(1)], 1) for e in (0 * e1, e1, e2)]
    uv = flat[torn, :1] + usual * np.stack(laid, 1)
    triangles = top.triangles.copy()
    count = len(top.vertices)
    triangles[torn] = count + np.arange(3 * len(torn)).reshape(-1, 3)
    own = top.triangles[torn].ravel()
    return Surface(
        top.name,
        np.concatenate([top.vertices, top.vertices[own]]),
        triangles,
        np.concatenate([top.normals, top.normals[own]]),
        np.concatenate([top.uv, uv.reshape(-1, 2).astype(np.float32)]),
        top.material,
    )


def in_metres(surface: Surface, origin: Array) -> Surface:
    """A surface in decimetres moved to an origin (3,) [dm] and scaled to metres."""
    vertices = (surface.vertices - origin) * M_PER_DM
    return replace(surface, vertices=vertices.astype(np.float32))

"""What every pixel of the picture shows: face, skin, hair, clothes, eyes, backdrop or the room."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.emission import cloth, housing
from render.layout.lens import project, ray_through
from render.layout.placed import Layout, View
from render.layout.sweep import sheet_mesh
from render.predict.touch import Mesh, distances, ray_scene
from render.sitter.body import Body, Cloth, Glass, Strands, Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PLACES = (
    "nothing",
    "face",
    "skin",
    "hair",
    "clothes",
    "eyes",
    "glasses",
    "backdrop",
    "room",
    "gear",
)
FACE_M = 0.16  # skin within so much of the tip of the nose is the face; from memory
COVERED_SHARE = 0.5  # of a pixel, above which it shows hair
BEFORE_M = 5e-3  # hair that lies on the skin is met at the same distance as it
SMALL_HAIR = ("brows", "lashes", "beard", "stubble")  # counted with the face


def places_shown(layout: Layout, size_px: tuple[int, int]) -> Ints:
    """For each pixel (h, w) the index in PLACES of what its middle shows.

    Raises ValueError without a view.
    """
    lens = layout.view
    if lens is None:
        raise ValueError("a layout without a camera shows nothing")
    width, height = size_px
    x, y = (np.arange(width) + 0.5) / width, (np.arange(height) + 0.5) / height
    ways = ray_through(lens, np.stack(np.meshgrid(x, y), -1).reshape(-1, 2))
    starts = np.broadcast_to(lens.position_m, ways.shape)
    nearest, found = np.full(len(ways), np.inf), np.zeros(len(ways), np.int64)
    for place, meshes in _solids(layout).items():
        far = distances(ray_scene(meshes), starts, ways)
        found[far < nearest] = PLACES.index(place)
        nearest = np.minimum(nearest, far)
    if layout.body is not None:
        skin = found == PLACES.index("skin")
        at = lens.position_m + nearest[skin, None] * ways[skin]
        found[skin] = np.where(_on_face(layout.body, at), PLACES.index("face"), found[skin])
        hair = hair_cover(lens, layout.body.strands, nearest, size_px) > COVERED_SHARE
        found[hair] = PLACES.index("hair")
    return found.reshape(height, width)


def _solids(layout: Layout) -> dict[str, list[Mesh]]:
    """Everything that the camera may see, by place; what is behind a lens counts as glasses."""
    found: dict[str, list[Mesh]] = {}
    for i, part in enumerate(layout.body.surfaces if layout.body is not None else ()):
        mesh = (part.vertices.astype(np.float64), part.triangles.astype(np.int64))
        found.setdefault(_place(part, i == 0), []).append(mesh)
    kinds = {"backdrop": "backdrop", "panel": "gear"}
    for sheet in layout.sheets:
        found.setdefault(kinds.get(sheet.kind, "room"), []).append(sheet_mesh(sheet)[::2])
    for front in layout.fronts:
        found.setdefault("gear", []).extend([housing(front), cloth(front)])
    return found


def _place(part: Surface, first: bool) -> str:
    if isinstance(part.material, Cloth):
        return "clothes"
    if part.name.startswith("glasses") or isinstance(part.material, Glass):
        return "glasses"
    if part.name.startswith(("eye", "wet")):
        return "eyes"
    return "skin" if first else "face"


def _on_face(body: Body, at: Floats) -> NDArray[np.bool_]:
    """Which places (n, 3) of the skin are the face; all of them where no nose is known."""
    tip = body.landmarks.get("nose_tip")
    if tip is None:
        return np.ones(len(at), dtype=np.bool_)
    near: NDArray[np.bool_] = np.linalg.norm(at - tip.position_m, axis=1) < FACE_M
    return near


def hair_cover(
    lens: View, strands: tuple[Strands, ...], solid_m: Floats, size_px: tuple[int, int]
) -> Floats:
    """Share (n,) of each pixel that hair covers, where strands lie at random over each other.

    solid_m : (n,) distance of what is behind, row by row [m]
    """
    width, height = size_px
    cover = np.zeros(width * height)
    pixel_m = lens.frame_width_m / lens.image_m / width  # at a metre
    for tress in strands:
        if tress.name.startswith(SMALL_HAIR):
            continue
        points = tress.points.astype(np.float64)
        middle = 0.5 * (points[:, 1:] + points[:, :-1]).reshape(-1, 3)
        along = np.linalg.norm(np.diff(points, axis=1), axis=-1).ravel()
        wide = (tress.radii[:, 1:] + tress.radii[:, :-1]).astype(np.float64).ravel()
        far = np.linalg.norm(middle - lens.position_m, axis=1)
        at = project(lens, middle) * [width, height]
        inside = np.all((at >= 0) & (at < [width, height]), axis=1)
        column, row = at[inside].astype(np.int64).T
        pixel = row * width + column
        seen = far[inside] < solid_m[pixel] + BEFORE_M
        area = (along * wide)[inside] / (pixel_m * far[inside]) ** 2
        cover += np.bincount(pixel[seen], area[seen], minlength=len(cover))
    covered: Floats = 1.0 - np.exp(-cover)
    return covered

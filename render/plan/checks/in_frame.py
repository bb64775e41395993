"""Lamps and panels in the picture: what of each solid the camera sees at this lens and crop."""

from __future__ import annotations

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.emission import cloth, housing
from render.layout.lens import ray_through
from render.layout.placed import Layout, View
from render.layout.sweep import sheet_mesh
from render.plan.checks.finding import Context, Finding
from render.plan.checks.frustum import Frustum, Mesh, clearance, clipped, way_out
from render.predict.touch import distances, ray_scene

Floats = NDArray[np.float64]
Scenes = tuple[EmbreeScene | None, ...]

# A stand is set down and a head tilted to some centimetres; common practice, no source.
SPARE_M = 0.05
FRAME_RAYS = 240  # across the frame's longer side: 1/60000 of it is seen
SEEN_GAP_M = 2e-3  # a ray that ends so near a place has reached it


def in_frame(context: Context) -> list[Finding]:
    """One finding for each light and each panel."""
    lens = context.layout.view
    assert lens is not None
    solids = solid_things(context.layout)
    found = []
    for name, mesh in solids.items():
        others = ray_scene([other for key, other in solids.items() if key != name])
        found.append(_judged(name, mesh, lens, (others, context.sitter)))
    return found


def solid_things(layout: Layout) -> dict[str, Mesh]:
    """Every light (housing, lip, cloth, doors, head) and panel, by the key of the scene file."""
    parts: dict[str, list[Mesh]] = {}
    for front in layout.fronts:
        parts[f"light.{front.name}"] = [housing(front), cloth(front)]
    for sheet in layout.sheets:
        if sheet.kind == "panel":  # both leaves of a V-flat have one name
            parts.setdefault(f"panel.{sheet.name}", []).append(sheet_mesh(sheet)[::2])
    return {name: _joined(meshes) for name, meshes in parts.items()}


def _joined(parts: list[Mesh]) -> Mesh:
    first = np.cumsum([0, *(len(vertices) for vertices, _ in parts)])
    triangles = [faces + start for (_, faces), start in zip(parts, first, strict=False)]
    return np.concatenate([vertices for vertices, _ in parts]), np.concatenate(triangles)


def _judged(name: str, mesh: Mesh, lens: View, hiding: Scenes) -> Finding:
    frustum = Frustum.of(lens)
    parts = clipped(frustum, mesh)
    if not parts:
        return _outside(name, mesh, frustum)
    share = 100 * covered_share(lens, mesh, hiding)
    if share == 0 and not _corners_seen(lens, parts, hiding):
        words = f"{name} is in the frame, but what stands before it hides it from the lens."
        return Finding("frame", name, "look", 0.0, "% of the frame", 0.0, words)
    metres, side = way_out(frustum, mesh)
    told = f"{share:.1f} %" if share >= 0.05 else "less than 0.1 %"
    way = {"top": "raise it", "bottom": "lower it"}.get(side, f"move it to {side}")
    words = f"{name} is in the frame and covers {told} of it; {way} by {100 * metres:.0f} cm."
    return Finding("frame", name, "wrong", share, "% of the frame", 0.0, words)


def _outside(name: str, mesh: Mesh, frustum: Frustum) -> Finding:
    clear = clearance(frustum, mesh)
    ways = {"top": "above", "bottom": "below", "behind the lens": "behind the lens, outside"}
    words = f"{name} is {100 * clear.distance_m:.0f} cm "
    words += f"{ways.get(clear.side, f'to {clear.side} of')} the frame"
    near = clear.distance_m < SPARE_M
    words += f"; leave {100 * SPARE_M:.0f} cm for a stand set down by hand." if near else "."
    return Finding(
        check="frame",
        about=name,
        verdict="look" if near else "fine",
        value=100 * clear.distance_m,
        unit="cm outside the frame",
        limit=100 * SPARE_M,
        words=words,
    )


def _corners_seen(lens: View, parts: list[Floats], hiding: Scenes) -> bool:
    """Whether the lens sees a corner or the middle of any part (k, 3) that is in the frame."""
    places = np.concatenate([np.vstack([part, part.mean(0)]) for part in parts])
    way = places - lens.position_m
    far = np.linalg.norm(way, axis=1)
    met = _nearest(hiding, np.broadcast_to(lens.position_m, way.shape), way / far[:, None])
    return bool(np.any(met > far - SEEN_GAP_M))


def covered_share(lens: View, mesh: Mesh, hiding: Scenes) -> float:
    """Share of the frame that a thing covers as the lens sees it, by rays through the frame."""
    ways = frame_rays(lens, FRAME_RAYS)
    starts = np.broadcast_to(lens.position_m, ways.shape)
    own = distances(ray_scene([mesh]), starts, ways)
    return float(np.mean(np.isfinite(own) & (own < _nearest(hiding, starts, ways))))


def _nearest(hiding: Scenes, starts: Floats, ways: Floats) -> Floats:
    found: Floats = np.min([distances(scene, starts, ways) for scene in hiding], axis=0)
    return found


def frame_rays(lens: View, across_longer: int) -> Floats:
    """Units (n, 3) from the lens through the middle of equal squares of the frame."""
    longer = max(lens.frame_width_m, lens.frame_height_m)
    count = [
        max(1, round(across_longer * side / longer))
        for side in (lens.frame_width_m, lens.frame_height_m)
    ]
    x, y = ((np.arange(n) + 0.5) / n for n in count)
    return ray_through(lens, np.stack(np.meshgrid(x, y), -1).reshape(-1, 2))

"""Lights and panels in the picture: what of each the camera sees at this lens and crop."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from render.errors import ViewError
from render.layout.lens import ray_through
from render.layout.placed import Layout, View
from render.plan.checks.finding import Context, Finding
from render.plan.checks.frustum import Frustum, Mesh, clearance, clipped, way_out
from render.plan.checks.holding import holders
from render.predict.touch import distances, ray_scene
from render.setview import gl_verdict
from render.setview.pieces import joined
from render.setview.seen import seen_in_frame
from render.setview.solids import BACKDROP, SITTER, Solid, set_solids

Floats = NDArray[np.float64]
Scenes = tuple[EmbreeScene | None, ...]
Shares = dict[tuple[str, str], float]  # of the frame, by name and part

# Columns and booms have a check of their own, which knows how far they stand in the frame.
JUDGED = ("front", "housing", "shaft", "head", "sheet")
CALLED = {"front": "front", "housing": "housing", "shaft": "shaft", "head": "flash head"}
# How these lie is up to the photographer.
LOOSE = {
    "legs": (
        "The legs of the stand of {name} cover {share} of the frame if one of them lies under the "
        "lamp; turn or move the stand."
    ),
    "bag": (
        "The bag of {name} covers {share} of the frame if it hangs behind the column or on the "
        "tail of the boom; hang it elsewhere, or move the stand."
    ),
}
# A stand is set down and a head tilted to some centimetres; common practice, no source.
SPARE_M = 0.05
FRAME_RAYS = 240  # across the frame's longer side: 1/60000 of it is seen
SEEN_GAP_M = 2e-3  # a ray that ends so near a place has reached it


def in_frame(context: Context) -> list[Finding]:
    """One finding for each light and each panel, and one for legs and bags that show."""
    lens = context.layout.view
    assert lens is not None
    solids = set_solids(context.layout, holders(context.setup, context.layout))
    shares = drawn_shares(solids, lens)
    found: list[Finding | None] = []
    for name in dict.fromkeys(solid.name for solid in solids):
        if name not in (BACKDROP, SITTER):
            found.append(_judged(context, solids, name, shares))
            found += [_loose(context, solids, name, part, shares) for part in LOOSE]
    return [each for each in found if each is not None]


def how_seen() -> str:
    """In which of two ways it is found out what shows, in brackets."""
    return " (counted in a drawing of the set)" if gl_verdict().usable else " (by rays)"


def drawn_shares(solids: Sequence[Solid], lens: View) -> Shares | None:
    """Share of the frame that each part covers, by drawing the set; None where there is no GL."""
    try:
        return {(each.name, each.part): each.share for each in seen_in_frame(solids, lens)}
    except ViewError:
        return None


def solid_things(layout: Layout) -> dict[str, Mesh]:
    """Every light (housing, lip, cloth, doors, head) and panel, by the key of the scene file."""
    solids = set_solids(layout)
    names = dict.fromkeys(solid.name for solid in solids if solid.part in JUDGED)
    return {name: _mesh(solids, name, JUDGED) for name in names if name != BACKDROP}


def _mesh(solids: Sequence[Solid], name: str, parts: Collection[str]) -> Mesh:
    return joined([each.mesh for each in solids if each.name == name and each.part in parts])


def _judged(context: Context, solids: Sequence[Solid], name: str, shares: Shares | None) -> Finding:
    """What a light or panel covers of the frame, or how far it is from it."""
    lens = context.layout.view
    assert lens is not None
    frustum, mesh = Frustum.of(lens), _mesh(solids, name, JUDGED)
    inside, hiding = clipped(frustum, mesh), _hiding(context, solids, name, JUDGED)
    share = _share(lens, mesh, hiding, name, JUDGED, shares) if inside or shares else 0.0
    if share == 0 and not inside:
        return _outside(name, mesh, frustum)
    if share == 0 and not _corners_seen(lens, inside, hiding):
        words = f"{name} is in the frame, but what stands before it hides it from the lens."
        return Finding("frame", name, "look", 0.0, "% of the frame", 0.0, words)
    metres, side = way_out(frustum, mesh)
    way = {"top": "raise it", "bottom": "lower it"}.get(side, f"move it to {side}")
    words = (
        f"{name} is in the frame{_with(solids, name, frustum, shares)} and covers {_told(share)} "
        f"of it; {way} by {100 * metres:.0f} cm."
    )
    return Finding("frame", name, "wrong", 100 * share, "% of the frame", 0.0, words)


def _loose(
    context: Context, solids: Sequence[Solid], name: str, part: str, shares: Shares | None
) -> Finding | None:
    """Legs or bag of a stand, only where they show: a turn of the stand may be enough."""
    lens = context.layout.view
    assert lens is not None
    mesh = _mesh(solids, name, (part,))
    if not clipped(Frustum.of(lens), mesh):
        return None
    share = _share(lens, mesh, _hiding(context, solids, name, (part,)), name, (part,), shares)
    if share == 0:
        return None
    words = LOOSE[part].format(name=name, share=_told(share))
    return Finding("frame", name, "look", 100 * share, "% of the frame", 0.0, words)


def _with(solids: Sequence[Solid], name: str, frustum: Frustum, shares: Shares | None) -> str:
    """The parts that show, where not all of them do."""
    own = [each for each in solids if each.name == name and each.part in CALLED]
    if shares is None:
        showing = [each.part for each in own if clipped(frustum, each.mesh)]
    else:
        showing = [each.part for each in own if (name, each.part) in shares]
    if not showing or "front" in showing or len(own) < 2:
        return ""
    return f" with its {' and '.join(CALLED[part] for part in showing)}"


def _told(share: float) -> str:
    return f"{100 * share:.1f} %" if share >= 0.0005 else "less than 0.1 %"


def _hiding(context: Context, solids: Sequence[Solid], name: str, parts: Collection[str]) -> Scenes:
    """What can hide some parts of a thing: everything else, and the sitter."""
    others = [
        each.mesh
        for each in solids
        if each.name != SITTER and (each.name != name or each.part not in parts)
    ]
    return ray_scene(others), context.sitter


def _share(
    lens: View,
    mesh: Mesh,
    hiding: Scenes,
    name: str,
    parts: Collection[str],
    shares: Shares | None,
) -> float:
    """Share of the frame that parts of a thing cover, as drawn or by rays."""
    if shares is None:
        return covered_share(lens, mesh, hiding)
    return sum(shares.get((name, part), 0.0) for part in parts)


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

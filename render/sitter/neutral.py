"""A sitter before the head is turned: the shape that hair, eyes and clothes are made on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from render.sitter.arrays import M_PER_DM, Array
from render.sitter.cast import PRESSED_EARS, Sitter
from render.sitter.face.expressions import EXPRESSIONS
from render.sitter.face.eyes import clear_of_ball, fit_ball
from render.sitter.shape.bust import Bust, build_bust
from render.sitter.shape.head_data import HeadData, load_head_data
from render.sitter.shape.posing import HeadPose, head_pose, posed
from render.sitter.shape.regions import Regions, build_regions
from render.sitter.shape.surfaces import smooth_normals
from render.sitter.shape.texels import Texels, map_texels
from render.sitter.skin.canvas import DETAIL
from render.sitter.wishes import Settled


@dataclass(frozen=True, slots=True, eq=False)
class Neutral:
    """A sitter before the head is turned [dm], and the turn."""

    head: HeadData
    bust: Bust
    regions: Regions
    base: Array  # (base n, 3)
    vertices: Array  # (n, 3)
    normals: Array  # (n, 3)
    eyes: dict[str, tuple[Array, float]]  # side -> centre, radius
    origin: Array  # (3,) midpoint of the posed eyes
    pose: HeadPose

    def metres(self, points: Array) -> Array:
        return np.asarray((points - self.origin) * M_PER_DM)

    def unturned(self, points_m: Array) -> Array:
        """Points (n, 3) [dm] on the unturned head from finished ones that follow it fully [m]."""
        frame = self.pose(np.eye(3)) - self.pose(np.zeros((1, 3)))
        centre, _ = self.eyes["l"]
        q = points_m.astype(float) / M_PER_DM + self.origin - self.pose(centre)
        return np.asarray(q @ frame.T + centre)


@lru_cache(maxsize=2)
def template(data_dir: Path, version: str) -> tuple[HeadData, Bust, Regions]:
    head = load_head_data(data_dir)
    bust = build_bust(head)
    return head, bust, build_regions(head, bust)


@lru_cache(maxsize=2)
def texels_of(data_dir: Path, version: str, width: int) -> Texels:
    return map_texels(template(data_dir, version)[1], width // DETAIL)


def neutral_of(wish: Settled, sitter: Sitter, data_dir: Path, version: str) -> Neutral:
    head, bust, regions = template(data_dir, version)
    expression = EXPRESSIONS[wish.expression].morphs
    base = posed(head, (*sitter.morphs, *PRESSED_EARS.get(wish.hair, ()), *expression))
    vertices = bust.verts(base)
    eyes = {side: fit_ball(base[ids]) for side, ids in head.eyes.items()}
    for centre, radius in eyes.values():
        vertices = clear_of_ball(vertices, centre, radius)
    pose = head_pose(head, base, wish.head_turn_deg, wish.head_nod_deg, wish.head_tilt_deg)
    middle = 0.5 * (eyes["l"][0] + eyes["r"][0])
    normals = smooth_normals(vertices, bust.quads)
    return Neutral(head, bust, regions, base, vertices, normals, eyes, pose(middle), pose)

"""What holds each light up and how heavy it is: column, legs, boom, head and modifier."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.emission import Front, cloth, housing
from render.emission.front import room_from_local
from render.emission.solids import Solid, head_end_m
from render.layout import Layout
from render.layout.geometry import direction
from render.scenefile import Setup
from render.studio.light import Boom, Light

Floats = NDArray[np.float64]

# A head behind a box of 40 cm makes 65 cm, behind a reflector of 15 makes 40: a trade page has
# 0.5 to 0.7 m and 0.35 to 0.4 m. Its width from memory.
HEAD_LENGTH_M, HEAD_WIDTH_M = 0.25, 0.13
USUAL_HEAD_KG = 2.0  # trade pages: 1.3 to 3
USUAL_STAND_KG = 2.0  # of a light stand that reaches 2.4 m; from memory
# Frame and cloth: so much, and so much more for each square metre of front. Chosen so that head
# and box come to the usual 2.5 to 5 kg; from memory.
MODIFIER_KG = {
    "umbrella through": (0.3, 0.4),
    "umbrella bounce": (0.3, 0.4),
    "reflector": (0.4, 2.0),
    "snoot": (0.5, 0.0),
    "bare": (0.0, 0.0),
    "dish": (0.6, 2.0),
}
BOXED_KG = (0.8, 0.9)  # every other kind
FINE = 6  # parts that long edges are cut into
LONG_M = 0.15  # edges that are


@dataclass(frozen=True, slots=True)
class Rig:
    """A light with what holds it up, as simple solids in the room [m] and masses [kg]."""

    light: str
    kind: str  # "stand", "boom" or "none"
    front_m: Floats  # (3,) middle of the front
    surface_m: Floats  # (n, 3) places all over housing, doors, cloth and head
    mount_m: Floats  # (3,) where stand or boom takes the head
    foot_m: Floats  # (3,) of the column, on the floor
    tail_m: Floats  # (3,) end of the boom's tail; the mount without a boom
    boom: Boom
    head_kg: float
    modifier_kg: float
    modifier_ahead_m: float  # how far the modifier's middle is from the mount in plan
    bag_kg: float
    leg_radius_m: float
    assumed: str  # which masses are typical ones, in words; empty for none

    @property
    def about(self) -> str:
        """The light's key in the scene file."""
        return f"light.{self.light}"

    @property
    def load_kg(self) -> float:
        """Head and modifier."""
        return self.head_kg + self.modifier_kg

    @property
    def column_m(self) -> Floats:
        """(2, 3) lower and upper end of the column."""
        return np.stack([self.foot_m, [self.foot_m[0], self.mount_m[1], self.foot_m[2]]])


def rigs(setup: Setup, layout: Layout) -> list[Rig]:
    """Every light of the scene with what holds it up, in the order of the scene."""
    return [
        _rig(setup, layout, light, front)
        for light, front in zip(setup.scene.light.values(), layout.fronts, strict=True)
    ]


def _rig(setup: Setup, layout: Layout, light: Light, front: Front) -> Rig:
    boom = light.boom or Boom()
    kind = light.stand if light.boom is None else "boom"
    headed = light.flash is not None and front.head_m is None
    mount = _mount(front, headed)
    foot, tail = mount * [1, 0, 1], mount
    if kind == "boom":
        way = _tail_way(boom, mount, layout)
        foot = foot + boom.arm_m * way
        tail = mount + (boom.arm_m + boom.tail_m) * way
    head, modifier, assumed = _masses(setup, light, front)
    middle = room_from_local(front, np.array([0.0, 0.0, -0.5 * front.shell_depth_m]))
    return Rig(
        light=front.name,
        kind=kind,
        front_m=front.centre_m,
        surface_m=_surface(front, headed),
        mount_m=mount,
        foot_m=foot,
        tail_m=tail,
        boom=boom,
        head_kg=head,
        modifier_kg=modifier,
        modifier_ahead_m=float(np.linalg.norm((middle - mount)[[0, 2]])),
        bag_kg=light.bag_kg,
        leg_radius_m=light.leg_radius_m,
        assumed=assumed,
    )


def _mount(front: Front, headed: bool) -> Floats:
    """The middle of the head, which stand or boom takes."""
    end = head_end_m(front)
    if end is not None and front.head_m is not None:
        along = end - 0.5 * front.head_m[1]
    else:
        along = -front.shell_depth_m - (0.5 * HEAD_LENGTH_M if headed else 0.0)
    return room_from_local(front, np.array([0.0, 0.0, along]))


def _tail_way(boom: Boom, mount: Floats, layout: Layout) -> Floats:
    """Level unit vector from the head along the boom: as asked, or sideways out of the picture."""
    if boom.azimuth_deg is not None:
        return direction(boom.azimuth_deg, 0.0)
    to_right = mount[0] > 0
    walls = [sheet for sheet in layout.sheets if sheet.kind == "wall"]
    if abs(mount[0]) < HEAD_WIDTH_M and walls:  # over the middle: to the side with more room
        sides = [sheet.centre_m[0] for sheet in walls]
        to_right = max(sides) + min(sides) > 0
    return np.array([1.0 if to_right else -1.0, 0.0, 0.0])


def _masses(setup: Setup, light: Light, front: Front) -> tuple[float, float, str]:
    """Mass of head and of modifier [kg], and which of them are typical ones."""
    flash = setup.kit.flash.get(light.flash or "")
    modifier = setup.kit.modifier.get(light.modifier or "")
    base, more = MODIFIER_KG.get(modifier.kind if modifier else "plain", BOXED_KG)
    assumed = ["stand"]
    head = 0.0
    if light.flash is not None:
        head = USUAL_HEAD_KG if flash is None or flash.mass_kg is None else flash.mass_kg
        if flash is None or flash.mass_kg is None:
            assumed.append("head")
    if modifier is not None and modifier.mass_kg is not None:
        return head, modifier.mass_kg, " and ".join(assumed)
    assumed.append("modifier")
    return head, base + more * front.width_m * front.height_m, " and ".join(assumed)


def _surface(front: Front, headed: bool) -> Floats:
    """Places all over what is solid about a light, close enough for a clearance in centimetres."""
    parts = [_spread(housing(front)), _spread(cloth(front))]
    if headed:
        half, back = 0.5 * HEAD_WIDTH_M, -front.shell_depth_m
        ends = ([-half, half], [-half, half], [back - HEAD_LENGTH_M, back])
        corners = np.stack(np.meshgrid(*ends, indexing="ij"), -1).reshape(8, 3)
        parts.append(room_from_local(front, corners))
    return np.concatenate(parts)


def _spread(solid: Solid) -> Floats:
    """Vertices of a solid, and places across its large triangles."""
    vertices, triangles = solid
    if not len(triangles):
        return vertices
    corners = vertices[triangles]  # (m, 3, 3)
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=-1).max(1)
    large = corners[longest > LONG_M]
    i, j = (each.ravel() for each in np.meshgrid(np.arange(FINE + 1), np.arange(FINE + 1)))
    inside = i + j <= FINE
    shares = np.stack([i[inside], j[inside], FINE - i[inside] - j[inside]], -1) / FINE
    across = np.einsum("ka,mac->mkc", shares, large).reshape(-1, 3)
    return np.concatenate([vertices, across])

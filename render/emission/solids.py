"""What is solid about a light: its black housing, its cloth, what of it stands in its own beam."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from render.emission.front import Front, room_from_local
from render.emission.shapes import Ball, Cap, Polygon, Rectangle, places, rim

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Solid = tuple[Floats, Ints]  # vertices (n, 3) [m] in the room, triangles (m, 3)

BACK_SHARE = 0.4  # the housing narrows to this share of the front; typical soft box, from memory
HINGE_M = 1e-3  # of barn doors, before a front without a lip
ROUND = 48  # corners of a round housing
RINGS, SPOKES = 24, 48  # of a cap or ball made of triangles: chords leave the sphere by 0.2 %
HEAD_GAP = 0.6  # a head in front of a hollow cap stands so many depths before its rim
NOTHING: Solid = (np.zeros((0, 3)), np.zeros((0, 3), np.int64))


def housing(front: Front) -> Solid:
    """Everything black of a light: shell and lip of a flat front, or the head; and the doors."""
    shell = _head(front) if isinstance(front.shape, Cap | Ball) else _shell(front)
    return _joined(shell, _doors(front))


def shades(front: Front) -> Solid:
    """The black parts that can stand in the light's own beam, beyond its lip."""
    head = _head(front) if isinstance(front.shape, Cap | Ball) else NOTHING
    return _joined(head, _doors(front))


def cloth(front: Front) -> Solid:
    """The shining surface as triangles, facing the way it mostly shines."""
    if isinstance(front.shape, Rectangle):
        corners = rim(front.shape, front.width_m, front.height_m)
        flat = np.c_[corners, np.zeros(4)]
        return room_from_local(front, flat), np.array([[0, 1, 2], [0, 2, 3]])
    if isinstance(front.shape, Cap | Ball):
        return _bowl(front)
    corners = rim(front.shape, front.width_m, front.height_m, ROUND)
    if not isinstance(front.shape, Polygon):  # as large as the circle
        corners = corners * math.sqrt(2 * math.pi / ROUND / math.sin(2 * math.pi / ROUND))
    flat = np.concatenate([np.zeros((1, 3)), np.c_[corners, np.zeros(len(corners))]])
    k = np.arange(len(corners))
    return room_from_local(front, flat), np.stack([0 * k, 1 + k, 1 + (k + 1) % len(k)], -1)


def _bowl(front: Front) -> Solid:
    """Cap or ball: the pole, then rings of places."""
    s, t = np.meshgrid(np.arange(1, RINGS + 1) / RINGS, np.arange(SPOKES) / SPOKES, indexing="ij")
    laid = places(front.shape, front.width_m, front.height_m, s, t)
    pole = places(front.shape, front.width_m, front.height_m, np.zeros(1), np.zeros(1))
    vertices = np.concatenate([pole.at, laid.at.reshape(-1, 3)])
    k = np.arange(SPOKES)
    nxt = (k + 1) % SPOKES
    faces = [np.stack([0 * k, 1 + k, 1 + nxt], -1)]
    for ring in range(RINGS - 1):
        a, b = 1 + ring * SPOKES, 1 + (ring + 1) * SPOKES
        faces += [np.stack([a + k, b + k, b + nxt], -1), np.stack([a + k, b + nxt, a + nxt], -1)]
    triangles = np.concatenate(faces)  # a hollow cap is laid out mirrored, so it faces inwards
    area = np.linalg.norm(
        np.cross(
            vertices[triangles[:, 1]] - vertices[triangles[:, 0]],
            vertices[triangles[:, 2]] - vertices[triangles[:, 0]],
        ),
        axis=1,
    )
    return room_from_local(front, vertices), triangles[area > 1e-12]


def _shell(front: Front) -> Solid:
    """Back plate, rim of the emitting plane, edge of the lip if it has one: rings of corners."""
    ring = rim(front.shape, front.width_m, front.height_m, ROUND)
    count = len(ring)
    levels = [(-front.shell_depth_m, BACK_SHARE), (0.0, 1.0)]
    levels += [(front.recess_m, 1.0)] if front.recess_m > 0 else []
    local = np.concatenate([np.c_[ring * share, np.full(count, z)] for z, share in levels])
    faces = [[0, i + 1, i] for i in range(1, count - 1)]  # the back plate, seen from behind
    for base in range(0, count * (len(levels) - 1), count):
        for i in range(count):
            a, b = base + i, base + (i + 1) % count
            faces += [[a, b, b + count], [a, b + count, a + count]]
    return room_from_local(front, local), np.array(faces)


def lip_triangles(front: Front) -> slice:
    """Which triangles of a flat front's housing are those of its lip, where it has one."""
    count = len(rim(front.shape, front.width_m, front.height_m, ROUND))
    start = count - 2 + 2 * count
    return slice(start, start + 2 * count)


def _head(front: Front) -> Solid:
    """The flash head of an umbrella or ball, a closed cylinder on the axis; none if not stated."""
    if front.head_m is None:
        return NOTHING
    width, length = front.head_m
    near, far = _head_ends(front, length)
    turn = 2 * math.pi * np.arange(ROUND) / ROUND
    ring = 0.5 * width * np.stack([np.cos(turn), np.sin(turn)], -1)
    local = np.concatenate([np.c_[ring, np.full(ROUND, z)] for z in (near, far)])
    k = np.arange(ROUND)
    nxt = (k + 1) % ROUND
    walls = [np.stack([k, nxt, nxt + ROUND], -1), np.stack([k, nxt + ROUND, k + ROUND], -1)]
    fan = np.arange(1, ROUND - 1)
    caps = [np.stack([0 * fan, fan + 1, fan], -1), ROUND + np.stack([0 * fan, fan, fan + 1], -1)]
    return room_from_local(front, local), np.concatenate(walls + caps)


def head_end_m(front: Front) -> float | None:
    """Local z of the end of the head that is farthest along the normal [m]; None without one."""
    return None if front.head_m is None else _head_ends(front, front.head_m[1])[1]


def _head_ends(front: Front, length: float) -> tuple[float, float]:
    """Local z of the head's two ends [m]: before a hollow cap, behind the rest."""
    if isinstance(front.shape, Cap):
        gap = HEAD_GAP * front.shape.depth_m
        if front.shape.hollow:
            return gap, gap + length
        return -front.shape.depth_m - gap - length, -front.shape.depth_m - gap
    half = 0.5 * front.width_m
    return -half - length, -half


def _doors(front: Front) -> Solid:
    """Plates hinged at the square about the opening."""
    doors = front.doors
    if doors is None:
        return NOTHING
    half_w, half_h = 0.5 * front.width_m, 0.5 * front.height_m
    lip = max(front.recess_m, HINGE_M)
    sides = (
        (doors.left_deg, (-1.0, 0.0), half_w, half_h),
        (doors.right_deg, (1.0, 0.0), half_w, half_h),
        (doors.top_deg, (0.0, 1.0), half_h, half_w),
        (doors.bottom_deg, (0.0, -1.0), half_h, half_w),
    )
    vertices: list[Floats] = []
    faces: list[Ints] = []
    for angle, way, reach, half in sides:
        if angle is None:
            continue
        out, along = np.array([*way, 0.0]), np.array([-way[1], way[0], 0.0])
        hinge = reach * out + [0.0, 0.0, lip]
        a = math.radians(angle)
        end = hinge + doors.length_m * (math.sin(a) * out + [0.0, 0.0, math.cos(a)])
        faces.append(np.array([[0, 1, 2], [0, 2, 3]]) + 4 * len(vertices))
        vertices.append(
            np.stack(
                [hinge - half * along, hinge + half * along, end + half * along, end - half * along]
            )
        )
    if not vertices:
        return NOTHING
    return room_from_local(front, np.concatenate(vertices)), np.concatenate(faces)


def _joined(first: Solid, second: Solid) -> Solid:
    """Two solids as one."""
    return (
        np.concatenate([first[0], second[0]]),
        np.concatenate([first[1], second[1] + len(first[0])]),
    )

"""Find the face of a scan, or say what keeps it from being found: unit, axes, or its shape."""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy.spatial.transform import Rotation

from render.sitter.arrays import Array, Index
from render.sitter.own.fitting import NO_MARKS, Cloud, Fit, Marks, fitted, from_marks, spread
from render.sitter.own.fitting import start_at as at
from render.sitter.own.template import SIZES, Template
from render.sitter.own.wish import AXES, MARKS, UNITS_M, MeshFault, OwnMesh, sitter_from_file

# A face laid on well has 2.0 to 2.6 mm and more than nine tenths found; a face laid upside down on
# a face 3.6 mm, on the back of a head 4.8 mm. Given landmarks rule those out.
WORST_RESIDUAL_M, LEAST_FOUND = 0.0032, 0.90
WORST_WITH_MARKS_M, LEAST_WITH_MARKS = 0.005, 0.75
MOST_UNUSUAL = 4.5  # typical amounts by which width, height and depth may differ from the template
MOST_TURN_DEG = 30.0  # of the head against the file's stated axes
# Face length (menton to sellion) and breadth (over the cheekbones) [m] of the panel that holds 97.7
# % of 3,997 adults: Zhuang, Bradtmiller and Shaffer, J. Occup. Environ. Hyg. 4 (2007) 647.
FACE_LENGTH_M, FACE_BREADTH_M = (0.0985, 0.1385), (0.1205, 0.1585)
SIZE_SLACK = 1.05  # the template's points are that sure
_SMALLEST_M, _LARGEST_M = 0.10, 2.3  # of a mesh: a face alone, a standing person
# Eyes below the top of the mesh [m]: a face alone up to a head under high hair.
_BELOW_TOP = (0.03, 0.06, 0.09, 0.12, 0.15, 0.18)
_NOSE_M = 0.055  # eye centres behind the tip of the nose
_ROUND_M = 0.22  # around the eyes: the head alone
_COARSE_POINTS, _FINE_POINTS = 6_000, 40_000  # of a mesh, of a head
_COARSE = (0.05, 0.04, 0.03, 0.03, 0.02, 0.02)
_FINE = (*(0.015,) * 5, *(0.008,) * 5, *(0.005,) * 5)
_KEPT, _AXES_KEPT = 2, 3  # starts, and other axes, that are followed to the end
_SIDEWAYS_DEG = np.array([0.0, -20.0, 20.0])


def find(
    template: Template, vertices: Array, triangles: Index, wish: OwnMesh, marks: Marks = NO_MARKS
) -> Fit:
    """The template laid on the scan (n, 3) [m] in sitter axes; raises MeshFault."""
    height = float(np.ptp(vertices, axis=0).max())
    if len(marks[0]):
        fit = _refined(template, vertices, triangles, [from_marks(template, marks)], marks)
        _check_marks(template, fit, marks)
    else:
        if not _SMALLEST_M < height < _LARGEST_M:
            raise _diagnosis(template, vertices, triangles, wish, None)
        fit = _searched(template, vertices, triangles)
        if not _good(fit) or not _head_sized(template, fit):
            raise _diagnosis(template, vertices, triangles, wish, fit)
    _check_size(template, fit, wish)
    _check_pose(fit, wish)
    return fit


def _searched(template: Template, vertices: Array, triangles: Index) -> Fit:
    """The best fit from guesses straight ahead and to either side."""
    cloud = spread(vertices, triangles, _COARSE_POINTS)
    frames = Rotation.from_euler("y", _SIDEWAYS_DEG[:, None], degrees=True).as_matrix()
    starts = [start for frame in frames for start in _coarse(template, cloud, frame)]
    return _refined(template, vertices, triangles, sorted(starts, key=_cost)[:_KEPT], NO_MARKS)


def _coarse(template: Template, cloud: Cloud, frame: Array) -> list[Fit]:
    """One fit of size and place alone for each guess of the eyes' height.

    frame : (3, 3) columns: the head's left, up and forward, as guessed
    """
    found = []
    points = cloud.points @ frame
    top = float(points[:, 1].max())
    for below in _BELOW_TOP:
        eyes = top - below
        level = points[np.abs(points[:, 1] - eyes + 0.03) < 0.05]
        if len(level) == 0:
            continue
        middle = 0.5 * (level[:, 0].min() + level[:, 0].max())
        nose = level[np.abs(level[:, 0] - middle) < 0.03]
        if len(nose):
            guess = np.array([middle, eyes, nose[:, 2].max() - _NOSE_M])
            start = at(template, frame, frame @ guess)
            found.append(fitted(template, cloud, start, _COARSE, every=8, modes=SIZES))
    return found or [at(template, frame, cloud.points.mean(0))]


def _refined(
    template: Template, vertices: Array, triangles: Index, starts: list[Fit], marks: Marks
) -> Fit:
    """The best of the starts, followed to the end on the head alone."""
    ends: list[Fit] = []
    for start in starts:
        if ends and _good(ends[-1]):
            break
        near = np.linalg.norm(vertices[triangles].mean(1) - start.shift, axis=1) < _ROUND_M
        if near.any():
            cloud = spread(vertices, triangles[near], _FINE_POINTS)
            ends.append(fitted(template, cloud, start, _FINE, every=4, marks=marks))
    return min(ends, key=_cost) if ends else starts[0]


def _cost(fit: Fit) -> float:
    """Residual [mm] and how unusual the face would have to be."""
    return 1000 * fit.residual_m + 0.3 * float(np.sqrt(np.mean(fit.amounts[:SIZES] ** 2)))


def _good(fit: Fit, worst_m: float = WORST_RESIDUAL_M, least: float = LEAST_FOUND) -> bool:
    """Whether a face lies there: near, whole, and not of an odd shape."""
    near = fit.residual_m <= worst_m and fit.found >= least
    return near and bool(np.abs(fit.amounts[:SIZES]).max() <= MOST_UNUSUAL)


def face_size(template: Template, fit: Fit) -> tuple[float, float]:
    """Length and breadth of the face [m] where the template lies."""
    places = template.shaped(fit.amounts, template.measured)
    length = float(np.linalg.norm(places[0] - places[1]))
    return length, float(np.linalg.norm(places[2] - places[3]))


def _head_sized(template: Template, fit: Fit) -> bool:
    return all(
        low / SIZE_SLACK <= found <= high * SIZE_SLACK
        for found, (low, high) in zip(
            face_size(template, fit), (FACE_LENGTH_M, FACE_BREADTH_M), strict=True
        )
    )


def _check_size(template: Template, fit: Fit, wish: OwnMesh) -> None:
    if not _head_sized(template, fit):
        length, breadth = face_size(template, fit)
        found = f"the face is {1000 * length:.0f} mm long and {1000 * breadth:.0f} mm wide"
        (a, b), (c, d) = FACE_LENGTH_M, FACE_BREADTH_M
        accepted = f"adults: {1000 * a:.0f} to {1000 * b:.0f} and {1000 * c:.0f} to {1000 * d:.0f}"
        raise MeshFault(found, f"{accepted}; see mesh_unit")


def _check_pose(fit: Fit, wish: OwnMesh) -> None:
    turned = _angle_deg(fit.rotation)
    if turned > MOST_TURN_DEG:
        found = f"the head is turned by {turned:.0f} degrees from its stated axes"
        raise MeshFault(found, "another mesh_up and mesh_faces, or the mesh turned upright")


def _angle_deg(rotation: Array) -> float:
    return float(np.degrees(np.arccos(np.clip((np.trace(rotation) - 1) / 2, -1, 1))))


def _check_marks(template: Template, fit: Fit, marks: Marks) -> None:
    if not _good(fit, WORST_WITH_MARKS_M, LEAST_WITH_MARKS):
        off = np.linalg.norm(fit.placed(template)[marks[0]] - marks[1], axis=1)
        worst = template_name(template, int(marks[0][off.argmax()]))
        found = f"no face lies at the given landmarks (residual {1000 * fit.residual_m:.1f} mm)"
        raise MeshFault(
            found, f"better places in the mesh's own unit and axes, {worst} first", "landmarks"
        )


def template_name(template: Template, row: int) -> str:
    """Name of a template row: a landmark or an eye."""
    if row < template.skin + len(template.names):
        return template.names[row - template.skin]
    return "eye_sitter_left" if row < len(template.rows) - template.eyeball else "eye_sitter_right"


def _diagnosis(
    template: Template, vertices: Array, triangles: Index, wish: OwnMesh, fit: Fit | None
) -> MeshFault:
    """What would make the face be found: another unit, other axes, or named landmarks."""
    unit = UNITS_M[wish.unit or "m"]
    height = float(np.ptp(vertices, axis=0).max())
    sizes = {name: metres / unit for name, metres in UNITS_M.items()}
    plausible = {n: f for n, f in sizes.items() if _SMALLEST_M < f * height < _LARGEST_M}
    for name, factor in plausible.items():
        if name != (wish.unit or "m"):
            other = _searched(template, factor * vertices, triangles)
            if _good(other) and _head_sized(template, other):
                found = f'"{wish.unit or "m"}" makes the mesh {height:.3g} m large'
                return MeshFault(found, f'its face fits mesh_unit = "{name}"', "mesh_unit")
    if not plausible:
        found = f'"{wish.unit or "m"}" makes the mesh {height:.3g} m large'
        return MeshFault(found, f"{_SMALLEST_M:g} to {_LARGEST_M:g} m: a head, a bust", "mesh_unit")
    turned = _other_axes(template, vertices, triangles, wish, list(plausible.items()))
    if turned is not None:
        return turned
    names = ", ".join(MARKS)
    residual = "" if fit is None else f" (residual {1000 * fit.residual_m:.1f} mm)"
    found = f"no face found in {wish.file.name}{residual}"
    return MeshFault(found, f"give [sitter.landmarks] with at least three of {names}")


def _other_axes(
    template: Template,
    vertices: Array,
    triangles: Index,
    wish: OwnMesh,
    units: list[tuple[str, float]],
) -> MeshFault | None:
    """Axes in which the face is found, if there are any."""
    file_from_ours = sitter_from_file(wish.up, wish.faces).T
    tries: list[tuple[float, Fit, float, Array, str]] = []
    for name, factor in units:
        cloud = spread(factor * vertices, triangles, _COARSE_POINTS)
        unit = "" if name == (wish.unit or "m") else f', mesh_unit = "{name}"'
        for up, faces in product(AXES, AXES):
            if up[-1] == faces[-1] or (up, faces) == (wish.up, wish.faces):
                continue
            frame: Array = (sitter_from_file(up, faces) @ file_from_ours).T
            start = min(_coarse(template, cloud, frame), key=_cost)
            words = f'mesh_up = "{up}", mesh_faces = "{faces}"{unit}'
            tries.append((_cost(start), start, factor, frame, words))
    for _, start, factor, frame, words in sorted(tries, key=lambda each: each[0])[:_AXES_KEPT]:
        end = _refined(template, factor * vertices, triangles, [start], NO_MARKS)
        upright = _angle_deg(frame.T @ end.rotation) <= MOST_TURN_DEG
        if upright and _good(end) and _head_sized(template, end):
            found = f'no face found with up = "{wish.up}" and faces = "{wish.faces}"'
            return MeshFault(found, f"it fits {words}", "mesh_up")
    return None

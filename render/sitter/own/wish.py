"""What is asked of an own mesh: which file, in which unit, which way it stands, named places."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from render.sitter.arrays import Array

UNITS_M = {"m": 1.0, "dm": 0.1, "cm": 0.01, "mm": 0.001, "in": 0.0254}
AXES = ("x", "-x", "y", "-y", "z", "-z")
SUFFIXES = (".obj", ".ply", ".glb", ".gltf", ".stl")
METRES_BY_STANDARD = (".glb", ".gltf")  # glTF 2.0 specification, section 3.4
# Places that can be given by name; enough of them to stand in for the search.
MARKS = ("nose_tip", "chin", "forehead", "eye_sitter_left", "eye_sitter_right")
LEAST_MARKS = 3  # three places fix position, direction and size


@dataclass(frozen=True, slots=True)
class OwnMesh:
    """A mesh file and how to read it. Landmarks are in the file's own unit and axes."""

    file: Path
    scene: Path  # the scene file that asks for it, for messages
    unit: str | None = None  # None: metres, glTF only
    up: str = "y"  # the file's axis that points to the crown
    faces: str = "z"  # the file's axis that the face looks along
    landmarks: tuple[tuple[str, tuple[float, float, float]], ...] = ()
    skin_reflectance: float | None = None  # luminous, of the face; None: as in the texture


class MeshFault(Exception):  # noqa: N818 - a fault of the mesh, told by `SceneError` in the end
    """What is wrong with a mesh: key, what was found, what would be accepted."""

    def __init__(self, found: str, accepted: str, key: str = "mesh") -> None:
        super().__init__(f"{found} ({accepted})")
        self.found, self.accepted, self.key = found, accepted, key


def axis_vector(name: str) -> Array:
    """Unit vector (3,) of an axis such as "-z"."""
    vector = np.zeros(3)
    vector["xyz".index(name[-1])] = -1.0 if name.startswith("-") else 1.0
    return vector


def sitter_from_file(up: str, faces: str) -> Array:
    """Rotation (3, 3) that takes the file's axes to ours; raises MeshFault."""
    y, z = axis_vector(up), axis_vector(faces)
    if up[-1] == faces[-1]:
        accepted = f'another axis than mesh_up = "{up}"'
        raise MeshFault(f'found "{faces}", along the same line as up', accepted, "mesh_faces")
    return np.stack([np.cross(y, z), y, z])


def unit_of(wish: OwnMesh) -> str:
    """The file's unit; raises MeshFault when it must be stated and is not."""
    if wish.unit is not None:
        return wish.unit
    if wish.file.suffix.lower() in METRES_BY_STANDARD:
        return "m"
    kind = wish.file.suffix.lower().lstrip(".").upper()
    units = ", ".join(f'"{unit}"' for unit in UNITS_M)
    raise MeshFault("missing", f"{kind} files do not say their unit: one of {units}", "mesh_unit")

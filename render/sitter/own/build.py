"""From a mesh file to a whole body, made once and kept."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import NoReturn

from render.errors import SceneError
from render.sitter.body import Body
from render.sitter.own.beside import named_files
from render.sitter.own.declared import check_declared
from render.sitter.own.wish import MeshFault, OwnMesh, sitter_from_file, unit_of
from render.sitter.shape.head_data import data_version
from render.sitter.store import cache_file, digest_of, load_body, save_body

OWN_MAKE = 1  # raise when the same file gives another body


def own_body(wish: OwnMesh, *, data_dir: Path, cache_dir: Path | None = None) -> Body:
    """A photographer's own head as plain geometry in metres, origin midway between its eyes.

    data_dir  : folder with the head data, which hold the template for the landmarks
    cache_dir : folder that keeps finished bodies (None: do not keep)
    returns   : Body without strands; its eyes look where the scan's look

    Raises SceneError, with the key of the scene file, for a file that cannot be read or is no
    head, and MeshError for missing head data. The same file gives the same body.
    """
    try:
        unit_of(wish)
        sitter_from_file(wish.up, wish.faces)
        check_declared(wish.file)
        contents = named_files(wish.file).contents
        version = _version(wish, contents, data_version(data_dir))
        file = None if cache_dir is None else cache_file(cache_dir, version)
        body = None if file is None else load_body(file)
        if body is None or body.version != version:
            body = _made(wish, data_dir, version)
            if file is not None:
                save_body(file, body)
    except MeshFault as fault:
        _refuse(wish, fault)
    return body


def _made(wish: OwnMesh, data_dir: Path, version: str) -> Body:
    # Making a body needs large libraries that a kept one does without.
    from dataclasses import replace

    from render.sitter.own.body import make_own
    from render.sitter.own.read import read_parts
    from render.sitter.own.template import template

    parts, missing = read_parts(wish.file)
    body = make_own(wish, parts, template(data_dir, data_version(data_dir)), version)
    lost = tuple(f"{name}, which the mesh names, is not there" for name in missing)
    return replace(body, notes=body.notes + lost)


def _version(wish: OwnMesh, contents: dict[str, bytes], data: str) -> str:
    digest = hashlib.sha256(wish.file.read_bytes())
    for name in sorted(contents):
        digest.update(name.encode() + b"\0" + contents[name])
    asked = (wish.unit, wish.up, wish.faces, wish.landmarks, wish.skin_reflectance)
    return digest_of((OWN_MAKE, data, wish.file.suffix.lower(), asked, digest.hexdigest()))


def _refuse(wish: OwnMesh, fault: MeshFault) -> NoReturn:
    key = f"sitter.{fault.key}"
    raise SceneError(wish.scene, key, fault.found, fault.accepted) from None

"""Sitters with bad input: meshes of the user's own up to a traced picture, and bundled people."""

from __future__ import annotations

import contextlib
import json
import shutil
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import numpy as np

from render.errors import SceneError
from render.layout import place
from render.picture.take import look
from render.report.readings import meter
from render.scenefile import load_scene
from render.sitter.build import build_body
from render.sitter.own import reader
from render.sitter.own.beside import named_files
from render.sitter.own.declared import check_declared
from render.sitter.own.paint import wrapped
from render.sitter.own.parts import Part
from render.sitter.own.soundness import sound
from render.sitter.own.template import template
from render.sitter.own.wish import MeshFault
from render.sitter.shape.head_data import data_version
from render.trace import Engine, FrameStore
from tests.fuzz import seeds, shapes
from tests.fuzz.mutate import changed, rebuilt, spoilt
from tests.fuzz.right import finite
from tests.unit.sitter.own_heads import own_set

Case = Callable[[Random], None]
TRACED = 0.3  # of the heads that can be placed; the others are metered alone
SIDE_PX = 16


def meshes(folder: Path) -> Case:
    """Meshes in every format, as the bounded reader reads them, and then made sound."""
    (folder / "skin.mtl").write_bytes(seeds.SKIN_MTL)
    (folder / "skin.png").write_bytes(seeds.encoded("PNG"))

    def case(rng: Random) -> None:
        kind, data = rng.choice(seeds.meshes())
        if kind == "gltf" and rng.random() < 0.8:
            try:
                text = json.dumps(rebuilt(rng, json.loads(data)))
            except ValueError:
                return
            data = text.encode("utf-8", "surrogatepass")
        else:
            data = spoilt(rng, data, [each for _, each in seeds.meshes()])
        file = folder / f"head.{kind}"
        file.write_bytes(data)
        try:
            parts, _ = read_here(file)
            whole = sound(parts, file.name)
            for part in parts:
                finite(float(wrapped(part, part.triangles).uv.sum()))
        except MeshFault as fault:
            raise SceneError(file, fault.key, fault.found, fault.accepted) from None
        assert np.isfinite(whole.vertices).all()

    return case


def read_here(file: Path) -> tuple[list[Part], list[str]]:
    """What the reader's process does, without a process."""
    check_declared(file)
    named = named_files(file)
    return reader._read(file, named.contents), named.missing


def heads(folder: Path) -> Case:
    """A head in every state of ruin: read, fitted, placed, metered, and some of them traced."""
    engine: list[Engine] = []
    shapes.scan()  # what every case needs is no part of the first one's time
    template(seeds.HEADS, data_version(seeds.HEADS))
    kept = contextlib.ExitStack()

    def case(rng: Random) -> None:
        if not engine:
            engine.append(kept.enter_context(Engine("scalar", threads=1)))
        for each in folder.iterdir():
            shutil.rmtree(each) if each.is_dir() else each.unlink()
        kind, keys = shapes.ruined(rng, folder)
        (folder / "set.toml").write_text(own_set(f"head.{kind}", keys))
        with (
            patch.dict("os.environ", {"TENTHSTOP_CACHE": str(folder / "cache")}),
            patch("render.sitter.own.read.read_parts", read_here)
            if rng.random() < 0.9
            else contextlib.nullcontext(),
        ):
            setup = load_scene(folder / "set.toml")
            _seen(place(setup).body)
            finite(meter(setup, bounce=False))
            if rng.random() < TRACED:
                store = FrameStore(folder / "frames")
                done = look(setup, quality=1, long_side_px=SIDE_PX, engine=engine[0], store=store)
                assert np.isfinite(done.picture.linear).all()

    return case


def _seen(body: Any) -> None:
    """A sitter in the room: finite, and of a head's size."""
    for surface in body.surfaces:
        assert np.isfinite(surface.vertices).all()
        assert np.isfinite(surface.normals).all()
    for name, mark in body.landmarks.items():
        assert np.isfinite(mark.position_m).all(), name
        assert abs(np.linalg.norm(mark.normal) - 1) < 1e-3, name


def people(folder: Path) -> Case:
    """Bundled scenes with their sitters, made small, placed and metered."""

    @cache
    def small(wishes: Any, gaze: Any) -> Any:
        return build_body(
            wishes, data_dir=seeds.HEADS, gaze_m=gaze, strand_count=500, map_width=128
        )

    def build(wishes: Any, *, data_dir: Path, cache_dir: Path | None, gaze_m: Any) -> Any:
        return small(wishes, gaze_m)

    def case(rng: Random) -> None:
        text = changed(rng, seeds.seated())
        (folder / "set.toml").write_bytes(text)
        with patch("render.layout.people.build_body", build):
            setup = load_scene(folder / "set.toml")
            if len(setup.scene.light) < 20:
                finite(meter(setup, bounce=False))
        if small.cache_info().currsize > 20:
            small.cache_clear()

    return partial(case)

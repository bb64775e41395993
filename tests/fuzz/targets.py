"""What is driven with bad input; each ends in an error of ours or in a result that holds."""

from __future__ import annotations

import dataclasses
import io
import json
import math
import os
import sys
import tomllib
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from render.combine.making import make
from render.combine.photo import read_photo
from render.combine.recipe import read_recipe
from render.emission.measured.beam import flux
from render.emission.measured.read import read_measured
from render.errors import SceneError, TenthstopError
from render.plan.calibrate.calibrate import calibrate
from render.report.readings import meter
from render.scenefile import load_scene
from render.scenefile.kits import read_kits
from render.sitter.body import Body, Painted, Surface
from render.sitter.own import reader
from render.sitter.own.beside import named_files
from render.sitter.own.declared import check_declared
from render.sitter.own.paint import wrapped
from render.sitter.own.soundness import sound
from render.sitter.own.wish import MeshFault
from render.sitter.store import load_body, save_body
from render.trace.store import FrameStore
from render.trace.tally import Tally
from tests.fuzz import seeds
from tests.fuzz.mutate import rebuilt, reworded, spoilt, toml_of
from tests.unit.page.scenes import STOOL

Case = Callable[[Random], None]  # makes a case and drives it; raises what the program raises
MOST_SIDE_PX = 4000  # longer pictures are fine, but too slow to combine by the thousand


def changed(rng: Random, texts: Sequence[bytes]) -> bytes:
    """One of some TOML files with changes: as bytes, as text, or in its tables."""
    text = rng.choice(texts)
    way = rng.randrange(4)
    if way == 0:
        return spoilt(rng, text, texts)
    if way == 1:
        return reworded(rng, text.decode()).encode("utf-8", "surrogatepass")
    tree = json.loads(json.dumps(tomllib.loads(text.decode()), default=str))
    try:
        made = toml_of(rebuilt(rng, tree))
    except ValueError:  # a number too long to be written down
        return text
    return made.encode("utf-8", "surrogatepass")


def finite(found: Any) -> None:
    """Raise AssertionError where a result holds a number that is none."""
    if dataclasses.is_dataclass(found) and not isinstance(found, type):
        for field in dataclasses.fields(found):
            finite(getattr(found, field.name))
    elif isinstance(found, dict):
        finite(list(found.values()))
    elif isinstance(found, list | tuple):
        for each in found:
            finite(each)
    elif isinstance(found, float):
        assert math.isfinite(found), found


def scenes(folder: Path) -> Case:
    """Scene files; those without a sitter are placed and metered too."""

    def case(rng: Random) -> None:
        file = folder / "set.toml"
        # Half of the cases change the one that is placed and metered quickly.
        texts = seeds.scenes()[:1] if rng.random() < 0.5 else seeds.scenes()
        file.write_bytes(changed(rng, texts))
        setup = load_scene(file)
        if setup.scene.sitter is None and len(setup.scene.light) < 20:
            finite(meter(setup, bounce=False))

    return case


def kits(folder: Path) -> Case:
    """Kit files, beside a scene that uses them."""
    (folder / "kit").mkdir()
    for file in (Path(reader.__file__).parents[3] / "scenes" / "kit" / "beams").glob("*"):
        (folder / "kit" / file.name).write_bytes(file.read_bytes())

    def case(rng: Random) -> None:
        file = folder / "kit" / "own.toml"
        file.write_bytes(changed(rng, seeds.kits()))
        kit, places = read_kits([file])
        assert len(kit.reading) == len(places)
        (folder / "stool.toml").write_text('kit = ["kit/own.toml"]\n' + STOOL)
        finite(meter(load_scene(folder / "stool.toml"), bounce=False))

    return case


def readings(folder: Path) -> Case:
    """Files of meter readings, against a small set."""
    (folder / "stool.toml").write_text(STOOL)
    setup = load_scene(folder / "stool.toml")

    def case(rng: Random) -> None:
        if rng.random() < 0.4:
            file, texts = folder / "read.csv", (seeds.CSV_READINGS,)
            way = spoilt(rng, texts[0], texts) if rng.random() < 0.5 else None
            content = way or reworded(rng, texts[0].decode()).encode("utf-8", "surrogatepass")
        else:
            file, content = folder / "read.toml", changed(rng, (seeds.TOML_READINGS,))
        file.write_bytes(content)
        finite(calibrate(setup, file, bounce=False))

    return case


def recipes(folder: Path) -> Case:
    """Recipes over small pictures, whole ones."""
    for name in ("dust.png", "plate.png"):
        (folder / name).write_bytes(seeds.encoded("PNG"))

    def case(rng: Random) -> None:
        file = folder / "recipe.toml"
        odd = rng.random() < 0.3
        file.write_bytes(seeds.RECIPE if odd else changed(rng, (seeds.RECIPE,)))
        (folder / "look.png").write_bytes(seeds.encoded("PNG"))
        (folder / "dust.exr").write_bytes(exr := seeds.pictures()[-1])
        if odd:
            (folder / "dust.exr").write_bytes(spoilt(rng, exr, seeds.pictures()))
        elif rng.random() < 0.1:
            (folder / "look.png").write_bytes(spoilt(rng, exr, seeds.pictures()))
        made = make(read_recipe(file), folder)
        assert np.isfinite(made.linear).all()
        assert made.linear.shape[2] == 3

    return case


def lamps(folder: Path) -> Case:
    """Photometric files, LM-63 and EULUMDAT."""

    def case(rng: Random) -> None:
        file = folder / rng.choice(("lamp.ies", "lamp.ldt", "lamp.txt"))
        text = rng.choice(seeds.lamps())
        if rng.random() < 0.5:
            text = spoilt(rng, text, seeds.lamps())
        else:
            text = reworded(rng, text.decode("latin-1")).encode("utf-8", "surrogatepass")
        file.write_bytes(text)
        beam = read_measured(file)
        assert np.isfinite(beam.candela).all()
        assert (beam.candela >= 0).all()
        finite(flux(beam))

    return case


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
            check_declared(file)
            parts = reader._read(file, named_files(file).contents)
            whole = sound(parts, file.name)
            for part in parts:
                finite(float(wrapped(part, part.triangles).uv.sum()))
        except MeshFault as fault:
            raise SceneError(file, fault.key, fault.found, fault.accepted) from None
        assert np.isfinite(whole.vertices).all()

    return case


def pictures(folder: Path) -> Case:
    """Pictures that are to be combined."""

    def case(rng: Random) -> None:
        file = folder / "photo.png"
        file.write_bytes(spoilt(rng, rng.choice(seeds.pictures()), seeds.pictures()))
        photo = read_photo(file)
        assert np.isfinite(photo.linear).all()
        assert photo.linear.shape[2] == 3

    return case


def kept(folder: Path) -> Case:
    """Finished work in the cache: a broken file counts as absent, never as other work."""
    corners = np.eye(3, dtype=np.float32)
    triangle = np.array([[0, 1, 2]], np.int32)
    paint = Painted(np.full((2, 2, 3), 0.4, np.float32), 0.5)
    surface = Surface("skin", corners, triangle, corners, corners[:, :2], paint)
    save_body(folder / "body.npz", Body((surface,), (), {}, "one"))
    store = FrameStore(folder / "frames")
    light = np.random.default_rng(1).random((5, 4, 3), np.float32)
    store.save("light", Tally(2, light, light[..., 0]), {4: light})
    whole = {name: (folder / name).read_bytes() for name in ("body.npz", "frames/light.npz")}

    def case(rng: Random) -> None:
        name = rng.choice(sorted(whole))
        (folder / name).write_bytes(spoilt(rng, whole[name], list(whole.values())))
        if name == "body.npz":
            body = load_body(folder / name)
            assert body is None or (body.surfaces[0].vertices == corners).all()
        else:
            tally = store.load("light", (4, 5))
            assert tally is None or (tally.colour == light).all()
            assert store.chunks("light") in (0, 2)
            assert all((each == light).all() for each in store.early("light", (4, 5)).values())
            store.arrays("light")
        raise TenthstopError("read as absent or whole")

    return case


def requests(folder: Path) -> Case:
    """Requests to the page of a small set."""
    from tests.fuzz.asking import asked

    return asked(folder)


def commands(folder: Path) -> Case:
    """The command line as a user runs it: one sentence and exit code 2, or JSON that holds."""
    (folder / "stool.toml").write_text(STOOL)
    (folder / "look.png").write_bytes(seeds.encoded("PNG"))
    (folder / "dust.png").write_bytes(seeds.encoded("PNG"))
    ways = (
        ("set.toml", seeds.scenes()[:1], ("meter", "set.toml", "--direct", "--json")),
        ("set.toml", seeds.scenes()[:1], ("balance", "set.toml", "--direct", "--json")),
        ("own.toml", seeds.kits(), ("lights", "--kit", "own.toml", "--json")),
        (
            "read.toml",
            (seeds.TOML_READINGS,),
            ("calibrate", "stool.toml", "read.toml", "--direct", "--json"),
        ),
        ("made.toml", (seeds.PLAIN_RECIPE,), ("combine", "made.toml", "--json")),
    )

    def case(rng: Random) -> None:
        name, texts, words = rng.choice(ways)
        (folder / name).write_bytes(changed(rng, texts))
        code, said, complaint = typed(folder, words)
        if code == 0:
            finite(json.loads(said))
            return
        assert code == 2, (code, complaint)
        assert complaint.startswith("tenthstop: "), complaint
        raise TenthstopError(complaint.strip())

    return case


def typed(folder: Path, words: Sequence[str]) -> tuple[int, str, str]:
    """Exit code and both outputs of a command line that is run in a folder."""
    from render.cli import main

    out, err, code = io.StringIO(), io.StringIO(), 0
    before, argv = Path.cwd(), sys.argv
    os.chdir(folder)
    sys.argv = ["tenthstop", *words]
    try:
        with redirect_stdout(out), redirect_stderr(err):
            main()
    except SystemExit as ended:
        code = int(ended.code or 0)
    finally:
        os.chdir(before)
        sys.argv = argv
    return code, out.getvalue(), err.getvalue()


TARGETS: dict[str, tuple[Callable[[Path], Case], int]] = {  # and how many of a hundred cases
    "scenes": (scenes, 20),
    "kits": (kits, 10),
    "readings": (readings, 10),
    "recipes": (recipes, 10),
    "lamps": (lamps, 10),
    "meshes": (meshes, 12),
    "pictures": (pictures, 12),
    "kept": (kept, 4),
    "requests": (requests, 10),
    "commands": (commands, 2),
}

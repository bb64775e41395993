"""Files that are driven with bad input; each ends in an error of ours or in a result that holds."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from random import Random

import numpy as np

from render.combine.making import make
from render.combine.photo import read_photo
from render.combine.recipe import read_recipe
from render.emission.measured.beam import flux
from render.emission.measured.read import read_measured
from render.errors import TenthstopError
from render.folders import data_folder
from render.plan.calibrate.calibrate import calibrate
from render.quiz.files import keep
from render.quiz.files import kept as kept_question
from render.quiz.questions import Answer, Line, Question
from render.report.readings import meter
from render.scenefile import load_scene
from render.scenefile.kits import read_kits
from render.series.lessons import read_lesson
from render.series.variables import MOST_CELLS
from render.sitter.body import Body, Painted, Surface
from render.sitter.store import load_body, save_body
from render.trace.store import FrameStore
from render.trace.tally import Tally
from tests.fuzz import bombs, seeds
from tests.fuzz.mutate import VARIED, changed, rebuilt, reworded, spoilt
from tests.fuzz.right import dimmed, finite
from tests.unit.page.scenes import STOOL

Case = Callable[[Random], None]  # makes a case and drives it; raises what the program raises
QUESTION = Question(
    number=1,
    kind="ratio",
    words="How much more light falls on the lit side?",
    lines=(Line("K:F", ("2:1", "4:1")),),
    answers=(Answer("K:F", 4.0, "4:1", 2.8, 5.6, "2.8 to 5.6", 0.01, "half a stop"),),
    change="fill off",
    closer=False,
    mark=(0.5, 0.5),
    fault=None,
    attempt=0,
    tables={"light": {"key": {"power": "1/4"}}},
)


def scenes(folder: Path) -> Case:
    """Scene files; those without a sitter are placed and metered too."""

    def case(rng: Random) -> None:
        file = folder / "set.toml"
        # Half of the cases change the one that is placed and metered quickly.
        texts = seeds.scenes()[:1] if rng.random() < 0.5 else seeds.scenes()
        file.write_bytes(changed(rng, texts))
        setup = load_scene(file)
        if setup.scene.sitter is None and len(setup.scene.light) < 20:
            found = meter(setup, bounce=False)
            finite(found)
            if setup.scene.light:
                dimmed(setup, found)

    return case


def kits(folder: Path) -> Case:
    """Kit files, beside a scene that uses them."""
    (folder / "kit").mkdir()
    for file in (data_folder("scenes") / "kit" / "beams").glob("*"):
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


def lessons(folder: Path) -> Case:
    """Lesson files over small sets, and what a series is to vary."""
    (folder / "stool.toml").write_text(STOOL)
    (folder / "sets").symlink_to(data_folder("scenes") / "lessons" / "sets")

    def case(rng: Random) -> None:
        file = folder / "near.toml"
        text = changed(rng, seeds.lessons())
        if rng.random() < 0.3:
            vary = json.dumps([rng.choice(VARIED) for _ in range(rng.choice((1, 1, 2, 3)))])
            text = f"{seeds.NEAR}vary = {vary}\n".encode("utf-8", "surrogatepass")
        file.write_bytes(text)
        lecture = read_lesson(file)
        assert 1 <= len(lecture.series.cells) <= MOST_CELLS
        for cell, _ in zip(lecture.series.cells, range(4), strict=False):
            if cell.setup.scene.sitter is None:
                finite(meter(cell.setup, bounce=False))

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


def pictures(folder: Path) -> Case:
    """Pictures that are to be combined."""

    def case(rng: Random) -> None:
        file = folder / "photo.png"
        match rng.randrange(20):
            case 0:
                data = rng.choice(bombs.bombs())
            case 1 | 2 | 3 | 4:
                data = bombs.lying(rng)
            case _:
                data = spoilt(rng, rng.choice(seeds.pictures()), seeds.pictures())
        file.write_bytes(data)
        photo = read_photo(file)
        assert np.isfinite(photo.linear).all()
        assert photo.linear.shape[2] == 3

    return case


def quizzes(folder: Path) -> Case:
    """Questions of a stopped quiz: broken ones count as absent, never as other questions."""
    file = folder / "one.json"
    keep(file, QUESTION)
    whole = file.read_bytes()

    def case(rng: Random) -> None:
        told = spoilt(rng, whole, [whole])
        if rng.random() < 0.5:
            first, _, rest = whole.decode().partition("\n")
            told = f"{first}\n{json.dumps(rebuilt(rng, json.loads(rest)))}".encode()
        file.write_bytes(told)
        assert kept_question(file) in (None, QUESTION)
        raise TenthstopError("read as absent or whole")

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

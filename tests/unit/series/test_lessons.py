"""Lessons: each can be made as it stands, and its table says what books and tables say."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
import tomllib
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader

from render.cli import main
from render.errors import LessonError, OutputError, SceneError
from render.folders import data_folder, lesson_names
from render.layout import Layout, place
from render.photometry.stops import lighting_ratio
from render.predict.softness import nose_shadow
from render.report.modifiers import shadow_edge_mm
from render.series import run as measuring
from render.series.cells import read_series
from render.series.estimate import estimate
from render.series.figures import CellRow, Drawn, cell_row, drawn
from render.series.frames import frames_due
from render.series.lessons import Lecture, read_lesson
from render.series.run import measured
from render.series.sheet import Page, Plate, write_sheet
from render.series.table import metered
from render.series.turned import as_set
from render.series.words import caption, notes
from render.sitter.body import Body
from render.trace import Engine, FrameStore
from tests.checks import read_checks

CHECKS = read_checks()
FOLDER = data_folder("scenes") / "lessons"
TRACED = 256  # paths per receptor
EDGE_STEPS = 21  # points along an edge that is held against the camera's frame


@pytest.fixture(scope="module")
def lectures() -> dict[str, Lecture]:
    return {name: read_lesson(name) for name in lesson_names()}


@pytest.fixture(scope="module")
def stood(lectures: dict[str, Lecture]) -> dict[str, list[Layout]]:
    """Every cell of every lesson as it stands. One body is seated for all, since they sit alike:
    hair of another colour stands in nobody's way."""
    first = lectures["falloff"].series.cells[0].setup
    body = place(first, spots=False).body
    assert first.scene.sitter is not None
    alike = first.scene.sitter.model_copy(update={"hair_colour": None})
    found = {}
    for name, lecture in lectures.items():
        for cell in lecture.series.cells:
            sitter = cell.setup.scene.sitter
            assert sitter is not None
            assert sitter.model_copy(update={"hair_colour": None}) == alike
        found[name] = [place(cell.setup, body, spots=False) for cell in lecture.series.cells]
    return found


def rows(scene: Path, *asked: str, engine: Engine | None = None) -> list[CellRow]:
    return list(metered(read_series(scene, list(asked)), ("kept",), engine)[0].cells)


def quick(
    scene: Path, body: Body | None, *asked: str, engine: Engine | None = None
) -> list[CellRow]:
    """Rows with a body that sits already, without pattern and shadow edge."""
    found = []
    for cell in read_series(scene, list(asked)).cells:
        layout = place(cell.setup, body, spots=False)
        made = as_set(measured(cell.setup, layout, engine))
        found.append(cell_row(cell, made, Drawn(None, None), "kept"))
    return found


def empty(folder: Path, name: str, old: str = "", new: str = "") -> Path:
    """A set of the lessons without room and sitter, the meter where the eyes would be."""
    text = (FOLDER / "sets" / f"{name}.toml").read_text()
    text = text[: text.index("[room]")] + text[text.index("[backdrop]") :]
    text = text[: text.index("[sitter]")] + text[text.index("[camera]") :]
    text = text.replace("[light.key]", '[light.key]\naim = "chair"').replace(old, new)
    text += '\n[point.backdrop_centre]\nlandmark = "backdrop_centre"\n'
    text += '\n[point.chair]\nposition_m = [0, 1.2, 0]\nfacing = "key"\n'
    file = folder / f"{name}.toml"
    file.write_text(text + '[wanted]\nchair = { point = "chair", light = "key", f_number = 8 }\n')
    return file


def alone(row: CellRow) -> float:
    """The flat receptor's reading at the chair, aimed at the key."""
    return next(r.f_number for r in row.readings if r.wish == "chair")


def stops_from_first(found: Sequence[CellRow]) -> list[float]:
    return [2 * math.log2(alone(row) / alone(found[0])) for row in found]


@pytest.mark.parametrize("name", lesson_names())
def test_a_lesson_says_what_to_look_for_in_two_sentences(
    name: str, lectures: dict[str, Lecture]
) -> None:
    lesson = lectures[name].lesson
    assert all(text.endswith(".") for text in lesson.look_for)
    assert not lesson.question or lesson.question.endswith("?")
    assert len(" ".join(lesson.look_for)) < 400  # four lines of a sheet at most
    assert lectures[name].series.scene == lesson.title


@pytest.mark.parametrize("name", lesson_names())
def test_every_cell_stands_in_the_room_and_out_of_the_picture(
    name: str, stood: dict[str, list[Layout]]
) -> None:
    """Truth: corners against the room's measures, edges against the frame by similar triangles."""
    for layout in stood[name]:
        assert layout.view is not None
        walls = [s for s in layout.sheets if s.kind == "wall"]
        high = np.max([s.centre_m for s in walls], axis=0)
        low = np.min([s.centre_m for s in walls], axis=0)
        panels = [s for s in layout.sheets if s.kind == "panel"]
        for thing in (*layout.fronts, *panels):
            half = 0.5 * thing.width_m * thing.right, 0.5 * thing.height_m * thing.up
            round_it = [(1, 1), (1, -1), (-1, -1), (-1, 1), (1, 1)]
            corners = [thing.centre_m + a * half[0] + b * half[1] for a, b in round_it]
            assert np.all(corners < high)
            assert np.all(corners > low)
            for one, other in pairwise(corners):
                for share in np.linspace(0, 1, EDGE_STEPS):
                    assert not in_picture(layout, one + share * (other - one))


def in_picture(layout: Layout, place: np.ndarray) -> bool:
    """Whether the lens sees a place, by the pinhole's similar triangles."""
    lens = layout.view
    assert lens is not None
    away = place - lens.position_m
    depth = -away @ lens.back
    if depth <= 0:
        return False
    slopes = abs(away @ lens.right) / depth, abs(away @ lens.up) / depth
    halves = 0.5 * lens.frame_width_m / lens.image_m, 0.5 * lens.frame_height_m / lens.image_m
    return slopes[0] < halves[0] and slopes[1] < halves[1]


def test_a_box_loses_less_near_than_the_inverse_square_law_says(tmp_path: Path) -> None:
    """Truth: stops of a 60 x 90 cm even front under the point law, published view factor of a
    rectangle (rows SB of the table), and the trade's rounded 0.25 at 1 m and 0.1 at 1.5 m.
    """
    front = "size_cm = [60, 90]"
    scene = empty(tmp_path, "one-box", 'modifier = "softbox-60x90"', front)
    distances = (0.6, 0.9, 1.0, 1.2, 1.5, 3.0)
    listed = ", ".join(map(str, distances))
    found = stops_from_first(rows(scene, f"light.key.distance_m={listed}"))
    over = {d: s + 2 * math.log2(d / 0.6) for d, s in zip(distances, found, strict=True)}
    for distance in (0.9, 1.2, 1.5, 3.0):
        printed = f"SB-.6x.9@{distance:g}".replace("@0", "@")
        apart = CHECKS[printed].values[1] - CHECKS["SB-.6x.9@.6"].values[1]
        assert over[distance] == pytest.approx(apart, abs=0.005)
        assert over[distance] == pytest.approx(below_point(distance) - below_point(0.6), abs=0.005)
    assert -below_point(1.0) == pytest.approx(0.25, abs=0.05)  # trade table, computed
    assert -below_point(1.5) == pytest.approx(0.1, abs=0.05)


def below_point(distance_m: float, width_m: float = 0.6, height_m: float = 0.9) -> float:
    """Stops of an even front under the point law, straight ahead: a sum over its places of
    cos² over distance², against the same front drawn together in its middle."""
    across, down = (side * ((np.arange(400) + 0.5) / 400 - 0.5) for side in (width_m, height_m))
    square = distance_m**2 + across[:, None] ** 2 + down[None, :] ** 2
    return math.log2(float((distance_m**2 / square**2).mean()) * distance_m**2)


def test_each_step_of_the_falloff_lesson_is_one_stop_for_a_point_and_less_for_the_box(
    tmp_path: Path, lectures: dict[str, Lecture]
) -> None:
    vary = lectures["falloff"].lesson.vary[0]
    box = np.diff(stops_from_first(rows(empty(tmp_path, "one-box"), vary)))
    small = empty(tmp_path, "one-box", 'modifier = "softbox-60x90"', "size_cm = [2, 2]")
    point = np.diff(stops_from_first(rows(small, vary)))
    values = [float(text) for text in vary.partition("=")[2].split(",")]
    assert point == pytest.approx(-2 * np.diff(np.log2(values)), abs=0.01)
    assert np.all(np.abs(point + 1) < 0.02)
    assert np.all(box > point)
    assert np.all(np.diff(box) < 0)


def test_grids_cost_what_the_trade_says(tmp_path: Path) -> None:
    """Truth: loss of 60 x 90 cm at 1 m with 20, 30, 40 and 50 degrees (trade notes, computed
    for a cosine source)."""
    scene = empty(tmp_path, "pale-room", 'modifier = "softbox-60x90"', "size_cm = [60, 90]")
    scene.write_text(scene.read_text().replace("distance_m = 1.3\n", "distance_m = 1.0\n"))
    found = stops_from_first(rows(scene, "light.key.grid_deg=-, 50, 40, 30, 20"))
    assert found[1:] == pytest.approx([-0.5, -0.7, -1.1, -1.9], abs=0.15)


def test_papers_get_the_codes_of_the_table(tmp_path: Path) -> None:
    """Truth: sRGB codes of 0.18 and 0.045 and their halves (rows SR of the table), for papers
    that read the camera's f-number and a stop under it."""
    scene = empty(tmp_path, "one-box")
    vary = "light.key.power={},{}", "backdrop.colour=black-paper, grey-paper"
    first = rows(scene, vary[0].format(0.5, 0.25), vary[1])[0]
    reads = next(r.f_number for r in first.readings if r.point == "backdrop_centre")
    power = 0.5 * (8 / reads) ** 2
    scene.write_text(scene.read_text().replace("monobloc-400", "monobloc-600"))
    power *= 400 / 600
    found = rows(scene, vary[0].format(power, power / 2), vary[1])
    codes = [row.backdrop_code for row in found]
    truths = [CHECKS[f"SR-{linear}"].values[0] for linear in (0.045, 0.0225, 0.18, 0.09)]
    assert codes == pytest.approx(truths, abs=1)


def test_a_key_that_goes_round_makes_the_patterns_in_the_textbooks_order(
    lectures: dict[str, Lecture], stood: dict[str, list[Layout]]
) -> None:
    """Truth: common practice, no source."""
    cells = zip(lectures["patterns"].series.cells, stood["patterns"], strict=True)
    found = [drawn(cell.setup, layout).pattern for cell, layout in cells]
    assert found == ["butterfly", "loop", "45-degree", "split", "rim"]


def test_shadow_edges_go_as_size_over_distance(stood: dict[str, list[Layout]]) -> None:
    """Truth: similar triangles; a front that is not small against its distance falls short."""
    edges = []
    for layout in (stood["softness"][k] for k in (1, 2, 7)):  # 20 and 40 cm near, 80 cm far
        assert layout.body is not None
        gap = nose_shadow(layout.body, layout.fronts[layout.key])
        edges.append(shadow_edge_mm(layout, gap)[0] or 0.0)
    assert edges[1] / edges[0] == pytest.approx(2, rel=0.05)
    assert edges[2] == pytest.approx(edges[1], rel=0.08)


def test_ratios_of_the_panel_lesson_are_those_of_the_table(
    tmp_path: Path, stood: dict[str, list[Layout]]
) -> None:
    """Truth: a key n stops over the fill is 2^n:1 and, both on the lit side, 2^n + 1 to 1 (rows LR
    of the table; 2:1 is one stop)."""
    text = (FOLDER / "sets" / "box-and-panel.toml").read_text()
    text += "\n[light.fill]\nluminous_energy_lm_s = 1e4\nsize_cm = [60, 60]\ndistance_m = 1.5\n"
    file = tmp_path / "filled.toml"
    file.write_text(text + "azimuth_deg = 10\npower = 0.001\n")
    body = stood["panel"][0].body
    (first,) = quick(file, body, "light.fill.power=0.001")
    assert first.key_to_fill is not None
    for n in range(5):
        assert CHECKS[f"LR-{n}"].agrees(float(lighting_ratio(2.0**n, 1.0)))
    stronger = 0.001 * first.key_to_fill / 2  # a stop under the key
    (row,) = quick(file, body, f"light.fill.power={stronger}")
    assert row.key_to_fill == pytest.approx(2, rel=1e-6)
    assert row.lighting_ratio is not None
    assert CHECKS["LR-1"].agrees(row.lighting_ratio)


def test_a_white_room_lifts_the_shadow_side_more_than_the_lit_side(
    lectures: dict[str, Lecture],
    stood: dict[str, list[Layout]],
    engine: Engine,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Truth: what the walls give is nearly even, and the shadow side has less (common practice)."""
    vary = lectures["room-paint"].lesson.vary[0]
    ends = f"{vary.split('=')[0]}=black-paint, white-paint"
    monkeypatch.setattr(measuring, "SAMPLES", TRACED)
    monkeypatch.setattr(measuring, "BOUNCE_SAMPLES", TRACED)
    body, scene = stood["room-paint"][0].body, FOLDER / "sets" / "pale-room.toml"
    dark, white = quick(scene, body, ends, engine=engine)
    assert dark.shadow_side_stops is not None
    assert white.shadow_side_stops is not None
    assert white.shadow_side_stops > dark.shadow_side_stops + 0.3
    assert white.face_f_number > dark.face_f_number
    assert (white.lighting_ratio or 0) < 0.7 * (dark.lighting_ratio or 0)


def test_light_frames_of_the_list_are_those_that_are_traced(scene: Path, tmp_path: Path) -> None:
    """Truth: N values of one light's distance beside another light are N + 1 frames; powers and
    camera speed ask for none; walls for all anew."""
    for vary, frames in (
        (["light.key.distance_m=0.7,1,1.4"], 4),
        (["light.key.distance_m=0.7,1,1.4", "light.fill.power=1/8,1/4"], 4),
        (["camera.iso_speed=100,200"], 2),
        (["room.walls=0.2,0.5,0.8"], 6),
        (["light.fill.on=true,false"], 2),
    ):
        cells = read_series(scene, vary).cells
        cost = estimate(cells, "draft", 50)
        due = frames_due(cells, "draft", 50, FrameStore(tmp_path), "llvm")
        assert cost.frames == due.frames == frames
        assert cost.bytes == due.missing_bytes


def own(folder: Path, base: Path, **changed: object) -> Path:
    keys = {
        "title": "Chair",
        "scene": str(base),
        "vary": ["light.key.distance_m=0.7, 1.4"],
        "look_for": ["Look here.", "Look there."],
        **changed,
    }
    file = folder / "mine.toml"
    file.write_text("".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items()))
    return file


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"tittle": "x"}, "mine.toml: tittle: unknown key (did you mean title?)"),
        ({"look_for": ["One."]}, "mine.toml: look_for: found"),
        ({"scene": "none.toml"}, 'mine.toml: scene: no file "none.toml"'),
        ({"scene": "none"}, "none: no such file"),
        ({"vary": ["light.key.distanc_m=1"]}, "mine.toml: vary: light.key.distanc_m: unknown key"),
        ({"vary": ["light.key.distance_m=1,40"]}, "mine.toml: cell 2 (key distance 40 m): "),
        ({"show": ["face", "chair", "hair"]}, 'mine.toml: show: found "chair"'),
    ],
)
def test_a_mistake_in_an_own_lesson_is_one_sentence(
    scene: Path, tmp_path: Path, changed: dict[str, object], said: str
) -> None:
    with pytest.raises((LessonError, OutputError, SceneError)) as problem:
        read_lesson(own(tmp_path, scene, **changed))
    assert str(problem.value).startswith(said)
    assert "\n" not in str(problem.value)


def test_an_own_lesson_prints_its_words_and_its_table(
    scene: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = own(tmp_path, scene, question="What?", exposure="both")
    out = run(monkeypatch, capsys, "lesson", str(file), "--direct", "--json")
    cells = json.loads(out)["cells"]
    assert [cell["exposure"] for cell in cells] == ["kept", "kept", "re-metered", "re-metered"]
    assert cells[1]["face_stops_re_first"] == pytest.approx(-2, abs=0.7)
    out = run(monkeypatch, capsys, "lesson", str(file), "--direct", "--csv", "--exposure", "kept")
    assert len(list(csv.DictReader(io.StringIO(out)))) == 2


def test_the_list_names_every_lesson_and_its_keys_are_documented(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    found = json.loads(run(monkeypatch, capsys, "lesson", "list", "--json"))["lessons"]
    assert [each["name"] for each in found] == list(lesson_names())
    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    assert all(f"`{key}`" in page for key in found[0])
    monkeypatch.setattr("render.cli.lessons.lesson_names", lambda: ("falloff",))
    shown = run(monkeypatch, capsys, "lesson", "list")
    assert "Distance and falloff" in shown


def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: str) -> str:
    monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    shown = capsys.readouterr()
    assert ended.value.code in (0, None), shown.err
    return shown.out


def test_the_sheet_shows_the_words_under_its_title(tmp_path: Path) -> None:
    picture = np.full((300, 240, 3), 90, np.uint8)
    lead = ("Look here. Look there.", "Question: what?")
    plates = (Plate(picture, ("key distance 1 m", "face f/8")),) * 2
    page = Page("Chair: key distance", plates, 2, (), "All else as in the scene file.", lead=lead)
    words = PdfReader(write_sheet(tmp_path / "sheet.pdf", page)).pages[0].extract_text()
    places = [words.index(each) for each in ("Chair", "Look here", "Question", "face f/8", "All")]
    assert places == sorted(places)


def test_captions_and_notes_keep_to_the_figures_that_a_lesson_shows(tmp_path: Path) -> None:
    scene = empty(tmp_path, "one-box")
    series = read_series(scene, ["light.key.distance_m=1,2"])
    row = metered(series, ("kept",), None)[0].cells[1]
    lines = caption(series, row, ("backdrop", "chair", "pattern"))
    assert lines[0] == "key distance 2 m"
    assert lines[1].startswith("backdrop ")
    assert lines[2].startswith("key alone f/")
    assert len(lines) == 3  # no sitter, so no pattern
    assert "Falloff" not in notes("kept", [row], ("backdrop",))
    assert "Falloff" in notes("kept", [row])


def test_every_set_of_the_lessons_is_used() -> None:
    used = {tomllib.loads(file.read_text())["scene"] for file in FOLDER.glob("*.toml")}
    assert used == {f"sets/{file.name}" for file in FOLDER.glob("sets/*.toml")}

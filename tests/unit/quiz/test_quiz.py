"""Answers of a quiz against readings and hand formulas; sheets that give nothing away."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from render.cli import main
from render.cli import quiz as making
from render.errors import OutputError
from render.plan.checks.pattern import pattern
from render.quiz import draw, settle
from render.quiz.confirm import context_of, faults_in
from render.quiz.draw import Asked, drawn, kinds_of, source_of
from render.quiz.files import keep, kept, write_scene
from render.quiz.key import write_key
from render.quiz.mirror import mirrored
from render.quiz.pictures import Pictured
from render.quiz.powers import read
from render.quiz.questions import KINDS, Answer, Fault, Kind, Question
from render.quiz.scenes import given_scene, stood, with_keys
from render.quiz.settle import Source
from render.quiz.sheets import write_class
from render.report import meter
from render.report.readings import Readings
from render.scenefile import load_scene

SCENE, SEED = "violin-two-lights", 3
PIXELS = np.full((50, 40, 3), 90, np.uint8)
Ask = Callable[[Kind], Question]


@pytest.fixture(scope="module")
def source() -> Source:
    return source_of(given_scene(SCENE), None)


@pytest.fixture(scope="module")
def ask(source: Source) -> Ask:
    """The first question of a kind, closed form alone."""
    made: dict[Kind, Question] = {}

    def asked(kind: Kind) -> Question:
        if kind not in made:
            few = replace(source, faults=("high",))
            made[kind] = drawn(few, Asked(1, (kind,), SEED), 1, None)
        return made[kind]

    return asked


@pytest.fixture
def written(source: Source, tmp_path: Path) -> Callable[[Question], Path]:
    return lambda question: write_scene(tmp_path, source.given, question, SEED)


def metered_at(question: Question, *places: str) -> Question:
    """The question with its scene's meter held at these places alone."""
    points = {f"point.{name}": {"landmark": name} for name in places}
    return replace(question, tables=with_keys(question.tables, points))


def light(found: Readings, point: str, lights: str) -> float:
    rows = found.readings
    return next(r for r in rows if (r.point, r.lights) == (point, lights)).luminous_exposure_lx_s


def test_both_ratios_follow_from_two_readings_of_the_written_scene(
    ask: Ask, written: Callable[[Question], Path]
) -> None:
    """Truth: key and fill s stops apart are 2^s : 1, and 2^s + 1 : 1 where both reach."""
    question = ask("ratio")
    setup = load_scene(written(metered_at(question, "key_cheek", "shadow_cheek")))
    key = light(meter(setup, bounce=False), "key_cheek", "key")
    aimed = meter(setup, receptor="flat", aim="camera", bounce=False)
    apart = math.log2(key / light(aimed, "shadow_cheek", "fill"))
    one, other = question.answers
    assert (one.name, other.name) == ("K:F", "(K+F):F")
    assert one.value == pytest.approx(2**apart, rel=1e-3)
    assert other.value == pytest.approx(2**apart + 1, rel=1e-3)
    assert one.low is not None
    assert one.high is not None
    assert math.log2(one.high / one.low) == pytest.approx(1.0, abs=1e-6), "half a stop each way"


def test_the_backdrop_is_so_many_stops_from_the_face_as_f_numbers_say(
    ask: Ask, written: Callable[[Question], Path]
) -> None:
    """Truth: f-numbers N and M are 2 log2(N / M) stops apart (ISO 517 series)."""
    question = ask("backdrop")
    corner = (
        "backdrop_top_left" if question.mark and question.mark[0] < 0.5 else "backdrop_top_right"
    )
    file = written(metered_at(question, "key_cheek", corner))
    rows = meter(load_scene(file), bounce=False).readings
    number = {r.point: r.f_number for r in rows if r.lights == "all"}
    stops = 2 * math.log2(number[corner] / number["key_cheek"])
    assert question.answers[0].value == pytest.approx(stops, abs=1e-3)


def test_the_side_is_that_of_the_azimuth_and_the_count_that_of_the_lights_on(
    ask: Ask, written: Callable[[Question], Path]
) -> None:
    """Truth: a scene file's negative azimuth is camera left; a light fires unless on = false."""
    question = ask("side")
    azimuth = load_scene(written(question)).scene.light["key"].azimuth_deg
    assert azimuth is not None
    assert question.answers[0].value == ("left" if azimuth < 0 else "right")
    question = ask("lights")
    lights = load_scene(written(question)).scene.light.values()
    assert question.answers[0].value == sum(each.on for each in lights)


def test_the_pattern_is_the_one_that_check_names(
    source: Source, ask: Ask, written: Callable[[Question], Path]
) -> None:
    question = ask("pattern")
    file = written(question)
    there = stood(file, question.tables, source.given.stands)
    words = pattern(context_of(there))[0].words
    name, side = (each.value for each in question.answers)
    assert f"makes {name} light" in words
    assert side == "neither" or f", {side}:" in words


def test_a_planted_fault_is_found_in_the_written_scene_and_alone(
    source: Source, ask: Ask, written: Callable[[Question], Path]
) -> None:
    question = ask("fault")
    there = stood(written(question), question.tables, source.given.stands)
    assert set(faults_in(context_of(there), read(there, None))) == {"high"}
    assert question.answers[0].value == question.fault == "high"


def test_a_seed_is_a_quiz_and_another_seed_another(source: Source, ask: Ask) -> None:
    one = ask("side")
    assert drawn(source, Asked(1, ("side",), SEED), 1, None) == one
    assert drawn(source, Asked(1, ("side",), SEED + 1), 1, None).tables != one.tables


def test_a_mirror_turns_back(source: Source) -> None:
    tables = source.given.tables
    assert mirrored(tables) != tables
    assert mirrored(mirrored(tables)) == tables


def test_what_stands_on_one_side_stands_on_the_other_in_a_mirror() -> None:
    """Truth: a mirror before the lens takes x to -x, and the room's sides with it."""
    drape = [0.02, 0.02, 0.02]
    room = {"width_m": 3.2, "left_wall_m": 1.2, "camera_left_wall": drape}
    door = {"wall": "back", "from_m": 0.3, "width_m": 0.9}
    made = mirrored(
        {
            "room": room | {"door": door},
            "backdrop": {"gap_m": 1.3, "offset_m": 0.2},
            "sitter": {"gaze": [0.5, 1.2, 2.0], "head_turn_deg": 10},
            "light": {"key": {"around": "cheek_sitter_left", "aim": "mark_left"}},
            "panel": {"flag": {"guards": {"light": "key", "point": [0.1, 1, 0]}}},
            "point": {"mark_left": {"landmark": "hair_camera_left"}},
        }
    )
    assert made["room"] == {
        "width_m": 3.2,
        "left_wall_m": 2.0,
        "camera_right_wall": drape,
        "door": {"wall": "back", "from_m": pytest.approx(2.0), "width_m": 0.9},
    }
    assert made["backdrop"]["offset_m"] == -0.2
    assert made["sitter"] == {"gaze": [-0.5, 1.2, 2.0], "head_turn_deg": -10}
    assert made["light"]["key"] == {"around": "cheek_sitter_right", "aim": "mark_left"}
    assert made["panel"]["flag"]["guards"]["point"] == [-0.1, 1, 0]
    assert made["point"]["mark_left"]["landmark"] == "hair_camera_right"
    side = {"wall": "camera left", "from_m": 1.0}
    assert mirrored({"room": room | {"door": side}})["room"]["door"]["wall"] == "camera right"


@pytest.mark.parametrize("fault", ["nose", "frame"])
def test_a_fault_is_drawn_where_it_holds(source: Source, fault: Fault) -> None:
    """Places are tried until the fault is there, so that its first set-up is a question."""
    one = drawn(replace(source, faults=(fault,)), Asked(1, ("fault",), SEED), 1, None)
    assert (one.fault, one.attempt) == (fault, 0)


def test_where_every_set_up_has_a_fault_it_says_so_in_a_sentence(
    source: Source, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(draw, "TRIES", 1)
    monkeypatch.setattr(settle, "faults_in", lambda *_: {"nose": 0.0, "high": 60.0})
    with pytest.raises(
        OutputError, match=r"no set-up for question 1 \(fault\) in 1 tries.*another"
    ):
        drawn(replace(source, faults=("high",)), Asked(1, ("fault",), SEED), 1, None)


def test_a_kind_that_a_scene_cannot_ask_is_left_out_with_a_sentence(
    source: Source, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Truth: of two kinds the one that is possible stays, unless the other was named."""

    def made(maker: making._Maker, *_: object) -> list[Pictured]:
        if "ratio" in maker.asked.kinds:
            raise draw.no_question(source, 1, "ratio", "the shadow cheek gets no fill")
        return []

    monkeypatch.setattr(making._Maker, "made", made)
    asked = Asked(2, ("ratio", "side"), SEED)
    wanted = making.Wanted(Path("quiz.pdf"), "a4", "draft", 32, False, (None, ""))
    running: Any = None
    left, _ = making._made(source, asked, False, wanted, "llvm", running)
    assert left.kinds == ("side",)
    words = "No ratio questions from violin-two-lights.toml: the shadow cheek gets no fill."
    assert words in capsys.readouterr().err
    with pytest.raises(OutputError, match=r"no set-up for question 1 \(ratio\)"):
        making._made(source, asked, True, wanted, "llvm", running)


def test_a_kept_question_is_the_same(ask: Ask, tmp_path: Path) -> None:
    keep(tmp_path / "one.json", ask("backdrop"))
    assert kept(tmp_path / "one.json") == ask("backdrop")
    (tmp_path / "one.json").write_text("{")
    assert kept(tmp_path / "one.json") is None


def test_the_class_sheet_is_the_same_whatever_the_answers_are(ask: Ask, tmp_path: Path) -> None:
    kinds: tuple[Kind, ...] = ("ratio", "pattern", "side", "lights", "backdrop", "fault")
    made = [Pictured(replace(ask(k), number=n), PIXELS, 0.0, "") for n, k in enumerate(kinds, 1)]
    (sheet,) = write_class(tmp_path / "class.pdf", made, SEED, "a4")
    nothing = (Answer("x", "y", "secret", None, None, "secret", None, "secret"),)
    blind = [
        replace(each, question=replace(q, answers=nothing, change="secret", fault=None, tables={}))
        for each in made
        for q in (each.question,)
    ]
    (other,) = write_class(tmp_path / "other.pdf", blind, SEED, "a4")
    assert sheet.read_bytes() == other.read_bytes()
    found = PdfReader(sheet)
    text = " ".join(page.extract_text() for page in found.pages)
    assert load_scene(SCENE).scene.title not in text
    assert set(found.metadata or {}) <= {"/Title", "/Creator", "/Producer"}
    (key,) = write_key(tmp_path / "key.pdf", made, "A scene", SEED, "letter")
    told = " ".join(page.extract_text() for page in PdfReader(key).pages)
    for each in made:
        for answer in each.question.answers:
            assert answer.shown in told


def test_kinds_are_those_that_the_scene_has(source: Source) -> None:
    assert kinds_of(source.given, ()) == KINDS
    assert kinds_of(source.given, ("side", "side", "ratio")) == ("side", "ratio")


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["tenthstop", "quiz", *words])
    try:
        main()
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("empty-room",), "empty-room.toml: sitter: missing"),
        ((SCENE, "--kinds", "mood"), '--kinds: found "mood" (accepted: ratio, pattern'),
        ((SCENE, "--out", "none/quiz.pdf"), "there is no folder none"),
        ((SCENE, "--out", "quiz.svg"), "must end in .pdf or .png"),
        ((SCENE, "--quality", "best"), '--quality: found "best"'),
    ],
)
def test_wrong_words_are_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    words: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, *words) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1


def test_a_quiz_is_sheets_and_scenes_and_traced_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    words = (
        SCENE,
        "--questions",
        "1",
        "--kinds",
        "side",
        "--seed",
        str(SEED),
        "--direct",
        "--json",
    )
    small = ("--size", "24", "--quality", "4", "--out", "quiz.png")
    assert run(monkeypatch, *words, *small) == 0
    told = capsys.readouterr()
    (row,) = json.loads(told.out)["questions"]
    assert {"quiz.png", "quiz.key.png", "quiz.key"} == {each.name for each in tmp_path.iterdir()}
    azimuth = load_scene(row["scene_file"]).scene.light["key"].azimuth_deg
    assert azimuth is not None
    assert row["answers"][0]["value"] == ("left" if azimuth < 0 else "right")
    assert run(monkeypatch, *words, *small) == 0
    assert "0 of them to trace" in capsys.readouterr().err

"""Wishes of one light, of any point, both ways: cures meet them, by the meter, once written."""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path

import pytest

from render.cli import main
from render.errors import OutputError
from render.plan.changes.settings import changed, of_light
from render.plan.who.cheapest import Verdict, cheapest
from render.plan.who.contributors import who
from render.report import meter
from render.scenefile import Setup, load_scene

# Three small fronts and a paper in a black void, all at a height of 1.2 m.
SET = """
title = "three lights"   # in a black void
[backdrop]
gap_m = 2.0
width_m = 3.0
height_m = 2.4
colour = "grey-paper"
[camera]
distance_m = 1.0
f_number = 8
[light.key]
flash = "monobloc-400"
size_cm = [20, 20]
power = "1/8"  # to begin with
azimuth_deg = -45
distance_m = 1.2
[light.fill]
flash = "monobloc-200"
size_cm = [20, 20]
power = "1/8"
azimuth_deg = 60
distance_m = 1.2
[light.background]
flash = "monobloc-200"
size_cm = [10, 10]
power = "1/16"
position_m = [-1.2, 1.2, -1.0]
aim = "backdrop_centre"
[point.face]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
[point.side]
position_m = [0.8, 1.2, -0.5]
facing = [1, 0, 0]
"""
CENTRE = "backdrop_centre"
TENTH = 0.1 + 1e-9  # a wish is met within what a meter shows


def scene(folder: Path, **wishes: str) -> Setup:
    """The set with its face wanted as it reads, and other wishes beside that."""
    file = folder / "three.toml"
    file.write_text(SET + '[wanted]\nface = { point = "face", f_number = 8 }\n')
    reads = who(load_scene(file), ["face"], engine=None)[0].face_f_number
    lines = "".join(f"{name} = {{ {wish} }}\n" for name, wish in wishes.items())
    file.write_text(SET + f'[wanted]\nface = {{ point = "face", f_number = {reads:.4f} }}\n{lines}')
    return load_scene(file)


def verdicts(setup: Setup, *points: str, want: float | None = None) -> tuple[Verdict, ...]:
    return cheapest(who(setup, points, engine=None)[1], want, engine=None)


def check_by_meter(setup: Setup, verdict: Verdict) -> None:
    """Every cure, made in the scene, gives by the meter table what it was listed with."""
    name = verdict.wanted.removeprefix("wanted.")
    wanted = next(row for row in meter(setup, bounce=False).wishes if row.name == name)
    assert wanted.miss_stops == pytest.approx(verdict.off_stops, abs=1e-6)
    for cure in verdict.cures:
        after = changed(setup, cure.settings)
        miss = next(row for row in meter(after, bounce=False).wishes if row.name == name).miss_stops
        miss = -12 if miss is None else miss  # no light at all
        assert miss == pytest.approx(cure.off_stops, abs=1e-6)
        assert cure.meets == (miss <= TENTH if verdict.off_stops > 0 else miss >= -TENTH)


def test_spill_of_one_light_on_the_backdrop(tmp_path: Path) -> None:
    """Cures are of that light, its place and the gap; no other light is touched but the key."""
    setup = scene(tmp_path, spill=f'point = "{CENTRE}", light = "fill", stops = -9')
    (verdict,) = verdicts(setup, CENTRE)
    assert (verdict.lights, verdict.met, verdict.code) == ("fill", False, None)
    assert verdict.cures[0].meets
    check_by_meter(setup, verdict)
    for cure in verdict.cures:
        assert not any(each.key.startswith("light.background") for each in cure.settings) or any(
            each.key == "backdrop.gap_m" for each in cure.settings
        )


@pytest.mark.parametrize(("more", "way"), [(-0.5, "down"), (0.5, "up")])
def test_a_place_by_the_fill_is_met_by_its_dial_first(
    tmp_path: Path, more: float, way: str
) -> None:
    """One click past what is needed at most, the key turned back for the face and all."""
    plain = scene(tmp_path)
    stops = who(plain, ["side"], engine=None)[0].points[0].stops_re_face
    assert stops is not None
    setup = scene(tmp_path, side=f'point = "side", stops = {stops + more:.4f}')
    (verdict,) = verdicts(setup, "side")
    assert verdict.off_stops == pytest.approx(-more, abs=1e-3)
    best = verdict.cures[0]
    assert (best.meets, best.effort) == (True, 1)
    assert best.name.startswith("fill light ")
    assert f" {way}, to " in best.name
    assert abs(best.off_stops) < 0.21  # a click of the fill, one of the key and what is near enough
    check_by_meter(setup, verdict)


def test_stops_from_the_face_for_any_point(tmp_path: Path) -> None:
    """The same as a wish in stops; the face itself cannot be wanted against itself."""
    setup = scene(tmp_path)
    (verdict,) = verdicts(setup, "side", want=-3.0)
    found = who(setup, ["side"], engine=None)[0]
    above = 2 * math.log2(found.points[0].f_number / found.face_f_number)
    assert verdict.off_stops == pytest.approx(above + 3, abs=1e-6)
    assert all(cure.stops < 0 for cure in verdict.cures)
    with pytest.raises(OutputError, match="besides the face"):
        verdicts(setup, "face", want=-3.0)


def test_a_backdrop_too_dark_is_turned_up_first(tmp_path: Path) -> None:
    """Least work is the background light's dial; paler paper and a narrower gap are listed too."""
    plain = scene(tmp_path)
    stops = who(plain, [CENTRE], engine=None)[0].points[0].stops_re_face
    assert stops is not None
    setup = scene(tmp_path, paper=f'point = "{CENTRE}", stops = {stops + 0.7:.4f}')
    (verdict,) = verdicts(setup, CENTRE)
    assert verdict.off_stops == pytest.approx(-0.7, abs=1e-3)
    best = verdict.cures[0]
    assert best.name.startswith("background light ")
    assert " up, to " in best.name
    assert (best.effort, best.meets) == (1, True)
    names = " ".join(cure.name for cure in verdict.cures)
    assert "light grey paper" in names
    assert [cure.effort for cure in verdict.cures if cure.meets] == sorted(
        cure.effort for cure in verdict.cures if cure.meets
    )


def test_a_paper_far_too_dark_is_not_the_cheapest_way_to_a_grey(tmp_path: Path) -> None:
    """Black velvet is past a wished grey by stops; whatever lands on it comes first."""
    plain = scene(tmp_path)
    stops = who(plain, [CENTRE], engine=None)[0].points[0].stops_re_face
    assert stops is not None
    setup = scene(tmp_path, paper=f'point = "{CENTRE}", stops = {stops - 1.0:.4f}')
    (verdict,) = verdicts(setup, CENTRE)
    past = [abs(cure.off_stops) > 0.5 for cure in verdict.cures if cure.meets]
    assert past == sorted(past)
    assert any(past)
    assert not past[0]


def test_a_cure_says_which_other_wish_it_upsets(tmp_path: Path) -> None:
    """The fill, wanted as it is, cannot be turned down without being missed by as much."""
    plain = scene(tmp_path)
    rows = {(row.point, row.lights): row for row in meter(plain, bounce=False).readings}
    fill = 2 * math.log2(rows["face", "fill"].f_number / plain.scene.wanted["face"].f_number)
    side = who(plain, ["side"], engine=None)[0].points[0].stops_re_face
    assert side is not None
    setup = scene(
        tmp_path,
        ratio=f'point = "face", light = "fill", stops = {fill:.4f}',
        side=f'point = "side", stops = {side - 1:.4f}',
    )
    (verdict,) = verdicts(setup, "side")
    turned = next(cure for cure in verdict.cures if cure.name.startswith("fill light"))
    assert turned.upsets == ("ratio",)
    harmless = [cure for cure in verdict.cures if cure.meets and not cure.upsets]
    assert verdict.cures[: len(harmless)] == tuple(harmless)
    for cure in verdict.cures:
        wishes = meter(changed(setup, cure.settings), bounce=False).wishes
        off = next(row.miss_stops for row in wishes if row.name == "ratio")
        assert bool(cure.upsets) == (abs(off) > TENTH)


def test_a_light_that_is_off_is_switched_on_first(tmp_path: Path) -> None:
    """Fired as it stood, it gives what the meter showed of it before."""
    plain = scene(tmp_path)
    rows = {(row.point, row.lights): row for row in meter(plain, bounce=False).readings}
    fill = 2 * math.log2(rows["side", "fill"].f_number / plain.scene.wanted["face"].f_number)
    setup = scene(tmp_path, side=f'point = "side", light = "fill", stops = {fill:.4f}')
    off = changed(setup, of_light("fill", on=False))
    (verdict,) = verdicts(off, "side")
    assert (verdict.shown, verdict.met) == ("no light", False)
    best = verdict.cures[0]
    assert (best.name, best.meets) == ("fill light on", True)
    assert best.f_number == pytest.approx(rows["side", "fill"].f_number, rel=1e-6)


def test_a_range_costs_nothing_inside_it(tmp_path: Path) -> None:
    plain = scene(tmp_path)
    stops = who(plain, [CENTRE], engine=None)[0].points[0].stops_re_face
    assert stops is not None
    wish = f'point = "{CENTRE}", stops = {stops - 0.4:.4f}, range_stops = '
    (inside,) = verdicts(scene(tmp_path, paper=wish + "[-0.1, 0.5]"), CENTRE)
    assert (inside.met, inside.off_stops, inside.cures) == (True, 0.0, ())
    (outside,) = verdicts(scene(tmp_path, paper=wish + "[-0.1, 0.1]"), CENTRE)
    assert outside.off_stops == pytest.approx(0.3, abs=1e-3)


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["tenthstop", "who", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0)


def test_a_written_cure_gives_by_the_meter_what_it_promised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second cure of the list; comments and all other lines stay."""
    setup = scene(tmp_path, paper=f'point = "{CENTRE}", stops = -3')
    before = setup.file.read_text()
    words = (str(setup.file), CENTRE, "--direct", "--json", "--write", "--cure", "2")
    assert run(monkeypatch, *words) == 0
    (verdict,) = json.loads(capsys.readouterr().out)["wanted"]
    cure = verdict["cures"][1]
    text = setup.file.read_text()
    assert "# in a black void" in text
    assert len(set(before.splitlines()) - set(text.splitlines())) <= len(cure["settings"])
    after = meter(load_scene(setup.file), bounce=False)
    row = next(row for row in after.readings if (row.point, row.lights) == (CENTRE, "all"))
    assert row.f_number == pytest.approx(cure["f_number"], rel=1e-9)
    face = next(row for row in after.wishes if row.name == "face")
    assert abs(face.miss_stops) < TENTH


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("violin-two-lights", "--write"), "is a bundled scene"),
        (("violin-two-lights", "--cure", "2"), "without --write"),
        (("violin-two-lights", "--want", "blak"), 'found "blak"'),
        (("violin-two-lights", "--want", "nan"), 'found "nan"'),
    ],
)
def test_mistakes_are_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    said: str,
) -> None:
    assert run(monkeypatch, *words) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1

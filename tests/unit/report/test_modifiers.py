"""Modifiers on one flash in one place: what every photographer sees of them, in numbers."""

import json
import math
from dataclasses import asdict, fields, replace
from pathlib import Path

import pytest

from render.errors import OutputError, SceneError
from render.report import face
from render.report.modifiers import TrialRow, Trials, try_modifiers
from render.report.outfits import (
    Outfit,
    key_light,
    read_outfits,
    usual_outfits,
    with_outfit,
)
from render.scenefile import Setup, load_scene
from render.trace import Engine

DIAL_STEP = 0.1  # of the head of this scene
SHOWN = (
    "bare-tube, reflector-standard, reflector-standard grid=honeycomb-20, dish-white-55, "
    "softbox-60x60, softbox-120x120, softbox-120x120 grid=fabric-40, softbox-120x120 diffusers=0, "
    "octa-120, softbox-90x120"
)


def with_key(setup: Setup, **changes: object) -> Setup:
    lights = {"key": setup.scene.light["key"].model_copy(update=changes)}
    return replace(setup, scene=setup.scene.model_copy(update={"light": lights}))


def rows(setup: Setup, words: str, engine: Engine | None = None) -> dict[str, TrialRow]:
    table = try_modifiers(setup, read_outfits(setup, words), engine=engine)[0]
    return {row.name: row for row in table.rows}


@pytest.fixture(scope="module")
def setup() -> Setup:
    return load_scene("violin-one-light")


@pytest.fixture(scope="module")
def table(setup: Setup) -> Trials:
    return try_modifiers(setup, read_outfits(setup, SHOWN), engine=None)[0]


@pytest.fixture(scope="module")
def found(table: Trials) -> dict[str, TrialRow]:
    return {row.name: row for row in table.rows}


def test_every_modifier_brings_the_face_to_the_same_reading(table: Trials) -> None:
    """Within half a click of the dial; half as many stops in f-numbers."""
    for row in table.rows:
        assert row.missing_stops == 0, row.name
        ratio = row.f_number / table.wanted_f_number
        assert abs(2 * math.log2(ratio)) <= DIAL_STEP / 2 + 1e-6, row.name


def test_the_modifier_that_stands_there_keeps_its_power(
    setup: Setup, found: dict[str, TrialRow]
) -> None:
    own = setup.scene.light["key"]
    row = found[str(own.modifier)]
    assert row.power == pytest.approx(own.power, rel=1e-6)
    assert row.power_shown == "1/8 +0.6"


def test_losses_are_those_of_the_power(found: dict[str, TrialRow]) -> None:
    """What one modifier loses against another, the dial gives; straight light alone."""
    standard = found["reflector-standard"]
    assert standard.loss_stops == pytest.approx(0, abs=1e-9)
    for row in found.values():
        assert row.loss_stops is not None
        more = 2**-row.loss_stops * row.power / standard.power
        assert more == pytest.approx(1, rel=0.06), row.name


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        # Losses on the axis against a standard reflector, trade pages and common practice.
        ("dish-white-55", 1.0, 1.6),
        ("octa-120", 2.5, 3.5),
        ("softbox-60x60", 2.0, 3.1),
        ("reflector-standard, grid honeycomb-20", 0.5, 1.0),
    ],
)
def test_losses_lie_where_the_trade_has_them(
    found: dict[str, TrialRow], name: str, least: float, most: float
) -> None:
    loss = found[name].loss_stops
    assert loss is not None
    assert least <= loss <= most


@pytest.mark.parametrize("measure", ["edge_mm", "edge_whole_mm", "highlight_width_mm"])
def test_larger_fronts_of_one_place_draw_softer(found: dict[str, TrialRow], measure: str) -> None:
    order = ("bare-tube", "reflector-standard", "dish-white-55", "softbox-60x60", "softbox-120x120")
    sizes = [getattr(found[name], measure) for name in order]
    assert sizes == sorted(sizes)
    assert len(set(sizes)) == len(sizes)


def test_a_grid_keeps_the_backdrop_darker_and_draws_harder(found: dict[str, TrialRow]) -> None:
    for name, grid in (("softbox-120x120", "fabric-40"), ("reflector-standard", "honeycomb-20")):
        bare, gridded = found[name], found[f"{name}, grid {grid}"]
        assert bare.spill_direct_stops is not None
        assert gridded.spill_direct_stops < bare.spill_direct_stops - 0.5
        assert bare.edge_mm is not None
        assert gridded.edge_mm is not None
        assert gridded.edge_mm < bare.edge_mm
        assert gridded.loss_stops > bare.loss_stops


def test_a_box_without_its_cloths_is_brighter_and_harder(found: dict[str, TrialRow]) -> None:
    two, none = found["softbox-120x120"], found["softbox-120x120, no cloth"]
    assert none.loss_stops < two.loss_stops - 1
    assert none.edge_mm < two.edge_mm


def test_only_a_wide_light_reaches_round_to_the_far_ear(found: dict[str, TrialRow]) -> None:
    assert found["bare-tube"].ear_direct_stops is None
    wide, narrow = (found[n].ear_direct_stops for n in ("softbox-120x120", "softbox-60x60"))
    assert wide is not None
    assert narrow is None or narrow < wide


def test_a_close_box_falls_off_more_from_forehead_to_chin(setup: Setup) -> None:
    name = "softbox-60x60"
    near, far = (rows(with_key(setup, distance_m=d), name)[name] for d in (0.6, 1.2))
    assert near.chin_stops is not None
    assert far.chin_stops is not None
    assert near.chin_stops < far.chin_stops < 0


def test_a_head_that_cannot_says_what_is_missing(setup: Setup) -> None:
    """The box at full power outshines a bare tube, and at its least is below any bowl."""
    strong = rows(with_key(setup, power=1.0), "bare-tube")["bare-tube"]
    weak = rows(with_key(setup, power=2**-6), "reflector-standard")["reflector-standard"]
    assert strong.power == 1
    assert strong.missing_stops > 0.05
    assert weak.power == pytest.approx(2**-6)
    assert weak.missing_stops < -1


def test_the_room_gives_a_bare_tube_most(setup: Setup, monkeypatch: pytest.MonkeyPatch) -> None:
    """What goes past the sitter comes back from the walls; common practice, no source."""
    monkeypatch.setattr(face, "SAMPLES", 256)
    with Engine("auto") as engine:
        got = rows(setup, "bare-tube, softbox-60x60, softbox-60x60 grid=fabric-40", engine)
    bare, box, gridded = got.values()
    assert bare.room_stops > box.room_stops + 0.2
    assert box.room_stops > gridded.room_stops
    assert bare.spill_stops > box.spill_stops > gridded.spill_stops
    assert bare.ear_stops > gridded.ear_stops


def test_one_of_each_kind_from_hard_to_soft_with_the_scenes_own(setup: Setup) -> None:
    usual = usual_outfits(setup)
    kinds = [setup.kit.modifier[each.modifier].kind for each in usual]
    assert kinds[0] == "snoot"
    assert kinds[-1] == "softbox"
    plain = [each for each in usual if each == Outfit(each.modifier)]
    assert len({setup.kit.modifier[each.modifier].kind for each in plain}) == len(plain)
    assert Outfit("softbox-90x120", diffusers=0) in usual
    assert Outfit("softbox-90x120", grid="fabric-40") in usual


def test_a_snoot_that_misses_the_face_has_no_figures(setup: Setup) -> None:
    row = rows(with_key(setup, aim=(0.0, 0.1, 0.0)), "snoot")["snoot"]
    assert (row.power, row.missing_stops, row.shown) == (1.0, 0.0, "-")
    for name in ("loss_stops", "edge_mm", "chin_stops", "spill_stops", "highlight_width_mm"):
        assert getattr(row, name) is None, name


def test_what_cannot_stand_there_is_left_out_or_refused(setup: Setup) -> None:
    """The wall is 0.28 m beside the key: room for a bowl, none for an umbrella of 1 m."""
    room = setup.scene.room.model_copy(update={"left_wall_m": 2.1})
    narrow = with_key(setup, modifier="reflector-standard")
    narrow = replace(narrow, scene=narrow.scene.model_copy(update={"room": room}))
    outfits = [Outfit("umbrella-through-100"), Outfit("snoot")]
    table, tried = try_modifiers(narrow, outfits, engine=None, lenient=True)
    assert [row.name for row in table.rows] == ["snoot"] == [each.row.name for each in tried]
    assert "wall" in table.left_out[0]
    with pytest.raises(SceneError, match="wall"):
        try_modifiers(narrow, outfits[:1], engine=None)


def test_only_the_key_changes_and_the_others_are_off_unless_wanted() -> None:
    setup = load_scene("workshop-three-lights")
    key, light = key_light(setup)
    alone, all_on = (with_outfit(setup, Outfit("snoot"), 0.5, on) for on in (False, True))
    for name, before in setup.scene.light.items():
        if name != key:
            assert alone.scene.light[name] == before.model_copy(update={"on": False})
            assert all_on.scene.light[name] == before
    changed = all_on.scene.light[key]
    assert (changed.modifier, changed.power, changed.grid_deg) == ("snoot", 0.5, None)
    assert (changed.flash, changed.distance_m) == (light.flash, light.distance_m)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("snot", 'found "snot" (accepted: bare-tube'),
        ("snoot grid=fabric-40", "on a snoot (accepted: its name alone)"),
        ("octa-90 grid=fabrik", 'found "fabrik" (accepted: fabric-20'),
        ("octa-90 diffusers=7", "accepted: diffusers=0 to 3 or grid=NAME"),
        ("octa-90 size=3", 'found "size=3" on a octa'),
        (" , ", "found nothing"),
    ],
)
def test_mistakes_in_the_list_are_one_sentence(setup: Setup, words: str, said: str) -> None:
    with pytest.raises(OutputError) as problem:
        read_outfits(setup, words)
    assert said in str(problem.value)


def test_a_set_without_a_flash_or_a_sitter_is_refused(setup: Setup) -> None:
    stated = with_key(setup, flash=None, luminous_energy_lm_s=300.0)
    with pytest.raises(SceneError, match=r"light\.key\.flash: missing"):
        try_modifiers(stated, [Outfit("snoot")], engine=None)
    empty = replace(
        setup, scene=setup.scene.model_copy(update={"sitter": None, "wanted": {}, "panel": {}})
    )
    with pytest.raises(SceneError, match="sitter: missing"):
        try_modifiers(empty, [Outfit("snoot")], engine=None)


def test_every_key_is_documented(table: Trials) -> None:
    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    keys = [field.name for kind in (Trials, TrialRow) for field in fields(kind)]
    assert set(json.loads(json.dumps(asdict(table)))["rows"][0]) <= set(keys)
    for key in keys:
        assert f"`{key}`" in page, key

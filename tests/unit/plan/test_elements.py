"""Elements on black: codes by hand, needs of materials by the trade, two sets light for light."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tomlkit
from typer.testing import CliRunner

from render.cli.app import app
from render.errors import OutputError
from render.plan.checks.cautions import FINE_MM, PRESENT, WATER, cautions
from render.plan.checks.finding import Context
from render.plan.checks.particles import check_particles
from render.plan.elements import blackness, finding, match, no_black
from render.plan.elements.black import CLEAN, needs_stops
from render.plan.elements.cameras import Compared
from render.plan.elements.match import size_deg
from render.plan.who.tones import code_of
from render.scenefile import Setup, load_scene
from render.scenefile.read import as_setup
from tests.sets import front

FILE = Path("made.toml")
SCENES = Path(__file__).parents[3] / "scenes"


def made(**changed: object) -> Setup:
    """A small lamp before black velvet, in the void, and grains that hide next to nothing."""
    tables = {
        "title": "dust",
        "backdrop": {"gap_m": 1.0, "width_m": 3.0, "height_m": 2.4, "colour": "black-velvet"},
        "camera": {"distance_m": 2.0, "f_number": 8, "height_m": 1.2, "aim_height_m": 1.2},
        "element": {"dust": {"kind": "grains", "count": 10, "size_mm": [0.3, 0.6]}},
        "light": {
            "rim": {
                "luminous_energy_lm_s": 100.0,
                "size_cm": [5, 5],
                "position_m": [0.0, 1.2, 2.0],
                "aim": [0.0, 1.2, -1.0],
            }
        },
    }
    return as_setup(FILE, tables | changed)


def test_materials_need_what_the_trade_says() -> None:
    """Trade notes: velvet of .01 with its light 4 stops under the key comes out at code 2; black
    paper wants 6, an 18 % grey 8, a white wall 10 for as much: all at code 2 to 3."""
    for reflectance, stops in ((0.01, 4), (0.045, 6), (0.18, 8), (0.85, 10)):
        assert 1.5 < code_of(reflectance * 2.0**-stops) < 3.5
        assert needs_stops(reflectance) == pytest.approx(math.log2(reflectance / CLEAN))
        assert needs_stops(reflectance) <= stops
    assert round(code_of(0.01 / 16)) == 2


def test_the_code_of_velvet_in_known_light_by_hand() -> None:
    """A small lamp of 100 lm·s, 3 m off and straight ahead: H = 100 / (pi 9) lx·s, and the key of
    f/8 at ISO 100 is 250 · 64 / 100 (ISO 2720). Near black, sRGB is 12.92 times linear light."""
    light = 100 / (math.pi * 9) / (250 * 64 / 100)
    found = blackness(made(), None, None)
    assert found.point == "backdrop_centre"
    assert found.light_under_stops == pytest.approx(-math.log2(light), abs=2e-3)
    assert found.code == pytest.approx(255 * 12.92 * 0.01 * light, rel=2e-3)
    assert found.off_stops < 0
    assert finding(found).verdict == "fine"


def test_the_portrait_s_development_decides() -> None:
    """Two stops more open, the same black is two stops lighter."""
    portrait = load_scene("violin-two-lights")
    camera = portrait.scene.camera.model_copy(update={"f_number": 4.0})
    open_ = replace(portrait, scene=portrait.scene.model_copy(update={"camera": camera}))
    own, for_it = blackness(made(), None, None), blackness(made(), open_, None)
    assert for_it.f_number == 4.0
    assert for_it.off_stops - own.off_stops == pytest.approx(2, abs=1e-6)


def test_a_black_that_is_not_black_has_a_cure_that_was_measured() -> None:
    grey = made(backdrop={"gap_m": 1.0, "width_m": 3.0, "height_m": 2.4, "colour": "grey-paper"})
    found = blackness(grey, None, None)
    told = finding(found)
    assert 3.5 < found.code < 15
    assert told.verdict == "look"  # a clean plate takes it off; from code 16 on it is wrong
    assert found.materials[0].name == "black-velvet"
    assert found.materials[0].off_stops == pytest.approx(found.off_stops + math.log2(0.01 / 0.18))
    best = found.verdict.cures[0]
    assert best.meets
    assert best.code <= 3.5
    assert f"Cheapest: {best.name}" in told.words


def test_where_no_light_arrives_there_is_no_infinity() -> None:
    """JSON knows none; a lamp that shines away lights nothing without a room."""
    away = {
        "luminous_energy_lm_s": 9.0,
        "size_cm": [5, 5],
        "position_m": [0, 1.2, 2],
        "aim": [0, 1.2, 3],
    }
    found = blackness(made(light={"rim": away}), None, None)
    assert finding(found).words == "No light reaches the backdrop straight: code 0."
    assert math.isfinite(found.off_stops + found.light_under_stops + found.materials[0].off_stops)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"element": {}}, "no element"),
        ({"backdrop": None}, "no backdrop"),
        ({"camera": None}, "no camera"),
    ],
)
def test_why_a_black_cannot_be_judged(changed: dict[str, object], why: str) -> None:
    setup = made()
    setup = replace(setup, scene=setup.scene.model_copy(update=changed))
    assert why in no_black(setup)
    with pytest.raises(ValueError, match=why):
        blackness(setup, None, None)


def test_a_face_of_a_cube_looks_as_large_as_a_sixth_of_all() -> None:
    """From the middle of a cube each face fills 4 pi / 6 sr: a disk of 1 - cos a = 1 / 3."""
    lit = front((0, 0, 1), (0, 0, -0.5), width_m=1.0, height_m=1.0)
    wide = 2 * math.degrees(math.acos(1 - 1 / 3))
    assert size_deg(lit, np.zeros(3)) == pytest.approx(wide, rel=1e-9)


def sets(azimuth_deg: float, **camera: object) -> Setup:
    """The bundled portrait's lights with grains in the sitter's place, the key moved."""
    portrait = load_scene("violin-two-lights")
    key = portrait.scene.light["key"].model_copy(update={"azimuth_deg": azimuth_deg, "aim": None})
    hair = portrait.scene.light["hair"].model_copy(update={"around": "eyes"})
    element = made().scene.element["dust"].model_copy(update={"spread_m": (0.0, 0.0, 0.0)})
    scene = portrait.scene.model_copy(
        update={
            "light": {"key": key, "hair": hair},
            "camera": portrait.scene.camera.model_copy(update=camera),
            "element": {"dust": element},
            "wanted": {},
            "point": {},
        }
    )
    return replace(portrait, scene=scene)


def as_portrait(setup: Setup) -> Setup:
    """The same with a sitter, who is not asked for more than where the eyes are."""
    return replace(setup, scene=setup.scene.model_copy(update={"element": {}}))


def without_sitter(setup: Setup) -> Setup:
    return replace(setup, scene=setup.scene.model_copy(update={"sitter": None}))


def verdicts(rows: tuple[Compared, ...]) -> dict[str, str]:
    return {row.what: row.verdict for row in rows}


def test_a_set_against_itself_is_the_same() -> None:
    found = match(without_sitter(sets(-45)), as_portrait(sets(-45)))
    assert [(p.element.name, p.portrait.name) for p in found.lights] == [
        ("key", "key"),
        ("hair", "hair"),
    ]
    assert {v for p in found.lights for v in verdicts(p.rows).values()} <= {"same", "listed"}
    assert set(verdicts(found.camera).values()) == {"same"}
    assert found.element_alone == found.portrait_alone == ()
    key = found.lights[0].element
    assert (key.azimuth_deg, key.elevation_deg) == pytest.approx((-45, 28), abs=1e-6)


def test_what_differs_is_said_with_its_size() -> None:
    """At an elevation e, a turn of a about the vertical is 2 asin(cos e sin(a / 2)) (derived)."""
    own = without_sitter(sets(-25, f_number=11.3, distance_m=1.9, focal_length_mm=85.0))
    found = match(own, as_portrait(sets(-45)))
    rows = {row.what: row for row in found.lights[0].rows}
    turned = 2 * math.asin(math.cos(math.radians(28)) * math.sin(math.radians(10)))
    assert rows["azimuth"].off == pytest.approx(math.degrees(turned), abs=1e-6)
    assert rows["azimuth"].verdict == "differs"
    assert rows["elevation"].verdict == "same"
    assert rows["stops"].off == pytest.approx(-2 * math.log2(11.3 / 8), abs=1e-6)
    assert rows["stops"].verdict == "differs"
    assert {k for k, v in verdicts(found.camera).items() if v == "differs"} == {
        "distance_m",
        "f_number",
        "focal_length_mm",
    }


def test_lights_without_a_counterpart_are_named() -> None:
    one = without_sitter(sets(-45))
    lights = {
        "rim": one.scene.light["key"].model_copy(update={"azimuth_deg": 100.0, "role": "rim"})
    }
    one = replace(one, scene=one.scene.model_copy(update={"light": lights}))
    found = match(one, as_portrait(sets(-45)))
    assert [(p.element.name, p.portrait.name) for p in found.lights] == [("rim", "hair")]
    assert [lamp.name for lamp in found.portrait_alone] == ["key"]


def test_what_is_no_portrait_is_said() -> None:
    own = without_sitter(sets(-45))
    with pytest.raises(OutputError, match=r"--portrait: .* has no sitter"):
        match(own, own)
    with pytest.raises(OutputError, match=r"--portrait: violin-two-lights has no element"):
        match(load_scene("violin-two-lights"), load_scene("violin-two-lights"))


def test_dust_and_water_bring_their_cautions() -> None:
    def said(**element: object) -> tuple[str, ...]:
        thrown = {"kind": "grains", "count": 5, "size_mm": [FINE_MM, 2.0]} | element
        return cautions(Context(made(element={"it": thrown})))

    assert PRESENT["powder"] in said()
    assert PRESENT["powder"] not in said(size_mm=[FINE_MM + 0.1, 2.0])
    assert WATER in said(kind="drops")
    assert WATER not in said(kind="drops", clear="glass")


def test_coverage_and_depth_are_judged() -> None:
    few, many = (
        check_particles(
            Context(
                made(
                    element={
                        "dust": {
                            "kind": "grains",
                            "count": count,
                            "size_mm": [size, size],
                            "spread_m": [0.5, 0.5, 1.4],
                        }
                    }
                )
            )
        )
        for count, size in ((60, 3), (1000, 20))
    )
    assert [f.verdict for f in few] == ["fine", "look"]
    assert [f.verdict for f in many] == ["look", "look"]
    assert few[1].value <= 70
    assert "by their areas and not by how bright they are" in few[0].words


def test_the_command_tells_all_of_it_as_data_too(tmp_path: Path) -> None:
    """docs/json.md names the keys; a program that reads them must go on working."""
    own = tmp_path / "void.toml"  # without a room straight light is all there is
    scene = tomlkit.parse((SCENES / "rosin-on-black.toml").read_text(encoding="utf-8"))
    scene.remove("room")
    own.write_text(tomlkit.dumps(scene), encoding="utf-8")
    options = ["check", str(own), "--quick", "--json", "--portrait", "violin-two-lights"]
    ran = CliRunner().invoke(app, options)
    assert ran.exit_code == 0, ran.output
    found = json.loads(ran.stdout)
    assert found["findings"][0]["check"]
    assert any("black enough" in each for each in found["checked_for"])
    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    pair = found["portrait"]["lights"][0]
    keys = [*found["black"], *found["black"]["materials"][0], *found["portrait"], *pair]
    keys += [*pair["element"], *pair["rows"][0]]
    assert [key for key in keys if f"`{key}`" not in page] == []


def test_black_in_a_room_is_not_judged_by_straight_light_alone() -> None:
    ran = CliRunner().invoke(app, ["check", "rosin-on-black", "--quick", "--json"])
    assert ran.exit_code == 0, ran.output
    found = json.loads(ran.stdout)
    assert found["black"] is None
    assert any("black enough" in each for each in found["not_checked_for"])


def test_a_portrait_that_is_not_there_is_said_before_anything_is_checked() -> None:
    ran = CliRunner().invoke(app, ["check", "rosin-on-black", "--quick", "--portrait", "nobody"])
    assert ran.exit_code != 0
    assert "no such file" in str(ran.exception)

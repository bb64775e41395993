"""The meter table: who is fired, how the receptor is held, and what the numbers say."""

import json
import math
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

import render
from render.errors import SceneError
from render.scenefile import Setup, load_scene
from render.studio.light import Light

ROOM = """
title = "two lights in the void"
[light.key]
luminous_energy_lm_s = 400
size_cm = [60, 90]
position_m = [-0.8, 1.6, 0.9]
aim = "chair"
[light.fill]
luminous_energy_lm_s = 100
size_cm = [60, 90]
position_m = [0.8, 1.6, 0.9]
aim = "chair"
[point.chair]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
"""


@pytest.fixture
def void(tmp_path: Path) -> Setup:
    file = tmp_path / "void.toml"
    file.write_text(ROOM)
    return load_scene(file)


def reading(found: render.Readings, point: str, lights: str):
    return next(r for r in found.readings if (r.point, r.lights) == (point, lights))


def with_light(setup: Setup, name: str, **changes: object) -> Setup:
    light: Light = setup.scene.light[name].model_copy(update=changes)
    lights = setup.scene.light | {name: light}
    return replace(setup, scene=setup.scene.model_copy(update={"light": lights}))


def test_two_stops_less_fill_read_four_to_one(void: Setup) -> None:
    """Mirrored lights, energies 4:1: each alone two stops apart; common practice, no source."""
    found = render.meter(void, bounce=False)
    key, fill = (reading(found, "chair", name) for name in ("key", "fill"))
    assert key.stops_re_key == 0
    assert fill.stops_re_key == pytest.approx(-2, abs=1e-6)
    assert key.f_number / fill.f_number == pytest.approx(2, rel=1e-6)


def test_f_numbers_add_as_squares(void: Setup) -> None:
    """N² = N1² + N2² with the meter unmoved; additivity of light."""
    found = render.meter(void, receptor="flat", aim="normal", bounce=False)
    rows = {row.lights: row for row in found.readings}
    assert rows["all"].f_number ** 2 == pytest.approx(
        rows["key"].f_number ** 2 + rows["fill"].f_number ** 2
    )


def test_one_click_of_power_is_its_stops(void: Setup) -> None:
    """One whole click up is one stop, a tenth click a tenth; common practice, no source."""
    base = reading(render.meter(void, bounce=False), "chair", "key")
    for click in (-1.0, -0.1):
        turned = with_light(void, "key", power=2.0**click)
        now = reading(render.meter(turned, bounce=False), "chair", "key")
        gained = 2 * math.log2(now.f_number / base.f_number)
        assert gained == pytest.approx(click, abs=1e-9)


def test_a_light_that_is_off_reads_nothing_and_is_not_listed(void: Setup) -> None:
    dark = with_light(void, "fill", on=False)
    found = render.meter(dark, receptor="flat", aim="normal", bounce=False)
    assert {row.lights for row in found.readings} == {"key", "all"}
    rows = {row.lights: row for row in found.readings}
    assert rows["all"].luminous_exposure_lx_s == rows["key"].luminous_exposure_lx_s


def test_the_trade_holds_the_receptor_as_it_does(void: Setup) -> None:
    """Alone flat at the light, together dome; common practice, no source."""
    found = render.meter(void, bounce=False)
    assert (reading(found, "chair", "key").receptor, reading(found, "chair", "key").aim) == (
        "flat",
        "light",
    )
    assert reading(found, "chair", "all").receptor == "dome"


def test_flat_receptor_turned_sixty_degrees_loses_one_stop(tmp_path: Path) -> None:
    """cos 60° is one stop; a distant small front; checks_values.csv, dome rows (computed)."""
    text = (
        ROOM.split("[light.fill]")[0]
        .replace("[60, 90]", "[2, 2]")
        .replace("position_m = [-0.8, 1.6, 0.9]", "position_m = [0, 1.2, 5]")
        + "[point.chair]\nposition_m = [0, 1.2, 0]\nfacing = [0.8660254, 0, 0.5]\n"
    )
    file = tmp_path / "far.toml"
    file.write_text(text)
    setup = load_scene(file)
    flat = {
        aim: render.meter(setup, receptor="flat", aim=aim, bounce=False).readings[0].f_number
        for aim in ("light", "normal")
    }
    assert 2 * np.log2(flat["normal"] / flat["light"]) == pytest.approx(-1, abs=1e-4)
    dome = {
        aim: render.meter(setup, receptor="dome", aim=aim, bounce=False).readings[0].f_number
        for aim in ("light", "normal")
    }
    assert 2 * np.log2(dome["normal"] / dome["light"]) == pytest.approx(np.log2(0.75), abs=1e-4)


def test_iso_moves_the_reading_and_not_the_light(void: Setup) -> None:
    """Twice the speed is one stop; common practice, no source."""
    faster = replace(
        void,
        scene=void.scene.model_copy(
            update={"meter": void.scene.meter.model_copy(update={"iso_speed": 200.0})}
        ),
    )
    slow, fast = (render.meter(s, bounce=False).readings[0] for s in (void, faster))
    assert fast.luminous_exposure_lx_s == slow.luminous_exposure_lx_s
    assert fast.f_number**2 == pytest.approx(2 * slow.f_number**2)


def test_wishes_are_set_against_the_prediction(void: Setup) -> None:
    found = render.meter(void, bounce=False)
    at = reading(found, "chair", "key").f_number
    wished = {
        "face": {"point": "chair", "light": "key", "f_number": at * 2},
        "fill": {"point": "chair", "light": "fill", "stops": -4},
    }
    scene = void.scene.model_validate(void.scene.model_dump() | {"wanted": wished})
    rows = render.meter(replace(void, scene=scene), bounce=False).wishes
    assert rows[0].miss_stops == pytest.approx(-2, abs=1e-9)
    assert rows[1].miss_stops == pytest.approx(0, abs=1e-6)  # both sides two stops lower


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"point": "chair", "light": "rim", "stops": -1}, 'no light "rim"'),
        ({"point": "chair"}, "either f_number or stops"),
        ({"point": "chair", "stops": -1}, "only stops, no f-number"),
    ],
)
def test_an_impossible_wish_is_one_sentence(void: Setup, wish: dict, words: str) -> None:
    scene = void.scene.model_validate(void.scene.model_dump() | {"wanted": {"wish": wish}})
    with pytest.raises(SceneError, match=words):
        render.meter(replace(void, scene=scene), bounce=False)


def test_the_key_turned_off_the_backdrop_lets_it_fall() -> None:
    """Turned towards the paper the key lifts it, turned off it the paper falls; common practice,
    no source. At least half a stop between the two bundled scenes, the face within a third."""
    off, towards = (
        render.meter(load_scene(name), receptor="flat", aim="normal", bounce=False)
        for name in ("violin-two-lights", "violin-key-spill")
    )
    lifted = 2 * np.log2(
        reading(towards, "backdrop_centre", "key").f_number
        / reading(off, "backdrop_centre", "key").f_number
    )
    assert lifted > 0.5


def test_a_meter_cannot_be_aimed_at_a_camera_that_is_not_there(void: Setup) -> None:
    with pytest.raises(SceneError, match=r"camera: missing"):
        render.meter(void, aim="camera", bounce=False)


def test_lights_that_are_all_off_are_one_sentence(void: Setup) -> None:
    dark = with_light(with_light(void, "key", on=False), "fill", on=False)
    with pytest.raises(SceneError, match=r"light: every light is off"):
        render.meter(dark, bounce=False)


def test_a_light_that_a_panel_hides_leaves_plain_numbers(void: Setup) -> None:
    """A black panel before the fill: no light, and neither nan nor infinity in any field."""
    panel = {"position_m": (0.4, 1.4, 0.45), "size_cm": (300.0, 300.0), "facing": (0.8, 1.6, 0.9)}
    scene = void.scene.model_validate(void.scene.model_dump() | {"panel": {"flag": panel}})
    found = render.meter(replace(void, scene=scene), bounce=False)
    row = reading(found, "chair", "fill")
    assert row.luminous_exposure_lx_s == 0
    assert row.visible_fraction == 0
    json.dumps(asdict(found), allow_nan=False)


def test_bounce_comes_with_its_error() -> None:
    """A pale room adds light, and the traced part says how sure it is."""
    found = render.meter(load_scene("empty-room"), samples=4096)
    row = reading(found, "chair", "key")
    assert row.bounce_lx_s > 0
    assert row.luminous_exposure_lx_s == pytest.approx(row.direct_lx_s + row.bounce_lx_s)
    assert 0 < row.standard_error_stops < 0.02
    shade = reading(found, "shadow_side", "key")
    assert shade.visible_fraction == pytest.approx(1)


PANELS = """
[panel.card]
size_cm = [100, 100]
position_m = [0.0, 0.6, 0.5]
[panel.night]
kind = "black"
size_cm = [40, 40]
position_m = [-0.3, 1.0, -0.8]
"""


def test_a_panel_is_listed_where_it_adds_light(tmp_path: Path) -> None:
    """In the void all bounce comes from the panels; what the card adds is total over the rest, as
    another reading without it shows."""
    texts = {
        "with": ROOM + PANELS,
        "without": ROOM + "[panel.night]" + PANELS.split("[panel.night]")[1],
    }
    found = {}
    for name, text in texts.items():
        file = tmp_path / f"{name}.toml"
        file.write_text(text)
        found[name] = reading(render.meter(load_scene(file), samples=4096), "chair", "all")
    row = found["with"]
    card, night = row.bounce_from
    assert (card.surface, night.surface) == ("panel.card", "panel.night")
    assert card.luminous_exposure_lx_s + night.luminous_exposure_lx_s == pytest.approx(
        row.bounce_lx_s, rel=1e-9
    )
    assert card.share_of_bounce > 0.9
    both = row.luminous_exposure_lx_s / found["without"].luminous_exposure_lx_s
    assert card.adds_stops == pytest.approx(math.log2(both), abs=0.01)
    assert card.adds_stops > 0.05


def test_the_table_names_panels_and_on_request_every_surface(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from render.cli.paper import write_csv
    from render.cli.tables import show_readings
    from render.report import Reading

    file = tmp_path / "panels.toml"
    file.write_text(ROOM + PANELS)
    found = render.meter(load_scene(file), samples=1024)
    show_readings(found, True, False)
    brief = capsys.readouterr().out
    assert "panel card adds" in brief
    assert "panel night" not in brief
    show_readings(found, True, False, True)
    assert "panel night" in capsys.readouterr().out
    write_csv(found.readings, Reading)
    assert "panel.card" in capsys.readouterr().out.splitlines()[-1]


def test_a_comparison_refers_to_a_point_that_the_key_reaches(tmp_path: Path) -> None:
    """The key shines from behind: the first point is dark, ratios to it would be infinite."""
    back = "[point.back]\nposition_m = [0, 1.2, -0.1]\nfacing = [0, 0, -1]\n"
    text = ROOM.replace("position_m = [-0.8, 1.6, 0.9]", "position_m = [0, 1.2, -1.5]") + back
    file = tmp_path / "behind.toml"
    file.write_text(text)
    found = render.compare(load_scene(file))
    assert found.re_point == "back"
    assert {(row.point, row.light) for row in found.rows if row.judged} == {("chair", "fill")}
    assert found.agrees
    json.dumps(asdict(found), allow_nan=False)


def test_json_keys_are_the_documented_ones() -> None:
    """docs/json.md names the keys; a program that reads them must go on working."""
    from dataclasses import fields

    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    from render.report import Contribution, Reading, Row

    assert [field.name for field in fields(Contribution)] == [
        "surface",
        "luminous_exposure_lx_s",
        "standard_error_lx_s",
        "share_of_bounce",
        "adds_stops",
    ]
    assert [field.name for field in fields(Reading)] == [
        "point",
        "lights",
        "receptor",
        "aim",
        "luminous_exposure_lx_s",
        "direct_lx_s",
        "bounce_lx_s",
        "standard_error_stops",
        "f_number",
        "shown",
        "stops_re_key",
        "visible_fraction",
        "calibration",
        "bounce_from",
    ]
    assert [field.name for field in fields(Row)] == [
        "point",
        "light",
        "re_point",
        "re_light",
        "stage",
        "predicted_stops",
        "rendered_stops",
        "standard_error_stops",
        "difference_stops",
        "visible_fraction",
        "judged",
        "verdict",
    ]
    for kind in (Contribution, Reading, Row):
        for field in fields(kind):
            assert f"`{field.name}`" in page

"""Powers meet what is wanted, agree with trying every click, and cures do what they promise."""

from __future__ import annotations

import itertools
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.cli import main
from render.errors import OutputError, SceneError
from render.plan.balance.balance import balance
from render.plan.balance.cures import find_cures
from render.plan.balance.dials import click, marking
from render.plan.balance.limits import limits
from render.plan.balance.responses import respond
from render.plan.balance.solve import as_solved, cost, missed, off_by, on_clicks, solve
from render.plan.changes.lights import moved_round
from render.plan.changes.settings import changed
from render.report import meter
from render.scenefile import Setup, load_scene
from render.scenefile.write import write_powers
from render.studio.part import share_of_full
from render.trace import Engine
from tests.setups import with_light

HALF_CLICK = 0.05 + 1e-6  # the bundled monoblocs have tenths

HEAD = """
title = "bench"   # in a black void
[point.face]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
[point.far]
position_m = [0, 1.2, -2]
facing = [0, 0, 1]
"""
KEY = """
[light.key]
flash = "monobloc-400"
size_cm = [40, 40]
power = "1/16"  # to begin with
azimuth_deg = -45
distance_m = 1.2
"""
FILL = """
[light.fill]
flash = "monobloc-200"
size_cm = [60, 60]
power = "1/16"
azimuth_deg = 40
distance_m = 1.6
"""
BACK = """
[light.background]
flash = "monobloc-200"
size_cm = [20, 60]
power = "1/16"
position_m = [-1.2, 1.2, -1.2]
aim = "far"
"""


def scene(folder: Path, *parts: str, **wanted: dict[str, Any]) -> Setup:
    """A scene file of parts and wishes."""
    wishes = "".join(
        f"[wanted.{name}]\n" + "".join(f"{k} = {json.dumps(v)}\n" for k, v in wish.items())
        for name, wish in wanted.items()
    )
    file = folder / "bench.toml"
    file.write_text("".join((HEAD, *parts, wishes)))
    return load_scene(file)


def face(f_number: float = 8, **more: Any) -> dict[str, Any]:
    return {"point": "face", "f_number": f_number, **more}


def far(stops: float, **more: Any) -> dict[str, Any]:
    return {"point": "far", "stops": stops, **more}


def test_reachable_wishes_are_met_to_half_a_click_by_the_meter(tmp_path: Path) -> None:
    wanted = {
        "face": face(8, light="key"),
        "shadow": {"point": "face", "light": "fill", "stops": -2},
        "paper": far(-1),
    }
    setup = scene(tmp_path, KEY, FILL, BACK, **wanted)
    found = balance(setup, bounce=False)
    assert found.met
    assert found.limits == found.cures == ()
    # `meter` reads the set-up with the powers as the file would have them.
    for row in found.powers:
        setup = with_light(setup, row.light, power=share_of_full(row.shown))
    for wish, outcome in zip(meter(setup, bounce=False).wishes, found.wishes, strict=True):
        assert wish.miss_stops is not None
        assert abs(wish.miss_stops) <= HALF_CLICK
        assert wish.miss_stops == pytest.approx(outcome.off_stops, abs=1e-9)


def test_an_f_number_of_one_light_is_twice_the_light_one_stop_up(tmp_path: Path) -> None:
    """One stop of f-number is a factor of two in power (ISO 2720: N² = H·S/C)."""
    powers = [
        balance(scene(tmp_path, KEY, face=face(number)), bounce=False).powers[0].solved
        for number in (5.6, 8)
    ]
    assert powers[1] / powers[0] == pytest.approx(2, rel=1e-6)


@pytest.mark.parametrize(("number", "stops"), [(8, -1.0), (5.6, -3.3), (11, 0.4), (16, -6.0)])
def test_two_lights_agree_with_trying_every_click(
    tmp_path: Path, number: float, stops: float
) -> None:
    setup = scene(tmp_path, KEY, BACK, face=face(number), paper=far(stops))
    problem = respond(setup, None).problem
    clicks = [-np.arange(61) / 10] * 2  # six stops in tenths on either head
    tried = {pair: cost(problem, np.array(pair)) for pair in itertools.product(*clicks)}
    free = solve(problem)
    # No click is better than the free solution, and none comes nearer to it than the one chosen.
    assert cost(problem, free) <= min(tried.values()) + 1e-5
    near = as_solved(problem, free)
    nearest = min(cost(near, np.array(pair)) for pair in tried)
    assert cost(near, on_clicks(problem, free)) <= nearest + 1e-5


def test_five_lights_land_on_clicks_that_no_single_click_betters(tmp_path: Path) -> None:
    lights = [
        KEY.replace("light.key", f"light.l{k}").replace("-45", str(30 * k - 60)) for k in range(5)
    ]
    wanted = {f"w{k}": {"point": "face", "light": f"l{k}", "stops": -k} for k in range(1, 5)}
    setup = scene(tmp_path, *lights, face=face(22, light="l0"), far=far(-2.5), **wanted)
    problem = respond(setup, None).problem
    free = solve(problem)
    found, near = on_clicks(problem, free), as_solved(problem, free)
    assert np.allclose(found * 10, np.round(found * 10))
    assert np.all((found > -6) & (found < 0))  # so that every dial can go either way
    for i, way in itertools.product(range(5), (-0.1, 0.1)):
        other = found.copy()
        other[i] += way
        assert cost(near, other) >= cost(near, found) - 1e-4


def test_a_range_costs_nothing_inside_it(tmp_path: Path) -> None:
    """The far point gets by inverse square about a third of what it would need: inside is free."""
    exact = scene(tmp_path, KEY, face=face(), paper=far(-1))
    free = respond(exact, None)
    off = float(off_by(free.problem, solve(free.problem))[1])
    assert off < -0.5
    wide = scene(tmp_path, KEY, face=face(), paper=far(-1, range_stops=[off - 0.1, 0.0]))
    found = balance(wide, bounce=False)
    assert found.met
    assert found.wishes[1].missed_stops == 0
    assert found.wishes[1].off_stops == pytest.approx(off, abs=0.06)


def test_a_fixed_light_stays_and_the_others_work_around_it(tmp_path: Path) -> None:
    fixed = FILL + "fixed = true\n"
    found = balance(scene(tmp_path, KEY, fixed, face=face()), bounce=False)
    key, fill = found.powers
    assert (fill.power, fill.change_stops, fill.stays) == (1 / 16, 0.0, "is fixed")
    assert found.met
    alone = balance(scene(tmp_path, KEY, face=face()), bounce=False).powers[0]
    assert key.solved < alone.solved


def met_by_meter(setup: Setup) -> bool:
    return all(
        abs(wish.miss_stops or 0.0) <= HALF_CLICK for wish in meter(setup, bounce=False).wishes
    )


def test_too_weak_says_so_and_a_cure_meets_it(tmp_path: Path) -> None:
    setup = scene(tmp_path, KEY, face=face(45))
    found = balance(setup, bounce=False)
    (limit,) = found.limits
    assert (limit.reason, limit.light) == ("weak", "key")
    assert limit.off_by_stops < -0.5
    assert found.powers[0].at_end == "full power"
    free = respond(setup, None)
    cured = find_cures(free, solve(free.problem), None)
    assert cured[0].cure.meets_all
    assert met_by_meter(cured[0].setup)
    assert any(each.cure.text.startswith("ISO ") for each in cured)
    nearer = next(each for each in cured if "nearer" in each.cure.text)
    distance = nearer.setup.scene.light["key"].distance_m
    # Inverse square: what is missing, made up by distance.
    assert distance is not None
    assert 2 * np.log2(1.2 / distance) > -limit.off_by_stops


def test_least_power_too_bright_says_so_and_a_neutral_sheet_meets_it(tmp_path: Path) -> None:
    setup = scene(tmp_path, KEY, face=face(2.8))
    found = balance(setup, bounce=False)
    (limit,) = found.limits
    assert (limit.reason, limit.light) == ("strong", "key")
    assert found.powers[0].at_end == "least power"
    free = respond(setup, None)
    cured = find_cures(free, solve(free.problem), None)
    sheet = next(each for each in cured if "neutral sheet" in each.cure.text)
    # A density of 0.3 is one stop: log10(2).
    density = sheet.setup.scene.light["key"].nd
    assert 0 <= density / np.log10(2) - limit.off_by_stops < 1.05
    assert sheet.cure.meets_all
    assert met_by_meter(sheet.setup)


def test_a_ratio_capped_by_the_room_says_so_and_names_cures_that_help(tmp_path: Path) -> None:
    """A white room gives back so much that far cannot be four stops under the face."""
    room = "[room]\nwidth_m = 3\ndepth_m = 5\nheight_m = 2.4\nwalls = 0.85\nceiling = 0.85\n"
    pale = KEY + 'aim = [1.5, 1.2, 0.6]\nrole = "key"\n'
    setup = scene(tmp_path, room, pale, face=face(), paper=far(-4))
    with Engine("auto") as engine:
        free = respond(setup, engine, 2048)
        below = solve(free.problem)
        cured = find_cures(free, below, engine)
    without = respond(setup, None)
    capped = float(missed(free.problem, below)[1])
    assert capped > float(missed(without.problem, solve(without.problem))[1]) + 0.5
    assert cured
    assert cured[0].cure.missed_stops < capped - 0.1


def test_two_wishes_out_of_reach_get_a_cure_each(tmp_path: Path) -> None:
    """Key spill caps the far point, the fill is too weak: neither cure alone will do."""
    wanted = {
        "face": face(22, light="key"),
        "shadow": {"point": "face", "light": "fill", "stops": 0.5},
        "paper": far(-2.7),
    }
    setup = scene(tmp_path, KEY, FILL, **wanted)
    free = respond(setup, None)
    below = solve(free.problem)
    assert [limit.reason for limit in limits(free, below)] == ["weak", "spill"]
    best = find_cures(free, below, None)[0]
    assert ", and " in best.cure.text
    assert best.cure.meets_all
    assert met_by_meter(best.setup)


def test_a_light_moved_round_dims_the_dome_by_its_cardioid(tmp_path: Path) -> None:
    """A dome sees a light at angle a with (1 + cos a)/2 (cardioid response)."""
    small = KEY.replace("[40, 40]", "[5, 5]").replace("-45", "0")
    wanted = {"face": face(light="key"), "side": {"point": "side", "light": "all", "stops": -1}}
    side = "[point.side]\nposition_m = [0, 1.2, 0]\nfacing = [0, 0, 1]\n"
    setup = scene(tmp_path, small, side, **wanted)
    free = respond(setup, None)
    round_it = moved_round(setup, "key", 60.0)
    assert round_it is not None
    after = respond(changed(setup, round_it.settings), None)
    # Dome towards the light's old place: (1 + cos 60°)/2 = 3/4.
    lost = np.log2(after.problem.full[1, 0] / free.problem.full[1, 0])
    assert lost == pytest.approx(np.log2(0.75), abs=0.01)


def test_what_the_clicks_meet_is_not_said_to_be_out_of_reach(tmp_path: Path) -> None:
    """Two lamps in one place pull a lone reading off; every limit is of a wish that is missed."""
    for off in np.arange(0.0, 0.1, 0.02):
        wanted = {"face": face(), "paper": far(-5), "same": {"point": "face", "stops": -off}}
        found = balance(scene(tmp_path, KEY, FILL, **wanted), bounce=False, cures=False)
        missed_ones = {wish.name for wish in found.wishes if not wish.met}
        assert {limit.wish for limit in found.limits} <= missed_ones


def test_opposed_wishes_name_each_other_and_the_f_number_wins(tmp_path: Path) -> None:
    found = balance(scene(tmp_path, KEY, face=face(), paper=far(-5)), bounce=False)
    (limit,) = found.limits
    assert (limit.wish, limit.reason, limit.held_by) == ("paper", "spill", "face")
    assert abs(found.wishes[0].off_stops) <= HALF_CLICK


@pytest.mark.parametrize(
    ("below", "step", "shown"),
    [
        (0.0, 0.1, "1/1"),
        (-2.7, 0.1, "1/8 +0.3"),
        (-3.0, 1 / 3, "1/8"),
        (-8 / 3, 1 / 3, "1/8 +0.33"),
        (-2.5, 0.5, "1/8 +0.5"),
        (-1.234, 0.0, "1/4 +0.77"),
        (-0.999, 0.0, "1/2"),
    ],
)
def test_markings_read_back_as_the_power(below: float, step: float, shown: str) -> None:
    assert marking(below, step) == shown
    assert np.log2(share_of_full(shown)) == pytest.approx(below, abs=0.006)


def test_a_click_of_a_third_is_a_third() -> None:
    assert click(0.33) == pytest.approx(1 / 3)
    assert click(0.1) == pytest.approx(0.1)
    assert click(0.0) == 0


def test_written_powers_keep_everything_else(tmp_path: Path) -> None:
    setup = scene(tmp_path, KEY, FILL.replace('power = "1/16"\n', ""), face=face())
    before = setup.file.read_text()
    write_powers(setup, {"key": "1/8 +0.3", "fill": "1/4"})
    after = setup.file.read_text()
    assert 'power = "1/8 +0.3"  # to begin with' in after
    changed = set(after.splitlines()) ^ set(before.splitlines())
    assert changed == {
        'power = "1/16"  # to begin with',
        'power = "1/8 +0.3"  # to begin with',
        'power = "1/4"',
    }
    assert load_scene(setup.file).scene.light["fill"].power == 0.25
    assert [path.name for path in tmp_path.iterdir()] == ["bench.toml"]


@pytest.mark.parametrize(
    ("light", "after"),
    [
        ('light.key = { {}, power = "1/4" } # mine', 'light.key = { {}, power = "1/2" } # mine'),
        ("[light.key]\r\n{}\r\npower = 0.5  # half", '[light.key]\r\n{}\r\npower = "1/2"  # half'),
    ],
)
def test_written_powers_go_where_the_file_has_them(tmp_path: Path, light: str, after: str) -> None:
    file, fields = tmp_path / "mine.toml", 'flash = "monobloc-400", size_cm = [40, 40]'
    fields += ", azimuth_deg = 10, distance_m = 1"
    inside = fields if light.startswith("light.key") else fields.replace(", azi", "\r\nazi")
    if not light.startswith("light.key"):
        inside = inside.replace(", size", "\r\nsize").replace(", dist", "\r\ndist")
    mark = "\ufeff"  # as some editors begin a file
    text = mark + 'title = "mine"\n' + light.replace("{}", inside) + "\n[point.p]\n"
    text += "position_m = [0, 1, 0]\n"
    file.write_bytes(text.encode())
    write_powers(load_scene(file), {"key": "1/2"})
    expected = text.replace(light.replace("{}", inside), after.replace("{}", inside))
    assert file.read_bytes().decode() == expected


def test_a_bundled_scene_is_never_written() -> None:
    with pytest.raises(OutputError, match="is a bundled scene"):
        write_powers(load_scene("violin-two-lights"), {"key": "1/2"})


@pytest.mark.parametrize(
    ("parts", "wanted", "said"),
    [
        ((KEY,), {}, "wanted: no wishes"),
        ((KEY,), {"face": face(light="keys")}, 'no light "keys"'),
        ((KEY + "fixed = true\n",), {"face": face()}, "key is fixed"),
        ((KEY, FILL + "on = false\n"), {"face": face(light="fill")}, "fill is off"),
        ((KEY,), {"face": face(range_stops=[0.5, 1.0])}, "wanted.face.range_stops"),
    ],
)
def test_mistakes_are_one_sentence(
    tmp_path: Path, parts: tuple[str, ...], wanted: dict[str, Any], said: str
) -> None:
    with pytest.raises(SceneError) as problem:
        balance(scene(tmp_path, *parts, **wanted), bounce=False)
    assert said in str(problem.value)
    assert "\n" not in str(problem.value)


def test_the_command_prints_json_and_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    setup = scene(tmp_path, KEY, face=face())
    words = ["tenthstop", "balance", str(setup.file), "--direct", "--json", "--write"]
    monkeypatch.setattr(sys, "argv", words)
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {
        *("scene", "iso_speed", "met", "powers", "wishes", "rounding_cost_stops"),
        *("rounding_wish", "limits", "cures", "settings", "changes", "unknowns", "rounds"),
        *("residual_stops", "refused"),
    }
    written = load_scene(setup.file).scene.light["key"].power
    assert written == pytest.approx(found["powers"][0]["power"])

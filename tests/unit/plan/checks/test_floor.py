"""What stands, hangs, weighs, reaches and draws power, against handbook figures and geometry."""

from pathlib import Path

import numpy as np
import pytest

from render.plan.checks.cautions import LAST, cautions
from render.plan.checks.finding import Context, Finding, run_checks
from render.plan.checks.fit import highest_elevation_deg
from render.plan.checks.floor import FLOOR
from render.plan.checks.mains import check_circuit
from render.plan.checks.rig import rigs
from render.plan.checks.shutter import stops_under
from render.plan.checks.tipping import counterweight_kg, push_to_topple_n
from render.scenefile import load_scene
from render.studio.camera import Camera

ROOM = """
title = "spare room"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
back_wall_m = 1.6
{room}
[camera]
distance_m = 1.7
focal_length_mm = 100
f_number = {f_number}
{camera}
[point.face]
position_m = [0, 1.2, 0]
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
{key}
"""
USUAL = "power = 0.125\nazimuth_deg = -45\nelevation_deg = 30\ndistance_m = 1.2"


def checked(folder: Path, key: str = USUAL, **parts: str) -> dict[str, Finding]:
    """Findings by check and by what they are about."""
    file = folder / "room.toml"
    texts = {"room": "", "camera": "", "f_number": "8", **parts}
    file.write_text(parts.get("before", "") + ROOM.format(key=key, **texts) + parts.get("more", ""))
    found = run_checks(Context(load_scene(file)), FLOOR, ())
    return {f"{each.check}: {each.about}": each for each in found.findings}


@pytest.mark.parametrize(
    ("eyes_m", "tall_m", "distance_m", "highest"),
    [
        *[(1.2, 0.9, d, e) for d, e in ((1.0, 90), (1.2, 43), (1.5, 30))],
        *[(1.6, 0.6, d, e) for d, e in ((0.8, 40), (1.0, 29), (1.2, 23), (1.5, 18))],
        *[(1.6, 0.9, d, e) for d, e in ((0.8, 25), (1.0, 18), (1.2, 15), (1.5, 11))],
    ],
)
def test_the_highest_key_under_a_low_ceiling(
    eyes_m: float, tall_m: float, distance_m: float, highest: float
) -> None:
    """Truth: table of keys under 2.35 m for seated and standing sitters, in whole degrees,
    computed for the trade notes of the project; no published source."""
    corners = [(0.0, 0.5 * tall_m)]
    found = highest_elevation_deg(distance_m, 2.35 - eyes_m, corners)
    assert abs(found - highest) <= 1.0
    # The corner touches the ceiling there: its height by rotation, not by the closed form.
    if found < 90:
        e = np.radians(found)
        turn = np.array([[np.cos(e), -np.sin(e)], [np.sin(e), np.cos(e)]])
        assert eyes_m + (turn @ [distance_m, 0.5 * tall_m])[1] == pytest.approx(2.35)


def test_the_push_that_topples_a_stand() -> None:
    """Truth: 5.5 kg at 2.2 m with edges of 25, 35 and 50 cm: 6, 9 and 12 N bare, 14, 20 and 28 N
    with a bag of 7 kg; computed for the trade notes, no published source."""
    bare = [push_to_topple_n(5.5, 2.2, edge) for edge in (0.25, 0.35, 0.5)]
    bagged = [push_to_topple_n(12.5, 2.2, edge) for edge in (0.25, 0.35, 0.5)]
    np.testing.assert_allclose(bare, [6, 9, 12], atol=0.5)
    np.testing.assert_allclose(bagged, [14, 20, 28], atol=0.6)
    assert push_to_topple_n(5.5, 2.2, 0.25, off_centre_m=0.25) == 0


def test_what_balances_a_boom() -> None:
    """Truth: the lever's law; 3.5 kg at 1.5 m are 10.5 kg at 0.5 m and 7.5 kg at 0.7 m, computed
    for the trade notes."""
    assert counterweight_kg(3.5, 1.5, 0.5) == pytest.approx(10.5)
    assert counterweight_kg(3.5, 1.5, 0.7) == pytest.approx(7.5)


LAMPS = [(150, 20, 8.0, 6.0), (150, 20, 2.8, 3.0), (250, 20, 8.0, 5.2), (60, 100, 8.0, 5.0)]


@pytest.mark.parametrize(("watts", "efficacy", "f_number", "under"), LAMPS)
def test_modelling_lamps_lie_so_far_under_the_flash(
    tmp_path: Path, watts: float, efficacy: float, f_number: float, under: float
) -> None:
    """Truth: lamps in a 60x90 box at 1 m, ISO 100 and 1/125 s, computed for the trade notes to
    a tenth of a stop, with 20 lm/W of a halogen and 100 lm/W of an LED lamp from memory."""
    kit = (
        f"[flash.own]\nstored_energy_ws = 400\nmodelling_w = {watts}\n"
        f"modelling_lm_per_w = {efficacy}\n"
    )
    (tmp_path / "own.toml").write_text(kit)
    key = 'azimuth_deg = 0\ndistance_m = 1.0\n[light.other]\nflash = "own"\n'
    key += 'modifier = "softbox-60x90"\nazimuth_deg = -90\ndistance_m = 1.0\n'
    found = checked(tmp_path, key, before='kit = ["own.toml"]\n', f_number=str(f_number))
    lamp = found["other light: light.other"]
    assert abs(lamp.value - under) <= 0.1
    assert lamp.verdict == ("fine" if lamp.value >= 5 else "look")


def test_a_dim_room_records_nothing_at_f_8() -> None:
    """Truth: f/8 at ISO 100 and 1/125 s asks for 20 000 lx (E = C·N²/(S·t), ISO 2720)."""
    camera = Camera(f_number=8, iso_speed=100, shutter_s=1 / 125)
    assert stops_under(camera, 250, 20_000) == pytest.approx(0)
    assert stops_under(camera, 250, 20_000 / 32) == pytest.approx(5)


def test_ambient_light_is_told_apart_by_the_shutter_alone(tmp_path: Path) -> None:
    """Truth: twice the time is one stop more of it; five stops under are enough, common
    practice."""
    dark = checked(tmp_path, room="ambient_lx = 400")["other light: room"]
    slow = checked(tmp_path, room="ambient_lx = 400", camera='shutter_s = "1/60"')
    assert dark.verdict == "fine"
    assert dark.value == pytest.approx(np.log2(20_000 / 400))
    assert dark.value - slow["other light: room"].value == pytest.approx(np.log2(125 / 60))
    assert slow["other light: room"].verdict == "look"


@pytest.mark.parametrize(
    ("camera", "verdict"),
    [
        ('shutter_s = "1/125"', "fine"),
        ('shutter_s = "1/200"', "look"),
        ('shutter_s = "1/500"', "wrong"),
        ('shutter_s = "1/200"\nsync_s = "1/200"', "fine"),
        ('shutter_s = "1/250"\nsync_s = "1/200"', "wrong"),
    ],
)
def test_a_shutter_faster_than_sync(tmp_path: Path, camera: str, verdict: str) -> None:
    """Truth: 1/125 s always syncs, limits are 1/160 to 1/250 s; trade pages."""
    assert checked(tmp_path, camera=camera)["sync: camera"].verdict == verdict


def test_a_box_whose_back_goes_through_the_ceiling(tmp_path: Path) -> None:
    """Truth: pointed straight down with its front at 1.9 m, a shell of 40 cm with the head's 25 cm
    behind it reaches 2.55 m, 15 cm into a ceiling at 2.4 m."""
    down = "position_m = [0, 1.9, 0.001]\naim = [0, 0.2, 0.001]"
    found = checked(tmp_path, down)["fit: light.key"]
    assert found.verdict == "wrong"
    assert found.value == pytest.approx(-15, abs=0.1)
    assert "15 cm into the ceiling" in found.words


def test_the_elevation_that_cures_it_does(tmp_path: Path) -> None:
    """Truth: the same check at the elevation that its words name, and one degree above."""
    at = "azimuth_deg = -45\nelevation_deg = {}\ndistance_m = 1.2"
    words = checked(tmp_path, at.format(46))["fit: light.key"].words
    highest = int(words.split("elevation of ")[1].split("°")[0])
    assert checked(tmp_path, at.format(highest))["fit: light.key"].verdict == "fine"
    assert checked(tmp_path, at.format(highest + 1))["fit: light.key"].verdict == "look"


def test_a_boom_whose_tail_goes_through_the_wall(tmp_path: Path) -> None:
    """Truth: plane geometry. The head hangs at x = -0.5, the tail ends 2.0 m to camera left of it,
    at -2.5 m; the wall is at -1.6 m."""
    place = "position_m = [-0.5, 1.6, -0.3]\naim = [-0.5, 1.0, -0.3]\n"
    boom = 'stand = "boom"\nboom = { arm_m = 1.0, tail_m = 1.0, azimuth_deg = -90 }'
    found = checked(tmp_path, place + boom)
    assert found["boom tail: light.key"].verdict == "wrong"
    assert found["boom tail: light.key"].value == pytest.approx(-90, abs=0.1)
    other = checked(tmp_path, place + boom.replace("-90", "90"))
    assert other["boom tail: light.key"].value == pytest.approx(10, abs=0.1)


def test_a_boom_out_of_balance_topples_by_itself(tmp_path: Path) -> None:
    """Truth: 3.5 kg at 1.5 m on legs of 0.5 m, nothing on the tail: the load lies far outside
    the feet. With the weight that the words ask for, nothing is wrong."""
    place = "position_m = [0.5, 1.5, -0.3]\naim = [0.5, 1.0, -0.3]\n"
    bare = checked(tmp_path, place + 'stand = "boom"\nboom = { weight_kg = 0 }')
    assert bare["tip-over: light.key"].verdict == "wrong"
    needed = bare["boom balance: light.key"].value
    boom = f'stand = "boom"\nbag_kg = 12\nboom = {{ weight_kg = {needed:.2f} }}'
    balanced = checked(tmp_path, place + boom)
    assert balanced["boom balance: light.key"].verdict == "fine"
    assert balanced["tip-over: light.key"].verdict == "fine"
    assert balanced["tip-over: light.key"].value > 0


def test_a_column_before_the_lens_is_in_the_frame(tmp_path: Path) -> None:
    """Truth: a column straight behind the sitter's place, on the axis of a level camera, is
    hidden by nothing; one 1.5 m aside is not in a frame 0.6 m wide."""
    behind = "position_m = [0, 1.9, -0.6]\naim = [0, 1.2, 0]"
    found = checked(tmp_path, behind)["stand in frame: light.key"]
    assert found.verdict == "wrong"
    aside = checked(tmp_path, "position_m = [-1.1, 1.5, -0.5]\naim = [0, 1.2, 0]")
    assert aside["stand in frame: light.key"].verdict == "fine"


def test_legs_need_half_their_radius_at_a_wall(tmp_path: Path) -> None:
    """Truth: with two legs turned to the wall, 60 degrees off it, each reaches r·cos 60."""
    near = "position_m = [-0.8, 1.3, 0.3]\naim = [0.5, 1.3, 0.3]\nleg_radius_m = {}"
    found = checked(tmp_path, near.format(0.5))["stand: light.key"]
    assert found.limit == pytest.approx(100 * 0.5 * np.cos(np.radians(60)))
    assert found.verdict == "fine"
    assert checked(tmp_path, near.format(1.2))["stand: light.key"].verdict == "wrong"


def test_a_light_behind_the_camera_stands_where_the_photographer_does(tmp_path: Path) -> None:
    found = checked(tmp_path, "position_m = [0.1, 1.4, 2.0]\naim = [0, 1.2, 0]")
    assert found["operator: light.key"].verdict == "wrong"
    assert "operator: light.key" not in checked(tmp_path)


def test_a_door_is_kept_clear(tmp_path: Path) -> None:
    """Truth: the key stands at x = -0.73 to -1.2, z = 0.73 to 1.2; a door of 0.8 m in the
    camera-left wall 2.3 m from the back corner swings over z = 0.7 to 1.5, x = -1.6 to -0.8."""
    door = 'door = {{ wall = "camera left", from_m = {} }}'
    assert checked(tmp_path, room=door.format(2.3))["door: light.key"].verdict == "wrong"
    assert checked(tmp_path, room=door.format(0.2))["door: room"].verdict == "fine"


def test_a_power_off_the_dial(tmp_path: Path) -> None:
    """Truth: the dial clicks in tenths of a stop, and a quarter is none."""
    off = checked(tmp_path, USUAL.replace("0.125", '"1/8 +0.25"'))
    assert "step: light.key" not in checked(tmp_path)
    assert off["step: light.key"].verdict == "look"


def test_a_wish_out_of_reach_says_by_how_much(tmp_path: Path) -> None:
    """Truth: each f-stop more costs one stop of power, so the miss grows by exactly that."""
    wish = '[wanted.face]\npoint = "face"\nlight = "key"\nf_number = {}\n'
    near, far = (checked(tmp_path, more=wish.format(f))["wanted: wanted.face"] for f in (45, 90))
    assert near.value - far.value == pytest.approx(2.0)
    assert far.verdict == "wrong"
    assert "beyond full power" in far.words


def test_a_wish_hangs_on_the_key_as_the_face_needs_it(tmp_path: Path) -> None:
    """Truth: the same place three stops darker has three stops too much; a range takes its end."""
    wishes = """
[wanted]
face = { point = "face", f_number = 8 }
dark = { point = "face", stops = -3 }
some = { point = "face", stops = -3, range_stops = [-1, 1.25] }
near = { point = "face", stops = -0.3, range_stops = [-0.5, 0.5] }
close = { point = "face", stops = -0.01 }
"""
    found = checked(tmp_path, more=wishes)
    dark, some = found["wanted: wanted.dark"], found["wanted: wanted.some"]
    # The face is taken as turned to f/8, or reads within the half stop of an estimate of it.
    reads = -dark.value
    assert reads == pytest.approx(3, abs=0.5)
    assert -some.value == pytest.approx(reads - 1.25)
    assert "key, as face needs it, alone" in dark.words
    assert (dark.verdict, some.verdict) == ("wrong", "wrong")
    assert found["wanted: wanted.near"].verdict != "wrong"
    # What an estimate cannot tell is no finding.
    assert found["wanted: wanted.close"].verdict == found["wanted: wanted.face"].verdict == "fine"


@pytest.mark.parametrize(
    ("wished", "meter", "off", "verdict"),
    [
        ("8", "", 0.0, "fine"),
        ("4", "", -2.0, "look"),
        ("16", "", 2.0, "look"),
        ("8", "[meter]\niso_speed = 400\n", -2.0, "look"),
    ],
)
def test_a_camera_that_is_not_set_to_the_wish(
    tmp_path: Path, wished: str, meter: str, off: float, verdict: str
) -> None:
    """Truth: f/4 asks for a quarter of the light of f/8; ISO 400 of the camera's 100 as well."""
    more = f'{meter}[wanted]\nface = {{ point = "face", f_number = {wished} }}\n'
    found = checked(tmp_path, more=more)["exposure: camera"]
    assert found.value == pytest.approx(off)
    assert found.verdict == verdict


def test_a_light_that_is_off_draws_nothing(tmp_path: Path) -> None:
    rim = USUAL.replace("-45", "90")
    off = f'[light.rim]\nflash = "monobloc-400"\nsize_cm = [20, 20]\non = false\n{rim}\n'
    lone = checked(tmp_path)["circuit: room"]
    with_one = checked(tmp_path, more=off)["circuit: room"]
    assert with_one.value == lone.value > 0
    assert "rim" not in with_one.words


def test_the_mains_load_is_the_sum_of_what_is_stated(tmp_path: Path) -> None:
    """Truth: 150 W and twice 60 W are 270 W; 800 W of charging come on top."""
    kit = "[flash.{}]\nstored_energy_ws = 300\nmodelling_w = {}\n{}\n"
    (tmp_path / "own.toml").write_text(
        kit.format("halogen", 150, "charging_w = 800") + kit.format("led", 60, "")
    )
    other = '[light.{}]\nflash = "led"\nmodifier = "snoot"\nazimuth_deg = 90\ndistance_m = 1.2\n'
    key = USUAL + "\n" + other.format("one") + other.format("two")
    file = tmp_path / "room.toml"
    text = ROOM.format(key=key, room="", camera="", f_number="8")
    file.write_text('kit = ["own.toml"]\n' + text.replace("monobloc-400", "halogen"))
    (found,) = check_circuit(Context(load_scene(file)))
    assert found.value == 270 + 800
    assert "one, two" in found.words


def test_cautions_fit_the_set_and_never_promise(tmp_path: Path) -> None:
    file = tmp_path / "room.toml"
    file.write_text(ROOM.format(key=USUAL, room="", camera="", f_number="8"))
    plain = cautions(Context(load_scene(file)))
    assert plain[-1] == LAST
    assert not any("hot lamp" in each or "boom" in each for each in plain)
    hot = ROOM.replace("monobloc-400", "monobloc-250-slider")
    file.write_text(hot.format(key=USUAL + '\nstand = "boom"', room="", camera="", f_number="8"))
    said = " ".join(cautions(Context(load_scene(file))))
    assert "150 W of hot lamp" in said
    assert "counterweight" in said
    assert "safe" not in said


SITTER = '[sitter]\nmodel = "alma"\n'


def test_a_light_straight_over_the_sitter_wants_a_boom(tmp_path: Path) -> None:
    """Truth: geometry. Its column would go through the stool; a boom of 1.5 m takes it out."""
    over = "position_m = [0, 1.7, -0.05]\naim = [0, 1.2, -0.04]\n"
    stood = checked(tmp_path, over, more=SITTER)
    assert stood["boom: light.key"].verdict == "look"
    assert stood["stand by sitter: light.key"].verdict == "wrong"
    hung = checked(tmp_path, over + 'stand = "boom"', more=SITTER)
    assert "boom: light.key" not in hung
    assert hung["stand by sitter: light.key"].verdict == "fine"
    usual = checked(tmp_path, more=SITTER)
    assert "boom: light.key" not in usual
    # The middle of the front is 1.2 m from the eyes; no part of head or shoulders is nearer than
    # half of that, and no part of the box nearer than its half diagonal of 54 cm brings it.
    assert 1.2 - 0.54 - 0.35 < usual["sitter: light.key"].value / 100 < 1.2


def test_every_rig_of_the_bundled_kit_has_a_plausible_mass(tmp_path: Path) -> None:
    """Truth: a head with its box weighs 2.5 to 5 kg, from memory of the trade."""
    file = tmp_path / "room.toml"
    file.write_text(ROOM.format(key=USUAL, room="", camera="", f_number="8"))
    context = Context(load_scene(file))
    (rig,) = rigs(context.setup, context.layout)
    assert 2.5 <= rig.load_kg <= 5


PANEL = '[panel.white]\nkind = "white"\nsize_cm = [60, 90]\nposition_m = [{}]\nfacing = [{}]\n'


def test_a_panel_that_hangs_in_the_air_needs_a_stand_behind_it(tmp_path: Path) -> None:
    """Truth: plane geometry. A panel at x = 1.0 that faces the sitter has its column 3 cm behind
    it, 57 cm from a wall at 1.6 m; at 1.5 m it is 7 cm away, and half of 50 cm of leg is needed."""
    found = checked(tmp_path, more=PANEL.format("1.0, 1.2, 0", "0, 1.2, 0"))["stand: panel.white"]
    assert (found.verdict, found.limit) == ("fine", 25)
    assert found.value == pytest.approx(57)
    near = checked(tmp_path, more=PANEL.format("1.5, 1.2, 0", "0, 1.2, 0"))["stand: panel.white"]
    assert (near.verdict, round(near.value, 3)) == ("look", 7)
    floor = checked(tmp_path, more=PANEL.format("1.0, 0.5, 0", "0, 0.5, 0"))
    assert "stand: panel.white" not in floor


def test_a_panel_over_the_knees_wants_a_hand_and_one_behind_shows_its_stand(tmp_path: Path) -> None:
    """Truth: a column under a panel 28 cm before the eyes goes through the stool; one on the lens's
    axis behind the sitter's place is hidden by its own panel down to where that ends, no lower."""
    lap = checked(
        tmp_path,
        more=SITTER + PANEL.format("0, 0.8, 0.28", "0, 2, 0.28").replace("60, 90", "40, 20"),
    )
    assert lap["stand by sitter: panel.white"].verdict == "look"
    assert "hold it" in lap["stand by sitter: panel.white"].words
    behind = checked(tmp_path, more=PANEL.format("0, 1.5, -0.4", "0, 1.5, 2"))
    assert behind["stand in frame: panel.white"].verdict == "look"


def test_the_stands_of_a_backdrop_stand_past_its_sides(tmp_path: Path) -> None:
    """Truth: paper 2.8 m wide in a room of 3.2 m has its bar's ends at 1.5 m, 10 cm from a wall."""
    wide = "[backdrop]\ngap_m = 1.0\nwidth_m = 2.8\nreflectance = 0.18\n"
    found = checked(tmp_path, more=wide)["stand: backdrop"]
    assert (found.verdict, round(found.value, 3)) == ("look", 10)


def test_a_light_at_the_camera_stands_in_its_tripod(tmp_path: Path) -> None:
    """Truth: the tripod's middle is 1.8 m before the eyes; a box beside the axis stands in it, the
    key of the usual set, 1.2 m away at 45 degrees, does not."""
    near = checked(tmp_path, "position_m = [0.3, 1.4, 1.4]\naim = [0, 1.2, 0]")["stand: camera"]
    assert near.verdict == "look"
    assert near.value < near.limit == 50
    assert checked(tmp_path)["stand: camera"].verdict == "fine"

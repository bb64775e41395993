"""Every number on the card is the meter's, the scene's, or the geometry of the scene file."""

import json
import math
import tomllib
from dataclasses import asdict
from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from render.card import Card, card_of, numbers
from render.card.rooms import extent
from render.card.words import on_the_floor, turn_words
from render.cli.app import app
from render.scenefile import load_scene

# Places by angles and distance, as a photographer writes them; nobody sits, so eyes are at 1.2 m.
SPHERE = """
title = "By angle and distance"
present = ["children", "powder"]
[room]
width_m = 3.4
depth_m = 4.8
height_m = 2.5
back_wall_m = 1.9
left_wall_m = 1.5
[point.face]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/8 +0.5"
azimuth_deg = -42
elevation_deg = 28
distance_m = 1.2
[light.rim]
flash = "monobloc-200"
modifier = "strip-25x110"
grid_deg = 40
power = "1/16"
azimuth_deg = 140
elevation_deg = 20
distance_m = 1.1
"""
EYES_M = 1.2


@cache
def printed(*arguments: str) -> dict:
    done = CliRunner().invoke(app, list(arguments))
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def sphere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("sphere") / "sphere.toml"
    file.write_text(SPHERE)
    return file


def test_every_reading_is_meter_json(card: Card, file: Path, sphere: Path) -> None:
    _compare(asdict(numbers(card)), file)
    _compare(printed("card", str(sphere), "--json", "--direct"), sphere)


def _compare(said: dict, file: Path) -> None:
    read = printed("meter", str(file), "--json", "--direct")["readings"]
    rows = {(row["point"], row["lights"]): row for row in read}
    for light in said["lights"]:
        for each in (light["alone"], light["together"]):
            meant = rows[each["point"], each["lights"]]
            assert each == {name: meant[name] for name in each}
        assert light["alone"]["lights"] == light["name"]
        assert light["together"]["lights"] == "all"


def test_every_power_is_the_scenes(card: Card, file: Path) -> None:
    written = tomllib.loads(file.read_text())["light"]
    for row in numbers(card).lights:
        assert row.power == written[row.name]["power"]
        fraction, _, more = row.power.partition(" +")
        share = float(fraction.split("/")[0]) / float(fraction.split("/")[1])
        assert row.power_stops == pytest.approx(math.log2(share) + float(more or 0))


def test_tape_distances_follow_from_angles_and_distance(sphere: Path) -> None:
    # Truth: the sphere formula; azimuth 0 is towards the camera, negative is camera left.
    rows = {row["name"]: row for row in printed("card", str(sphere), "--json", "--direct")["tape"]}
    for name, azimuth, elevation, distance in (("key", -42, 28, 1.2), ("rim", 140, 20, 1.1)):
        a, e = math.radians(azimuth), math.radians(elevation)
        x = distance * math.cos(e) * math.sin(a)
        y = EYES_M + distance * math.sin(e)
        z = distance * math.cos(e) * math.cos(a)
        # Walls at x = -1.5 and 1.9, z = -1.9 and 2.9; without a backdrop the nearer one is taped.
        left, right, back, before = x + 1.5, 1.9 - x, z + 1.9, 2.9 - z
        row = rows[name]
        assert row["across_m"] == pytest.approx(min(left, right), abs=1e-6)
        assert row["along_m"] == pytest.approx(min(back, before), abs=1e-6)
        sides = ("camera-left wall", "camera-right wall")[left > right]
        assert row["across_from"] == sides
        assert row["along_from"] == ("back wall", "camera wall")[back > before]
        assert row["height_m"] == pytest.approx(y, abs=1e-6)
        assert row["eyes_m"] == pytest.approx(distance)
        assert row["tilt_deg"] == pytest.approx(-elevation)
        # It looks back along the azimuth that it stands at.
        assert row["turn_deg"] == pytest.approx((azimuth + 360) % 360 - 180)


def test_powder_and_children_are_cautioned_of_where_the_scene_says_so(
    sphere: Path, card: Card
) -> None:
    said = " ".join(printed("card", str(sphere), "--json", "--direct")["cautions"])
    assert "Powder in the air" in said
    assert "Children in the room" in said
    assert "Modelling lamps draw" in said
    assert "Powder" not in " ".join(card.cautions)


def test_a_flag_of_the_checks_is_told_by_tape(card: Card) -> None:
    # By hand: walls at x = -1.6 and 1.6, z = 3.0 behind the camera.
    words = "light.hair shines; a flag with its middle at x -0.34, y 1.62, z 0.19 m, or turn it."
    assert on_the_floor(card.setup, card.layout, words) == (
        "hair shines; a flag with its middle at 1.26 from camera-left wall, 2.81 from camera wall, "
        "height 1.62, or turn it."
    )


def test_turns_are_said_from_the_camera(card: Card) -> None:
    # The panel stands at x 0.7, z 0.2 and looks at the mark: to camera left, a little away from
    # the camera; atan2(-0.7, -0.2).
    row = next(row for row in numbers(card).tape if row.name == "fill")
    assert row.turn_deg == pytest.approx(math.degrees(math.atan2(-0.7, -0.2)))
    assert turn_words(row.turn_deg) == "106° left"


def test_a_hall_is_cut_and_a_void_has_no_room(tmp_path: Path) -> None:
    hall = tmp_path / "hall.toml"
    hall.write_text(SPHERE.replace("depth_m = 4.8", "depth_m = 30"))
    card = card_of(load_scene(hall), bounce=False)
    depth = extent(card)[1, 2] - extent(card)[0, 2]
    assert depth < 8
    assert numbers(card).room_m == pytest.approx((3.4, 30, 2.5))
    void = tmp_path / "void.toml"
    start, end = SPHERE.index("[room]"), SPHERE.index("[point")
    void.write_text(SPHERE[:start] + SPHERE[end:])
    told = numbers(card_of(load_scene(void), bounce=False), "letter")
    assert told.room_m is None
    assert told.tape[1].across_from == "camera left of +"
    # Nobody sits there: the meter point is what the mark is under.
    assert told.tape[0].name == "face"
    assert told.order[0] == "Mark the floor with a cross. Over it at 1.20: face."

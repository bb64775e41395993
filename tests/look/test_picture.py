"""What the finished picture shows, by statistics: sides, places, and each light's doing."""

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import render
from render.layout.lens import project
from render.photometry.srgb import luminance
from render.picture import Look
from render.scenefile import load_scene
from render.trace import FrameStore
from render.trace.frames import MEANT_STOPS

PAPERS_PX, PORTRAIT_PX = 300, 200  # long side

PAPERS = """
title = "two small papers in the void"
[camera]
distance_m = 2.0
height_m = 1.3
aim_height_m = 1.2
f_number = 64
[light.key]
luminous_energy_lm_s = 4000
size_cm = [50, 50]
position_m = [0, 1.9, 2.0]
aim = "eyes"
[panel.left_high]
position_m = [-0.12, 1.38, 0.1]
facing = [0, 0, 1]
size_cm = [5, 5]
reflectance = 0.8
[panel.right_low]
position_m = [0.15, 1.05, -0.2]
facing = [0, 0, 1]
size_cm = [5, 5]
reflectance = 0.2
[point.anywhere]
position_m = [0, 1.2, 0]
"""


def look_of(setup: render.Setup, folder: Path, long_side_px: int = PORTRAIT_PX) -> Look:
    return render.look(setup, quality="proof", long_side_px=long_side_px, store=FrameStore(folder))


def test_things_appear_where_the_closed_form_projects_them(tmp_path: Path) -> None:
    """Thin-lens similar triangles against the traced picture; camera left is the left."""
    file = tmp_path / "papers.toml"
    file.write_text(PAPERS)
    made = look_of(load_scene(file), tmp_path / "frames", PAPERS_PX)
    light = luminance(made.picture.linear.astype(float))
    height, width = light.shape
    rows, columns = np.mgrid[0:height, 0:width] + 0.5
    view = made.layout.view
    assert view is not None
    for name, half in (
        ("left_high", np.s_[:, : width // 2]),
        ("right_low", np.s_[:, width // 2 :]),
    ):
        weight = light[half] / light[half].sum()
        found = np.array([(columns[half] * weight).sum(), (rows[half] * weight).sum()])
        at = np.array(tomllib.loads(PAPERS)["panel"][name]["position_m"])
        expected = project(view, at) * [width, height]
        np.testing.assert_allclose(found, expected, atol=0.6)


def patch(
    look: Look, picture: render.picture.Picture, name: str, reach_px: int = 4
) -> NDArray[np.float64]:
    """Luminance of the pixels round a meter point, about 3 cm across."""
    view = look.layout.view
    assert view is not None
    light = luminance(picture.linear.astype(float))
    point = next(p for p in look.layout.points if p.name == name)
    x, y = (project(view, point.position_m) * [light.shape[1], light.shape[0]]).astype(int)
    return light[y - reach_px : y + reach_px + 1, x - reach_px : x + reach_px + 1]


@pytest.fixture(scope="module")
def portrait(tmp_path_factory: pytest.TempPathFactory) -> Look:
    return look_of(load_scene("violin-two-lights"), tmp_path_factory.mktemp("frames"))


def test_the_strip_lifts_the_far_shoulder_and_not_the_backdrop(portrait: Look) -> None:
    """A hair light from behind separates the shoulder away from the key; common practice, no
    source. It must not spill on the paper behind."""
    key = portrait.one_light("key")

    def gained(name: str) -> float:
        both, alone = patch(portrait, portrait.picture, name), patch(portrait, key, name)
        return float(np.log2(both.mean() / alone.mean()))

    assert gained("shoulder_camera_right") > 0.3
    assert gained("backdrop_top_left") < 0.15  # its bounce in the pale room


def test_face_stands_out_from_the_backdrop(portrait: Look) -> None:
    """Key cheek of light skin against dark grey paper two stops down: at least three stops."""
    face = patch(portrait, portrait.picture, "key_cheek").mean()
    paper = patch(portrait, portrait.picture, "backdrop_top_left").mean()
    assert np.log2(face / paper) > 3


def test_a_proof_is_as_sure_as_it_is_meant_to_be(portrait: Look) -> None:
    assert 0 < portrait.error_stops <= MEANT_STOPS["proof"]


def test_the_keys_side_is_the_bright_side(portrait: Look) -> None:
    cheeks = [patch(portrait, portrait.picture, n).mean() for n in ("key_cheek", "shadow_cheek")]
    assert np.log2(cheeks[0] / cheeks[1]) > 1


def test_the_key_turned_to_the_backdrop_lifts_it_as_predicted(
    portrait: Look, tmp_path: Path
) -> None:
    """Rendered paper, room and all, moves by the stops that the meter table says."""
    setups = [load_scene(name) for name in ("violin-two-lights", "violin-key-spill")]
    spilled = look_of(setups[1], tmp_path)
    rendered = np.log2(
        patch(spilled, spilled.one_light("key"), "backdrop_top_left", 6).mean()
        / patch(portrait, portrait.one_light("key"), "backdrop_top_left", 6).mean()
    )
    found = []
    for setup in setups:
        table = render.meter(setup, receptor="flat", aim="normal")
        found += [
            row.luminous_exposure_lx_s
            for row in table.readings
            if (row.point, row.lights) == ("backdrop_top_left", "key")
        ]
    energies = [look.layout.fronts[0].luminous_energy_lm_s for look in (portrait, spilled)]
    assert energies[0] == energies[1]
    predicted = np.log2(found[1] / found[0])
    assert predicted > 0.5
    assert rendered == pytest.approx(predicted, abs=0.06)


def test_power_needs_no_new_frame(portrait: Look, tmp_path: Path) -> None:
    """Doubling the key's power doubles its part and traces nothing."""
    setup = load_scene("violin-two-lights")
    store = FrameStore(tmp_path)
    calls: list[object] = []
    render.look(setup, quality="draft", long_side_px=120, store=store, progress=calls.append)
    assert calls
    traced = len(calls)
    key = setup.scene.light["key"]
    lights = setup.scene.light | {"key": key.model_copy(update={"power": key.power / 2})}
    softer = replace(setup, scene=setup.scene.model_copy(update={"light": lights}))
    again = render.look(
        softer, quality="draft", long_side_px=120, store=store, progress=calls.append
    )
    assert len(calls) == traced
    first = render.look(setup, quality="draft", long_side_px=120, store=store)
    np.testing.assert_allclose(
        2 * again.one_light("key").linear, first.one_light("key").linear, rtol=1e-6
    )


def test_the_plain_engine_gives_the_same_portrait(tmp_path: Path) -> None:
    """Without a compiler the picture is noisier but the same, hair and all."""
    setup = load_scene("violin-two-lights")
    looks = [
        render.look(
            setup,
            quality="draft",
            long_side_px=100,
            engine=engine,
            store=FrameStore(tmp_path / engine),
        )
        for engine in ("scalar", "auto")
    ]
    face, whole = np.s_[30:75, 25:55], np.s_[:, :]
    for part in (face, whole):
        plain, other = (luminance(each.picture.linear.astype(float))[part] for each in looks)
        assert np.log2(plain.mean() / other.mean()) == pytest.approx(0, abs=0.05)

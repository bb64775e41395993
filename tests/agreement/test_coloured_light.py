"""Gelled light, traced white and coloured afterwards, is what gel, paper and walls make of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import render
from render.emission.tint import tint
from render.errors import KitError
from render.folders import data_folder
from render.layout.placed import Layout
from render.photometry.srgb import LUMINANCE_SHARES
from render.picture.develop import Exposure, mix
from render.predict import enclosure_estimate
from render.report.spotting import MATTE_DIRECT
from render.scenefile.parse import read_part
from render.studio.kit import Kit
from render.trace import Engine, FrameStore, light_frames, receptor_readings, spots
from render.trace.spots import Spot
from tests.checks import CHECKS
from tests.sets import front, layout, place_from_reference, room_a, sheet, walls
from tests.unit.trace.small import X, Y, view

KIT = read_part(data_folder("scenes") / "kit" / "gels.toml", Kit, KitError).gel
FLASH_K = 5500.0
GREY, RUST = (0.18, 0.18, 0.18), (0.50, 0.18, 0.06)
SCENE = """
title = "Paper behind nobody"
[backdrop]
gap_m = 1.4
width_m = 2.72
PAPER
[camera]
distance_m = 2.0
height_m = 1.2
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/8"
position_m = [-0.7, 1.6, 0.9]
[light.background]
flash = "monobloc-400"
modifier = "softbox-60x90"
gel = GELS
position_m = [1.3, 1.0, -0.3]
aim = [0.0, 1.2, -1.4]
[point.centre]
landmark = "backdrop_centre"
[point.corner]
landmark = "backdrop_top_left"
"""


@pytest.mark.parametrize("paper", ["reflectance = 0.18", f"colour = {list(RUST)}"])
def test_gelled_background_agrees_with_its_prediction(tmp_path: Path, paper: str) -> None:
    """Both witnesses, 0.02 stop: a blue gel on paper of its own and of another colour."""
    losses = {}
    for gels in ('["blue"]', "[]"):
        file = tmp_path / "paper.toml"
        file.write_text(SCENE.replace("PAPER", paper).replace("GELS", gels))
        found = render.compare(render.load_scene(file))
        judged = [row for row in found.rows if row.judged and row.stage == MATTE_DIRECT]
        assert {row.light for row in judged} == {"key", "background"}
        for row in judged:
            assert row.difference_stops is not None
            assert row.standard_error_stops is not None
            assert abs(row.difference_stops) < max(4 * row.standard_error_stops, 0.01), row
            assert row.verdict == "agrees", row
        centre = next(r for r in judged if (r.point, r.light) == ("centre", "background"))
        losses[gels] = centre.rendered_stops
    # Stated for the gel: T = 0.04.
    loss = losses["[]"] - losses['["blue"]']
    assert loss == pytest.approx(-np.log2(0.04), abs=0.02)


def lit_paper(paper: tuple[float, float, float], gel: str) -> Layout:
    """A sheet that fills the frame, a gelled front beside the camera."""
    worn = tint(FLASH_K, [KIT[gel]])
    lamp = front([0.3, 0.0, -1.0], [-0.6, 1.2, 1.2], name="lamp", colour=worn.colour)
    back = sheet([0, 1.2, -1.3], X, Y, 3, 3, name="paper", kind="backdrop", reflectance=paper)
    return replace(layout(lamp, sheets=(back,)), view=view())


@pytest.mark.parametrize("gel", ["warm-full", "blue", "magenta"])
@pytest.mark.parametrize("paper", [GREY, RUST], ids=["grey", "rust"])
def test_picture_shows_the_gel_times_the_paper(
    gel: str, paper: Any, engine: Engine, tmp_path: Path
) -> None:
    """One reflection of direct light: channel ratios are exactly those of gel times paper."""
    made = lit_paper(paper, gel)
    exposure = Exposure(100, 8.0, 1 / 125, 85)
    frames = light_frames(made, 1, (20, 25), FrameStore(tmp_path), engine)
    picture = mix(frames, made, exposure)
    wanted = np.array(tint(FLASH_K, [KIT[gel]]).colour) * np.array(paper)
    lit = picture.linear.reshape(-1, 3)
    assert np.all(lit > 0)
    found = lit / lit.sum(1, keepdims=True)
    truth = np.broadcast_to(wanted / wanted.sum(), found.shape)
    np.testing.assert_allclose(found, truth, rtol=1e-4, atol=1e-5)


def test_a_gel_asks_for_no_new_frame(engine: Engine, tmp_path: Path) -> None:
    """Frames are white: another gel finds the same one in the store."""
    store = FrameStore(tmp_path)
    for gel in ("warm-full", "blue"):
        seen: list[Any] = []
        light_frames(lit_paper(GREY, gel), 1, (20, 25), store, engine, progress=seen.append)
        assert bool(seen) == (gel == "warm-full")


@pytest.mark.parametrize("name", ["llvm", "scalar"])
def test_spot_on_coloured_paper_weighs_channels_by_the_light(name: str) -> None:
    """Truth: Σ share · light · paper against Σ share · paper, with the same random numbers."""
    target = Spot(np.array([0.0, 1.2, 1.0]), np.array([[0.0, 1.2, -1.3], [0.1, 1.3, -1.3]]))
    gelled = lit_paper(RUST, "blue")
    plain = replace(gelled, fronts=(replace(gelled.fronts[0], colour=(1.0, 1.0, 1.0)),))
    with Engine(name) as running:
        blue, white = (
            spots(made, [target], "real", room=True, bounces=1, samples=64, engine=running).mean
            for made in (gelled, plain)
        )
    weights = LUMINANCE_SHARES * np.array(RUST)
    wanted = weights @ np.array(gelled.fronts[0].colour) / weights.sum()
    assert wanted < 0.75  # a blue light loses more on rust than a white one
    np.testing.assert_allclose(blue / white, wanted, rtol=1e-4)


def red_room() -> Layout:
    """Reference room A with walls that give back half of the red and nothing else."""
    red = (0.5, 0.0, 0.0)
    made = room_a(0.0)
    lamp = made.fronts[0]
    colour = (4.0, (1 - 4.0 * LUMINANCE_SHARES[0]) / (1 - LUMINANCE_SHARES[0]))
    lowered = replace(
        lamp,
        centre_m=lamp.centre_m + 1e-4 * lamp.normal,
        colour=(colour[0], colour[1], colour[1]),
    )
    painted = tuple(replace(wall, reflectance=red, back_reflectance=red) for wall in walls(0.5))
    return replace(made, fronts=(lowered,), sheets=painted)


def test_red_light_in_a_red_room(engine: Engine) -> None:
    """Truth: per channel, rows RM-5 (radiosity, Radiance) for red and no bounce for the rest."""
    made = red_room()
    lamp = made.fronts[0]
    energy, red_share = np.pi * 1000 * 0.54, LUMINANCE_SHARES[0] * lamp.colour[0]
    places = place_from_reference(np.array([[2, 2.5, 1.2], [2, 2.5, 0]], float))
    places[:, 1] += 1e-5
    up = np.array([[0.0, 1.0, 0.0]] * 2)
    found = receptor_readings(made, places, up, "flat", engine=engine, samples=1 << 19)
    direct = found.total - found.bounce
    in_red = np.array([CHECKS["RM-52"].values[0], CHECKS["RM-50"].values[0]])[:, None] / energy
    truth = red_share * in_red + (1 - red_share) * direct
    assert np.all(found.total_error < 0.002 * truth)
    assert np.all(np.abs(found.total / truth - 1) < 0.004), found.total / truth


def test_estimate_of_the_room_weighs_channels_too() -> None:
    """Truth: the integrating-sphere series by channel; red light bounces 4 times as much."""
    made = red_room()
    white = replace(made, fronts=(replace(made.fronts[0], colour=(1.0, 1.0, 1.0)),))
    np.testing.assert_allclose(enclosure_estimate(made) / enclosure_estimate(white), 4.0, rtol=1e-9)

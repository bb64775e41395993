"""Skin maps: the asked reflectance over the true skin, plausible regions, gloss and relief."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.ndimage import gaussian_filter

from render.sitter.cast import CAST
from render.sitter.neutral import template, texels_of
from render.sitter.shape.bust import Bust
from render.sitter.shape.head_data import HeadData, data_version
from render.sitter.shape.posing import posed
from render.sitter.shape.regions import Regions
from render.sitter.shape.surfaces import triangles_of
from render.sitter.shape.texels import Texels, map_texels
from render.sitter.skin.canvas import DETAIL
from render.sitter.skin.maps import skin_maps

DATA = Path(__file__).resolve().parents[3] / "meshes"
VERSION = data_version(DATA)
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # of linear sRGB: IEC 61966-2-1
BALD = ("short", None)
REFLECTANCES = (0.05, 0.10, 0.20, 0.35, 0.48, 0.60)


@pytest.fixture(scope="module")
def head() -> HeadData:
    return template(DATA, VERSION)[0]


@pytest.fixture(scope="module")
def bust() -> Bust:
    return template(DATA, VERSION)[1]


@pytest.fixture(scope="module")
def regions() -> Regions:
    return template(DATA, VERSION)[2]


@pytest.fixture(scope="module")
def texels() -> Texels:
    return texels_of(DATA, VERSION, 512)


def looked_up(image: np.ndarray, uv: np.ndarray) -> np.ndarray:
    """Nearest texel of a map (row 0 is v = 1) at each uv (n, 2)."""
    h, w = image.shape[:2]
    row = np.clip(((1 - uv[:, 1]) * h).astype(int), 0, h - 1)
    return image[row, (uv[:, 0] % 1 * w).astype(int)]


def texel_at(maps_shape: tuple[int, ...], bust: Bust, regions: Regions, place: tuple) -> tuple:
    """Row and column of a place on the reference head, from the middle of the eyes [dm]."""
    away = np.linalg.norm(bust.reference - regions.eye_line - np.array(place), axis=1)
    u, v = bust.map_uv[away.argmin()]
    return int((1 - v) * maps_shape[0]), int(u * maps_shape[1])


@pytest.mark.parametrize("name", sorted(CAST))
def test_plain_facial_skin_has_the_asked_reflectance_over_its_true_area(
    name: str, head: HeadData, bust: Bust, regions: Regions, texels: Texels
) -> None:
    vertices = bust.verts(posed(head, CAST[name].morphs))
    triangles = triangles_of(bust.quads)
    uv = bust.map_uv[triangles].copy()
    uv[..., 0] += triangles_of(bust.wrapped)
    area = trimesh.Trimesh(vertices, triangles, process=False).area_faces
    for reflectance in REFLECTANCES:
        tone = replace(CAST[name].skin, reflectance=reflectance)
        maps, plain = skin_maps(regions, texels, tone, CAST[name].seed, BALD, vertices)
        assert maps.albedo.min() > 0
        assert maps.albedo.max() < 0.96
        here = looked_up(plain, uv.mean(1))
        luminous = looked_up(maps.albedo @ LUMINANCE, uv.mean(1))
        # 3 % is a twenty-fifth of a stop.
        mean = np.average(luminous[here], weights=area[here])
        assert abs(mean / reflectance - 1) < 0.03
        # An adult face shows 150 to 350 cm2 of it (whole face about 400; from memory); dm2 here.
        assert 0.8 < area[here].sum() < 4.5


def chroma(rgb: np.ndarray) -> float:
    """Red over green of a mean colour, a plain measure of redness."""
    return float(rgb[..., 0].mean() / rgb[..., 1].mean())


@pytest.mark.parametrize("reflectance", [0.06, 0.12, 0.35])
def test_lips_are_redder_than_the_face_and_cheeks_than_the_brow(
    reflectance: float, bust: Bust, regions: Regions, texels: Texels
) -> None:
    tone = replace(CAST["alma"].skin, reflectance=reflectance, freckles=0.0)
    maps, plain = skin_maps(regions, texels, tone, 3, BALD, bust.reference)

    def around(*place: float) -> np.ndarray:
        row, column = texel_at(maps.albedo.shape, bust, regions, place)
        return maps.albedo[row - 4 : row + 5, column - 4 : column + 5].reshape(-1, 3)

    lips = np.kron(texels.bake(regions.masks["lips"]) > 0.95, np.ones((DETAIL, DETAIL), bool))
    rows = np.nonzero(lips)[0]
    part = np.arange(lips.shape[0])[:, None] < np.quantile(rows, (0.35, 0.65))[:, None, None]
    upper_lip, lower_lip = maps.albedo[lips & part[0]], maps.albedo[lips & ~part[1]]
    brow = around(0.15, 0.50, 0.3)
    cheeks = np.concatenate([around(x, -0.32, 0.1) for x in (0.44, -0.44)])
    face = maps.albedo[plain]
    assert chroma(lower_lip) > 1.12 * chroma(face)
    assert chroma(cheeks) > 1.03 * chroma(brow)
    # The lower lip has the less melanin: in dark faces it is clearly the lighter of the two.
    by_lip = (lower_lip @ LUMINANCE).mean() / (upper_lip @ LUMINANCE).mean()
    assert by_lip > (1.15 if reflectance < 0.2 else 0.95)
    assert 0.4 < (lower_lip @ LUMINANCE).mean() / (face @ LUMINANCE).mean() < 1.35
    # Red over green over blue everywhere: never grey, green or blue.
    assert (maps.albedo[plain][:, 0] > maps.albedo[plain][:, 1]).all()
    assert (maps.albedo[plain][:, 1] > maps.albedo[plain][:, 2]).all()


def test_nose_and_lips_are_glossier_than_cheek_and_neck(
    bust: Bust, regions: Regions, texels: Texels
) -> None:
    maps, _ = skin_maps(regions, texels, CAST["alma"].skin, 3, BALD, bust.reference)

    def around(*place: float) -> float:
        row, column = texel_at(maps.roughness.shape, bust, regions, place)
        return float(maps.roughness[row - 3 : row + 4, column - 3 : column + 4].mean())

    lip, nose, cheek, neck = (
        around(*p) for p in ((0, -0.70, 0.45), (0, -0.34, 0.6), (0.5, -0.35, 0), (0.1, -1.5, 0))
    )
    # Order and range of slopes: Weyrich et al., ACM Trans. Graph. 25 (2006) 1013, from memory.
    assert lip < nose < cheek < neck
    alpha = maps.roughness**2
    assert alpha.min() > 0.05
    assert alpha.max() < 0.5


def fine_relief_m(maps_relief: np.ndarray, plain: np.ndarray) -> float:
    """Mean height of what is finer than about 4 mm."""
    fine = maps_relief - gaussian_filter(maps_relief, 4)
    return float(np.abs(fine[plain]).mean())


def test_relief_is_that_of_skin_and_grows_with_age(bust: Bust, regions: Regions) -> None:
    texels = map_texels(bust, 1536 // DETAIL)
    relief = {}
    for age in (0.1, 0.5, 1.0):
        tone = replace(CAST["alma"].skin, age=age)
        maps, plain = skin_maps(regions, texels, tone, 3, BALD, bust.reference)
        relief[age] = maps.relief_m.astype(np.float64)
    young, middle, old = (fine_relief_m(relief[age], plain) for age in (0.1, 0.5, 1.0))
    # Arithmetic mean roughness Ra of facial skin is 10 to 40 um (replicas; from memory).
    assert 5e-6 < young < middle < old < 40e-6
    # The same lines, only deeper: nothing moves as the sitter ages.
    half, whole = relief[0.5] - relief[0.1], relief[1.0] - relief[0.1]
    deep = whole < -1.5e-4
    assert deep.sum() > 500
    assert (half[deep] < 0).mean() > 0.9
    assert relief[1.0].min() > -1.2e-3


def test_the_same_sitter_gets_the_same_skin(bust: Bust, regions: Regions, texels: Texels) -> None:
    first, second = (
        skin_maps(regions, texels, CAST["bram"].skin, 5, BALD, bust.reference)[0] for _ in "12"
    )
    assert np.array_equal(first.albedo, second.albedo)
    assert np.array_equal(first.relief_m, second.relief_m)
    assert first.albedo.dtype == first.roughness.dtype == first.relief_m.dtype == np.float16

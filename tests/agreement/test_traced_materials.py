"""Skin, eyes, cloth and hair give back no more light than they get."""

from __future__ import annotations

import numpy as np
import pytest

from render.sitter.body import Body, Cloth, Fibre, Painted, Skin, Strands, Surface
from render.trace import Engine, Spot, spots
from tests.agreement.test_traced_fronts import surround
from tests.sets import layout

ENERGY = np.pi * 4.0  # of one face of the surround, 2 x 2 m, at luminance 1
RADIUS_M = 0.1


def globe(material: Skin | Painted | Cloth, rings: int = 48) -> Surface:
    """A ball with a map's uv: u round the equator, v from the lower pole up."""
    polar, turn = np.meshgrid(
        np.linspace(0, np.pi, rings + 1), np.linspace(0, 2 * np.pi, 2 * rings + 1), indexing="ij"
    )
    out = np.stack(
        [np.sin(polar) * np.cos(turn), np.cos(polar), -np.sin(polar) * np.sin(turn)], -1
    ).reshape(-1, 3)
    uv = np.stack([turn / (2 * np.pi), 1 - polar / np.pi], -1).reshape(-1, 2)
    across = 2 * rings + 1
    first = (np.arange(rings)[:, None] * across + np.arange(2 * rings)).reshape(-1, 1)
    triangles = np.concatenate([first + [0, across, 1], first + [1, across, across + 1]])
    f = np.float32
    return Surface(
        "skin",
        (RADIUS_M * out).astype(f),
        triangles.astype(np.int32),
        out.astype(f),
        uv.astype(f),
        material,
    )


def white(*shape: int) -> np.ndarray:
    """A map of ones."""
    return np.ones(shape, np.float32)


MATERIALS = {
    "skin": Skin(white(8, 8, 3), 0.45 * white(8, 8), 0 * white(8, 8)),
    "eye": Painted(white(8, 8, 3), 0.03),
    "cloth": Cloth((1.0, 1.0, 1.0), 0.85, 0.5, 0 * white(8, 8), 20.0),
}


def seen(body: Body, engine: Engine, targets: np.ndarray) -> tuple[float, float]:
    """Luminance and error of a place under a uniform surround of luminance 1."""
    reading = spots(
        layout(*surround(), body=body), [Spot(np.array([0.2, 0.3, 0.8]), targets)], "real",
        room=True, bounces=40, samples=1 << 15, engine=engine,
    )  # fmt: skip
    error = ENERGY * float(np.sqrt((reading.standard_error**2).sum()))
    return ENERGY * float(reading.mean.sum()), error


@pytest.mark.parametrize("name", MATERIALS)
def test_white_surfaces_in_a_uniform_surround(name: str, engine: Engine) -> None:
    """Truth: energy is not made. The stock materials lose some: a fifth is the bound here."""
    way = np.array([[0.25, 0.35, 0.9]])
    targets = RADIUS_M * way / np.linalg.norm(way)
    luminance, error = seen(Body((globe(MATERIALS[name]),), (), {}, name), engine, targets)
    assert error < 0.02
    assert 0.8 < luminance < 1.05 + 4 * error


@pytest.mark.parametrize(("eumelanin", "least", "most"), [(0.0, 0.8, 1.02), (3.0, 0.0, 0.2)])
def test_hair_in_a_uniform_surround(
    eumelanin: float, least: float, most: float, engine: Engine
) -> None:
    """Truth: fibres without pigment give back nearly all light, dark ones little."""
    roots = np.stack(np.meshgrid(np.linspace(-0.05, 0.05, 120), [0.0, 0.001, 0.002]), -1)
    roots = roots.reshape(-1, 2)
    along = np.linspace(-0.1, 0.1, 9)
    points = np.zeros((len(roots), 9, 3), np.float32)
    points[..., 0], points[..., 2], points[..., 1] = roots[:, :1], roots[:, 1:], along
    mat = Strands(
        "hair", points, np.full(points.shape[:2], 5e-4, np.float32), Fibre(eumelanin, 0.0)
    )
    targets = np.stack([np.linspace(-0.03, 0.03, 64), np.zeros(64), np.zeros(64)], -1)
    luminance, error = seen(Body((), (mat,), {}, "mat"), engine, targets)
    assert error < 0.02
    assert least < luminance < most + 4 * error

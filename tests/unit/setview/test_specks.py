"""Particles in the drawing of the set: where they are, large enough to be seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from render.layout import place
from render.scenefile import load_scene
from render.setview.specks import DRAWN, LEAST_M, specks
from render.setview.stage import set_pieces


def test_a_drawn_speck_lies_where_its_particle_is_and_can_be_seen() -> None:
    cloud = place(load_scene("shavings-on-black")).elements[0]
    vertices, triangles = specks(cloud)
    count = min(DRAWN, len(cloud.sizes_m))
    each = vertices.reshape(count, -1, 3)
    assert np.allclose(each.mean(1), cloud.centres_m[:count])
    assert np.ptp(each[..., 0], axis=1).min() >= LEAST_M - 1e-12
    assert triangles.max() == len(vertices) - 1


def test_the_drawing_has_a_piece_for_each_element_and_none_without() -> None:
    layout = place(load_scene("shavings-on-black"))
    names = [piece.name for piece in set_pieces(layout, ())]
    assert [name for name in names if name.startswith("element.")] == [
        "element.curls",
        "element.chips",
        "element.sawdust",
    ]
    bare = [piece.name for piece in set_pieces(replace(layout, elements=()), ())]
    assert bare == [name for name in names if not name.startswith("element.")]

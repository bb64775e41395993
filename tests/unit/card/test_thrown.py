"""The card of a set with elements: the plate before the throw, and what flies where."""

from __future__ import annotations

from render.card.steps import thrown
from render.scenefile import load_scene


def test_the_plate_comes_before_the_throw() -> None:
    plate, throw = thrown(load_scene("shavings-on-black").scene)
    assert "nothing in the air" in plate
    assert "sitter" not in plate
    assert throw.startswith(
        "Then throw, a little at a time: curls, curls of 6 to 28 mm, let go at "
    )
    assert "at 1.56, over +; chips, flakes of 1.5 to 11 mm" in throw


def test_the_sitter_is_photographed_before_powder_flies() -> None:
    scene = load_scene("rosin-on-black").scene
    sitter = load_scene("violin-two-lights").scene.sitter
    plate, throw = thrown(scene.model_copy(update={"sitter": sitter}))
    assert plate.startswith("Photograph the sitter clean first. ")
    assert "puff, dust of 0.01 to 0.05 mm, middle at 1.20, 0.06 camera right of +" in throw


def test_other_cards_have_no_such_step() -> None:
    assert thrown(load_scene("violin-two-lights").scene) == []

"""Pictures on the card: developed as the look is, and where there can be none the card says so."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from render.card import Card, card_of, content, drawn_set, plates, predicted_look
from render.card.page import PAPERS
from render.card.second import later_pages
from render.errors import EngineError, ViewError
from render.picture import Exposure, Picture
from render.report import meter
from render.scenefile import load_scene

WHY = "no engine can run here"


def texts(card: Card) -> str:
    pages = later_pages(card, PAPERS["a4"])
    return " ".join(text.get_text() for page in pages for text in page.axes[0].texts)


def test_the_look_is_developed_at_the_cameras_exposure(
    card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Truth: linear 0.18 is sRGB code 118 (IEC 61966-2-1: 255 (1.055 0.18^(1/2.4) - 0.055))."""
    asked = {}

    def look(setup: object, **wishes: object) -> SimpleNamespace:
        asked.update(wishes)
        grey = np.full((75, 60, 3), 0.18, np.float32)
        picture = Picture(grey, np.zeros((75, 60), np.float32), Exposure(100, 8, 1 / 125, 100))
        return SimpleNamespace(picture=picture, error_stops=0.1)

    monkeypatch.setattr(plates, "look", look)
    plate = predicted_look(card.setup, quality="proof")
    assert plate.pixels is not None
    assert np.unique(plate.pixels).tolist() == [118]
    assert plate.caption.startswith("f/8, 1/125 s, ISO 100. Traced as proof")
    # 4:5 upright, 75 mm at 200 dots an inch.
    assert asked["long_side_px"] == round(75 / 25.4 * 200)
    assert "Traced as proof" in texts(replace(card, plates=(plate,)))


def test_a_black_look_is_called_black(card: Card, monkeypatch: pytest.MonkeyPatch) -> None:
    """No pixel of it has an error in stops to tell."""

    def look(setup: object, **wishes: object) -> SimpleNamespace:
        black, exposure = np.zeros((75, 60, 3), np.float32), Exposure(100, 8, 1 / 125, 100)
        return SimpleNamespace(
            picture=Picture(black, black[..., 0], exposure), error_stops=float("nan")
        )

    monkeypatch.setattr(plates, "look", look)
    caption = predicted_look(card.setup).caption
    assert caption.endswith("Traced as draft: the whole picture is black.")


def test_without_an_engine_the_card_is_made_all_the_same(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object, bounce: bool = True, **__: object) -> object:
        if bounce:
            raise EngineError(WHY)
        return meter(setup, bounce=False)

    setup = load_scene(file)
    monkeypatch.setattr(content, "meter", refuses)
    monkeypatch.setattr(plates, "look", refuses)
    made = card_of(setup)
    made = replace(made, plates=(predicted_look(setup),))
    assert not made.bounce
    said = texts(made)
    assert f"No look: {WHY}." in said
    assert "without the room's bounce: no engine can" in said
    with pytest.raises(EngineError):
        card_of(setup, engine="cuda")
    with pytest.raises(EngineError):
        predicted_look(setup, engine="cuda")


def test_without_gl_one_sentence_stands_in_for_the_view(
    card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object, **__: object) -> None:
        raise ViewError("the set cannot be drawn here: no GL")

    monkeypatch.setattr(plates, "set_view", refuses)
    plate = drawn_set(card.setup, card.layout)
    assert plate.pixels is None
    assert "No view in 3D: the set cannot be drawn here: no GL." in texts(
        replace(card, plates=(plate,))
    )


def test_the_view_numbers_lights_as_the_plan_does(
    card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    size = (472, 354)  # 60 x 45 mm at 200 dots an inch
    places = {"light.hair": (100.0, 90.0), "light.key": (300.0, 90.0), "panel.fill": (301.0, 90.0)}
    drawn = SimpleNamespace(picture=np.zeros((*size[::-1], 3), np.uint8), places_px=places)
    monkeypatch.setattr(plates, "set_view", lambda *_: drawn)
    marks = {mark: (x, y) for mark, x, y in drawn_set(card.setup, card.layout).marks}
    assert {row.mark: row.name for row in card.tape if row.mark in marks} == {
        "1": "hair",
        "2": "key",
        "a": "fill",
    }
    assert marks["1"] == pytest.approx((100 / 472, 90 / 354), abs=1e-3)
    # Two that would cover each other are moved apart by the width of a disc.
    assert 60 * (marks["a"][0] - marks["2"][0]) == pytest.approx(plates.MARK_MM, abs=0.1)


def test_a_scene_without_a_camera_has_no_look(card: Card) -> None:
    bare = card.setup.scene.model_copy(update={"camera": None})
    plate = predicted_look(replace(card.setup, scene=bare))
    assert (plate.pixels, plate.caption) == (None, "No look: the scene has no camera.")

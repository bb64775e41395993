"""The sheet of the cast shows every sitter once, in the scene's light, as each one comes."""

from dataclasses import replace

import numpy as np
import pytest

import render
from render.picture import gallery
from render.picture.sheets import GROUND, Plate, pixels_of, sheet
from render.scenefile import load_scene
from render.sitter import CAST
from render.studio.sitter import Sitter
from render.trace import Engine, FrameStore

SMALL_PX = 60


@pytest.fixture(scope="module")
def plates(tmp_path_factory: pytest.TempPathFactory) -> list[Plate]:
    store = FrameStore(tmp_path_factory.mktemp("frames"))
    with pytest.MonkeyPatch.context() as patch, Engine("scalar") as engine:
        patch.setattr(gallery, "CAST", {name: CAST[name] for name in ("alma", "bram")})
        return list(
            gallery.cast_looks(
                load_scene("violin-two-lights"),
                quality=1,
                long_side_px=SMALL_PX,
                engine=engine,
                store=store,
            )
        )


def test_a_sitter_comes_as_they_are_in_the_pose_of_the_scene() -> None:
    setup = load_scene("violin-two-lights")
    posed = setup.scene.sitter
    assert posed is not None
    asked = setup.scene.model_copy(update={"sitter": posed.model_copy(update={"hair": "bald"})})
    sitter = gallery.sitting(render.Setup(setup.file, asked, setup.kit), "bram").scene.sitter
    assert sitter == Sitter(
        model="bram",
        eyes_height_m=posed.eyes_height_m,
        turn_deg=posed.turn_deg,
        head_turn_deg=posed.head_turn_deg,
    )


def test_the_sheet_holds_every_picture_whole_with_its_caption(plates: list[Plate]) -> None:
    assert [plate.name for plate in plates] == ["alma", "bram"]
    page = np.asarray(sheet(plates, 2))
    for plate in plates:
        pixels = pixels_of(plate.look.picture)
        height, width = pixels.shape[:2]
        windows = np.lib.stride_tricks.sliding_window_view(page, pixels.shape)[..., 0, :, :, :]
        same = (windows == pixels).all((2, 3, 4))
        assert same.sum() == 1, plate.name
        (top,), (left,) = np.nonzero(same)
        below = page[top + height :, left : left + width]
        assert (below.max(2) > GROUND[0] + 60).any(), "no caption"


def test_the_same_light_falls_on_every_sitter(plates: list[Plate]) -> None:
    energies = [
        [front.luminous_energy_lm_s for front in plate.look.layout.fronts] for plate in plates
    ]
    assert energies[0] == energies[1]
    assert plates[0].look.picture.exposure == plates[1].look.picture.exposure


def test_one_column_makes_a_tall_sheet(plates: list[Plate]) -> None:
    wide, tall = sheet(plates, 2), sheet(plates, 1)
    assert wide.width > tall.width
    assert wide.height < tall.height


def blank(like: Plate, name: str, width: int) -> Plate:
    """A black picture of some width with what the gallery writes under a sitter."""
    sitter = CAST[name]
    who, _, rest = sitter.about.partition(", ")
    black = replace(like.look.picture, linear=np.zeros((width, width, 3), np.float32))
    caption = (f"{name}, {who}, skin {sitter.skin.reflectance:g}", rest)
    return Plate(name, caption, replace(like.look, picture=black))


@pytest.mark.parametrize("width", [20, 96, 160])
def test_captions_stand_apart_and_can_be_read(plates: list[Plate], width: int) -> None:
    """Nothing is drawn between the columns, and every letter under its own picture."""
    row = [blank(plates[0], name, width) for name in CAST]
    page = np.asarray(sheet(row, len(row)))[..., 0].astype(int)
    gap = 4
    cell = (page.shape[1] - gap) // len(row) - gap
    assert cell == width or width == 20  # there a word is wider than a picture
    for k in range(len(row)):
        assert (page[:, k * (cell + gap) : k * (cell + gap) + gap] == GROUND[0]).all()
    under = page[gap + width :, gap : gap + cell]
    inked = (under > GROUND[0] + 40).any(1)
    assert inked.sum() >= 20, "less than three lines of type of 9 pixels"

"""The sheet of modifiers shows each one's picture, its figures, and its shape in the eye."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from render.layout import Layout, place
from render.layout.geometry import unit
from render.layout.lens import project
from render.photometry.srgb import luminance
from render.picture.closer import WINDOW_M, catchlight_layout, face_layout
from render.picture.modifiers import Sitting, modifier_plates
from render.picture.sheets import GROUND, Plate, pixels_of, sheet
from render.picture.take import exposure_of, take
from render.report.outfits import Outfit, with_outfit
from render.scenefile import Setup, load_scene
from render.trace import Engine, FrameStore

SMALL_PX, EYE_PX = 60, 48
CORNEA_M = 0.0078  # radius of the cornea's front; common textbook value, from memory
CAPTION = ("name", "power 1/8", "loses 2.0 stops", "shadow edge 12 mm")


@pytest.fixture(scope="module")
def setup() -> Setup:
    return load_scene("violin-one-light")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> FrameStore:
    return FrameStore(tmp_path_factory.mktemp("frames"))


@pytest.fixture(scope="module")
def plain() -> Iterator[Engine]:
    """Without a compiler: so few paths are traced before a kernel is compiled."""
    with Engine("scalar") as running:
        yield running


@pytest.fixture(scope="module")
def plates(setup: Setup, store: FrameStore, plain: Engine) -> list[Plate]:
    outfits = [Outfit("snoot"), Outfit("softbox-90x120")]
    sittings = [
        Sitting(o.name, CAPTION, with_outfit(setup, o, 0.18), float(k))
        for k, o in enumerate(outfits)
    ]
    return list(
        modifier_plates(sittings, quality=4, long_side_px=SMALL_PX, engine=plain, store=store)
    )


def only_place(page: np.ndarray, pixels: np.ndarray) -> tuple[int, int]:
    windows = np.lib.stride_tricks.sliding_window_view(page, pixels.shape)[..., 0, :, :, :]
    (top,), (left,) = np.nonzero((windows == pixels).all((2, 3, 4)))
    return int(top), int(left)


@pytest.mark.parametrize("columns", [1, 2])
def test_the_sheet_holds_pictures_and_eyes_whole_with_captions_and_words(
    plates: list[Plate], columns: int
) -> None:
    page = np.asarray(sheet(plates, columns, "the heading of the sheet", "and its foot " * 20))
    lit = (page.max(2) > GROUND[0] + 60).any(1)
    for plate in plates:
        picture = pixels_of(plate.look.picture)
        top, left = only_place(page, picture)
        assert lit[:top].any(), "no heading"
        assert plate.detail is not None
        eye = pixels_of(plate.detail)
        eye_top, eye_left = only_place(page, eye)
        assert eye_top >= top + len(picture)
        assert eye_left + eye.shape[1] == left + picture.shape[1]
        cell = page.shape[1] // columns  # as wide as the words need
        beside = page[eye_top : eye_top + len(eye), eye_left // cell * cell : eye_left]
        assert (beside.max(2) > GROUND[0] + 60).any(), "no figures"
        assert (beside[:, -3:] == GROUND).all(), "figures run into the eye"
    assert lit[-30:].any(), "no foot"


def test_a_picture_that_the_head_cannot_make_is_lifted(
    setup: Setup, plates: list[Plate], store: FrameStore, plain: Engine
) -> None:
    layout = place(with_outfit(setup, Outfit("softbox-90x120"), 0.18))
    as_it_is = take(
        layout,
        exposure_of(setup),
        quality=4,
        long_side_px=SMALL_PX,
        engine=plain,
        store=store,
    )
    lifted = plates[1].look.picture.linear
    assert lifted == pytest.approx(2 * as_it_is.picture.linear, rel=1e-4, abs=1e-6)


def cornea(layout: Layout) -> np.ndarray:
    """The foremost place of the eye on camera right, where the key of this scene stands."""
    assert layout.body is not None
    eyes = [s.vertices.astype(float) for s in layout.body.surfaces if s.name.startswith("eye_")]
    near = max(eyes, key=lambda each: each[:, 0].mean())
    return near[np.argmax(near[:, 2])]  # the sitter looks at the lens, 1.7 m away


def test_the_close_view_holds_the_iris_of_the_eye_nearer_the_light(setup: Setup) -> None:
    close = catchlight_layout(place(setup))
    assert close is not None
    assert close.view is not None
    assert project(close.view, cornea(close)) == pytest.approx([0.5, 0.5], abs=0.02)
    side = close.view.frame_width_m / close.view.image_m * close.view.focus_m
    assert side == pytest.approx(WINDOW_M, rel=1e-6)


def test_a_closer_frame_holds_the_face_in_the_middle_and_no_more_than_before(setup: Setup) -> None:
    whole = place(setup)
    close = face_layout(whole)
    assert whole.view is not None
    assert close.view is not None
    assert close.body is not None
    assert close.view.frame_height_m < whole.view.frame_height_m
    shape = whole.view.frame_width_m / whole.view.frame_height_m
    assert close.view.frame_width_m / close.view.frame_height_m == pytest.approx(shape)
    marks = [m.position_m.astype(float) for m in close.body.landmarks.values() if m.on != "cloth"]
    seen = project(close.view, np.array(marks))
    assert ((seen > 0.05) & (seen < 0.95)).all()
    assert face_layout(close).view is close.view


@pytest.mark.parametrize(("name", "area_m2"), [("octa-90", 0.573), ("snoot", 0.0028)])
def test_the_light_shows_in_the_eye_where_and_as_large_as_it_is(
    setup: Setup, engine: Engine, tmp_path: Path, name: str, area_m2: float
) -> None:
    """A convex mirror of radius 7.8 mm: the normal halves the angle between light and lens, and an
    object W at a distance s has an image W·f/(s + f), f = 3.9 mm. A dot is a pixel or a few."""
    close = catchlight_layout(place(with_outfit(setup, Outfit(name), 0.2)))
    assert close is not None
    lens, apex, light = close.view, cornea(close), close.fronts[0].centre_m
    assert lens is not None
    made = take(
        close,
        exposure_of(setup),
        quality=64,
        long_side_px=EYE_PX,
        engine=engine,
        store=FrameStore(tmp_path),
    )
    ahead = unit(lens.position_m - apex)
    halfway = unit(unit(light - apex) + ahead)
    mirrored = project(lens, apex + CORNEA_M * (halfway - ahead)) * EYE_PX - 0.5
    bright = luminance(made.picture.linear.astype(float))
    down, across = np.mgrid[:EYE_PX, :EYE_PX]
    near = np.hypot(across - mirrored[0], down - mirrored[1]) < 8
    glint = near & (bright > 0.4 * np.sort(bright[near])[-4])
    centre = np.array([across[glint].mean(), down[glint].mean()])
    assert np.linalg.norm(centre - mirrored) < 2.5, "not where it is mirrored"
    focal, away = CORNEA_M / 2, float(np.linalg.norm(light - apex))
    image_px = area_m2 * (focal / (away + focal) * EYE_PX / WINDOW_M) ** 2
    assert 0.6 * image_px <= glint.sum() <= 1.4 * image_px + 6

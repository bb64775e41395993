"""The browser's mix of the frames is the picture that the program itself makes, within one code."""

from pathlib import Path

import numpy as np
import pytest

from render.page.pictures import Pictures
from render.page.session import Session
from render.page.standing import stand, with_bounce
from render.picture.develop import codes
from render.picture.take import exposure_of, take
from render.report import meter
from render.scenefile.read import load_scene
from render.trace import Engine, FrameStore
from tests.unit.page.scenes import STOOL, opened, session, written

LONG_SIDE_PX = 40
ROOM = "[room]\nwidth_m = 3\ndepth_m = 4\nheight_m = 2.5\n"
LIT = STOOL.replace("on = false", 'gel = ["warm-half"]').replace('"1/4"', '"1/1"')


@pytest.fixture(autouse=True)
def _small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("render.page.pictures.LONG_SIDE_PX", LONG_SIDE_PX)


def browsers_mix(held: Session) -> np.ndarray:
    """What the page is told to do: frames x gain x colour x power x ISO / N², added."""
    found = held.now()
    camera = found["camera"]
    scale = camera["iso_speed"] / 100 / camera["f_number"] ** 2
    mixed = 0.0
    for light in found["lights"]:
        assert light["frame"]["ready"]
        pixels = held.pixels(light["name"], light["frame"]["digest"])
        assert pixels is not None
        power = 2.0 ** light["power_stops"] if light["on"] else 0.0
        colour = np.array(light["colour"])
        mixed = mixed + pixels.astype(float) * light["gain"] * power * scale * colour
    return np.asarray(mixed)


def test_frames_and_bounce_are_those_of_look_and_meter(engine: Engine, tmp_path: Path) -> None:
    text = LIT + ROOM
    store = FrameStore(tmp_path / "frames")
    held = session(tmp_path, text, Pictures(store, engine.name))
    assert held._wanted is not None
    assert held._pictures is not None
    drawing = held._pictures.sketch(held._wanted, engine)
    assert [frames["key"].samples for frames in drawing] == [1, 2]
    coarse = browsers_mix(held).mean()
    growing = held._pictures.grow(held._wanted, engine)
    assert [frames["key"].samples for frames in growing] == [4, 8, 12, 16]
    assert not held._pictures.missing(held._wanted)

    setup = load_scene(written(tmp_path, text))
    look = take(
        held.standing.layout,
        exposure_of(setup),
        quality="draft",
        long_side_px=LONG_SIDE_PX,
        engine=engine,
        store=FrameStore(tmp_path / "others"),
    )
    difference = 255 * np.abs(codes(browsers_mix(held)) - codes(look.picture.linear))
    assert look.picture.linear.mean() > 0.01
    assert difference.max() < 1
    # A quarter of the pixels and other paths; the mean of 320 pixels, so a bound in stops: 0.14.
    assert coarse == pytest.approx(look.picture.linear.mean(), rel=0.1)

    # The same paths from the same seeds in both: the readings agree to rounding.
    document = opened(tmp_path, text)
    traced = with_bounce(stand(document.checked(document.text)), engine)
    assert traced is not None
    rows = meter(setup, samples=4096).readings
    alone = next(row for row in rows if row.lights == "key")
    assert alone.bounce_lx_s > 0
    assert traced.full[0, 0] == pytest.approx(alone.luminous_exposure_lx_s, rel=5e-3)

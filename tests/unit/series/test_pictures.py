"""Only what changed is traced; a stopped series goes on; the sheet holds every picture whole."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from render.errors import OutputError
from render.picture.sheets import pixels_of
from render.series.cells import Series, read_series
from render.series.frames import announcement, check_space, frames_due
from render.series.pictures import Shot, shots
from render.series.sheet import Page, Plate, write_sheet
from render.series.table import metered
from render.trace import Engine, FrameStore, Progress

SIZE_PX, QUALITY = 24, 16


@pytest.fixture(scope="module")
def series(scene: Path) -> Series:
    return read_series(scene, ["light.key.distance_m=0.8,1,1.2"])


def made(series: Series, store: FrameStore, engine: Engine, told: object = None) -> list[Shot]:
    _, outputs = metered(series, ("kept", "re-metered"), None)
    return list(
        shots(
            series.cells,
            outputs,
            quality=QUALITY,
            long_side_px=SIZE_PX,
            engine=engine,
            store=store,
            progress=told,  # type: ignore[arg-type]
        )
    )


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> FrameStore:
    return FrameStore(tmp_path_factory.mktemp("frames"))


@pytest.fixture(scope="module")
def taken(series: Series, store: FrameStore, engine: Engine) -> list[Shot]:
    """Stopped in its second cell, then run again."""
    due = frames_due(series.cells, QUALITY, SIZE_PX, store, engine.name)
    assert (due.frames, due.missing) == (4, 4)

    def stop(progress: Progress) -> None:
        if progress.done_chunks == 6:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        made(series, store, engine, stop)
    told: list[Progress] = []
    found = made(series, store, engine, told.append)
    assert len(told) == due.chunks - 6, "finished light is kept"
    return found


def test_three_places_of_one_light_beside_another_are_four_frames(
    series: Series, store: FrameStore, taken: list[Shot], engine: Engine
) -> None:
    """Truth: light adds, so N places of one of M lights are N + M - 1 light frames."""
    assert len(taken) == 3
    assert len(store.entries()) == 3 + 2 - 1
    due = frames_due(series.cells, QUALITY, SIZE_PX, store, engine.name)
    assert (due.frames, due.missing, due.missing_bytes, due.chunks) == (4, 0, 0, 0)
    assert announcement(due, 3, store) == "3 cells, 4 light frames, 0 of them to trace."


def test_the_size_that_is_announced_is_what_the_frames_take(
    series: Series, store: FrameStore, taken: list[Shot], tmp_path: Path
) -> None:
    """Within a tenth at a size where the headers of the files no longer count."""
    fresh = FrameStore(tmp_path / "none yet")
    due = frames_due(series.cells, QUALITY, SIZE_PX, fresh, "llvm")
    headers = 4 * 1100  # of the archive that a frame is kept in
    assert due.missing_bytes == pytest.approx(store.size_bytes() - headers, rel=0.1)
    huge = frames_due(series.cells[:1], QUALITY, 10_000_000, fresh, "llvm")
    with pytest.raises(OutputError, match="light frames need"):
        check_space(huge, FrameStore(tmp_path, limit_bytes=1 << 60))


def test_a_turned_key_brightens_its_picture_as_its_power(taken: list[Shot]) -> None:
    """Truth: the first cell keeps its power; farther ones are turned up and get brighter."""
    first, *others = taken
    assert np.array_equal(first.pictures[0].linear, first.pictures[1].linear)
    for shot in others:
        kept, turned = (float(picture.linear.mean()) for picture in shot.pictures)
        assert turned > 1.1 * kept


@pytest.mark.parametrize("columns", [1, 2])
def test_the_sheet_shows_every_picture_pixel_for_pixel(
    taken: list[Shot], tmp_path: Path, columns: int
) -> None:
    plates = tuple(Plate(pixels_of(s.pictures[0]), (s.cell.change, "face f/8")) for s in taken)
    page = Page("A chair", plates, columns, ("one", "two") if columns == 2 else (), "notes", 2.0)
    shown = np.asarray(Image.open(write_sheet(tmp_path / "sheet.png", page)).convert("RGB"))
    for plate in plates:
        windows = np.lib.stride_tricks.sliding_window_view(shown, plate.pixels.shape)
        assert (windows[..., 0, :, :, :] == plate.pixels).all((2, 3, 4)).sum() == 1
    printed = write_sheet(tmp_path / "sheet.pdf", page).read_bytes()
    assert printed.startswith(b"%PDF")
    assert printed.count(b"/Subtype /Image") >= len(plates)

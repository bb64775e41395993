"""Light frames: found again, gone on with, and only traced anew when the picture changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.layout.placed import Layout
from render.trace import Engine, FrameStore, LightFrame, Progress, frame_names, light_frames
from render.trace.stage import stage_of
from tests.sets import sheet
from tests.unit.trace.small import GREY, SIZE, X, Y, portrait


def names(layout: Layout, size_px: tuple[int, int] = SIZE) -> dict[str, str]:
    """Stored names of the frames of a set."""
    assert layout.view is not None
    return frame_names(stage_of(layout, "real"), layout.view, size_px, "llvm")


def with_front(layout: Layout, k: int, **changed: Any) -> Layout:
    """The set with one front changed."""
    fronts = list(layout.fronts)
    fronts[k] = replace(fronts[k], **changed)
    return replace(layout, fronts=tuple(fronts))


def test_power_and_names_of_lights_change_no_picture() -> None:
    made = portrait()
    louder = with_front(made, 0, luminous_energy_lm_s=900.0)
    assert names(louder) == names(made)
    assert names(with_front(made, 0, name="main"))["main"] == names(made)["key"]


def test_a_moved_light_changes_its_own_frame_alone() -> None:
    made = portrait()
    moved = with_front(made, 0, centre_m=made.fronts[0].centre_m + [0.0, 0.05, 0.0])
    assert names(moved)["key"] != names(made)["key"]
    assert names(moved)["fill"] == names(made)["fill"]


def test_a_light_that_comes_into_view_changes_the_others() -> None:
    made = portrait()
    in_frame = with_front(made, 0, centre_m=np.array([-0.1, 1.25, -0.8]))
    assert names(in_frame)["fill"] != names(made)["fill"]


@pytest.mark.parametrize(
    "change",
    [
        lambda s: replace(s, view=replace(s.view, f_number=4.0)),
        lambda s: replace(s, view=replace(s.view, position_m=s.view.position_m + [0.01, 0, 0])),
        lambda s: replace(s, sheets=(replace(s.sheets[0], reflectance=(0.2, 0.18, 0.18)),)),
        lambda s: replace(s, sheets=(*s.sheets, sheet([2, 1, 0], X, Y, 1, 1, reflectance=GREY))),
        lambda s: replace(s, body=None),
        lambda s: with_front(with_front(s, 0, recess_m=0.05), 1, edge_falloff_stops=0.5),
    ],
)
def test_what_shows_changes_every_frame(change: Any) -> None:
    made = portrait()
    before, after = names(made), names(change(made))
    assert not set(before.values()) & set(after.values())


def test_size_is_part_of_the_picture() -> None:
    assert not set(names(portrait()).values()) & set(names(portrait(), (48, 60)).values())


def same(a: LightFrame, b: LightFrame) -> bool:
    """Bit for bit."""
    return bool(np.array_equal(a.mean, b.mean) and np.array_equal(a.variance, b.variance))


def test_a_longer_exposure_goes_on_from_a_shorter_one(tmp_path: Path, engine: Engine) -> None:
    """Truth: 16 samples, then 16 more, are the 32 of a single run, bit for bit."""
    steps = FrameStore(tmp_path / "steps")
    light_frames(portrait(), "draft", SIZE, steps, engine)
    told: list[Progress] = []
    further = light_frames(portrait(), 32, SIZE, steps, engine, progress=told.append)
    assert [p.done_chunks for p in told] == [1]
    at_once = light_frames(portrait(), 32, SIZE, FrameStore(tmp_path / "once"), engine)
    for light in ("key", "fill"):
        assert further[light].samples == at_once[light].samples == 32
        assert same(further[light], at_once[light])


def test_an_interrupt_keeps_the_finished_chunks(tmp_path: Path, engine: Engine) -> None:
    store = FrameStore(tmp_path)

    def stop_after_two(progress: Progress) -> None:
        if progress.done_chunks == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        light_frames(portrait(), "draft", SIZE, store, engine, progress=stop_after_two)
    told: list[Progress] = []
    frames = light_frames(portrait(), "draft", SIZE, store, engine, progress=told.append)
    assert len(told) == 2
    at_once = light_frames(portrait(), "draft", SIZE, FrameStore(tmp_path / "once"), engine)
    assert all(same(frames[light], at_once[light]) for light in frames)


def test_only_the_moved_light_is_traced(tmp_path: Path, engine: Engine) -> None:
    store = FrameStore(tmp_path)
    before = light_frames(portrait(), "draft", SIZE, store, engine)
    assert len(store.entries()) == 2
    moved = with_front(portrait(), 0, width_m=0.5)
    after = light_frames(moved, "draft", SIZE, store, engine)
    assert len(store.entries()) == 3
    assert same(before["fill"], after["fill"])
    assert not same(before["key"], after["key"])


def test_one_light_alone_is_its_layer_of_all(tmp_path: Path, engine: Engine) -> None:
    """Truth: lights add, so a light does not know whether others are traced with it."""
    store = FrameStore(tmp_path)
    alone = light_frames(portrait(), 64, SIZE, store, engine, only={"fill"})
    assert list(alone) == ["fill"]
    together = light_frames(portrait(), 64, SIZE, FrameStore(tmp_path / "all"), engine)["fill"]
    apart = (alone["fill"].mean - together.mean) @ np.array([0.2126, 0.7152, 0.0722])
    error = np.sqrt((alone["fill"].variance + together.variance).sum())
    assert abs(apart.sum()) < 4 * error

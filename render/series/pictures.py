"""The pictures of a series: light frames that are missing traced, every cell exposed as asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from render.layout import Layout
from render.picture.develop import Exposure, Picture, mix
from render.picture.take import exposure_of, takes
from render.series.cells import Cell, placed
from render.series.turned import Turned
from render.trace import Crew, Engine, FrameStore, Progress, Quality


@dataclass(frozen=True, slots=True)
class KeyOutput:
    """What the key gives in one version of a cell: all that a picture needs to know of it."""

    luminous_energy_lm_s: float
    colour: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Shot:
    """A cell's pictures, one for each version asked for."""

    cell: Cell
    pictures: tuple[Picture, ...]
    error_stops: float  # median standard error of a pixel


def key_output(made: Turned) -> KeyOutput:
    """The key's light in a version of a cell."""
    front = made.run.taken.layout.fronts[made.run.key]
    return KeyOutput(front.luminous_energy_lm_s, front.colour)


def shots(
    cells: Sequence[Cell],
    outputs: Sequence[Sequence[KeyOutput]],
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine | Crew,
    store: FrameStore,
    expected_chunks: int = 0,
    progress: Callable[[Progress], None] | None = None,
) -> Iterator[Shot]:
    """Trace what is missing, cell by cell; finished light is kept, a stopped run goes on.

    outputs         : for each cell, the key in each of its versions
    expected_chunks : of the whole series, as of `frames_due`, for the time left
    Raises OutputError naming a cell, EngineError.
    """
    made = takes(
        _sets(cells),
        quality=quality,
        long_side_px=long_side_px,
        engine=engine,
        store=store,
        progress=progress,
        expected_chunks=expected_chunks,
    )
    for cell, versions, look in zip(cells, outputs, made, strict=True):
        exposure = look.picture.exposure
        pictures = (mix(look.frames, _with_key(look.layout, key), exposure) for key in versions)
        yield Shot(cell, tuple(pictures), look.error_stops)


def _sets(cells: Sequence[Cell]) -> Iterator[tuple[Layout, Exposure]]:
    for cell, layout in placed(cells):
        yield layout, exposure_of(cell.setup)


def _with_key(layout: Layout, output: KeyOutput) -> Layout:
    fronts = list(layout.fronts)
    fronts[layout.key] = replace(
        fronts[layout.key],
        luminous_energy_lm_s=output.luminous_energy_lm_s,
        colour=output.colour,
    )
    return replace(layout, fronts=tuple(fronts))

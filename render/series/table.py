"""The table of a series: every cell metered, at constant exposure and re-metered."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from render.errors import OutputError
from render.layout import Layout
from render.report.readings import meter_speed
from render.series.cells import Cell, Series, placed
from render.series.figures import CellRow, Exposure, against, cell_row, drawn
from render.series.pictures import KeyOutput, key_output
from render.series.run import Run, measured
from render.series.turned import Turned, as_set, goal_of, turned
from render.trace import Readers


@dataclass(frozen=True, slots=True)
class Varied:
    """A key of the scene file and what it is set to."""

    key: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeriesTable:
    """All that was metered; its fields are the keys of the JSON output."""

    scene: str
    iso_speed: float  # of the first cell
    varied: tuple[Varied, ...]
    cells: tuple[CellRow, ...]  # all at constant exposure, then all re-metered, as asked


def metered(
    series: Series,
    exposures: Sequence[Exposure],
    engine: Readers | None,
    told: Callable[[int], None] | None = None,
) -> tuple[SeriesTable, tuple[tuple[KeyOutput, ...], ...]]:
    """Meter every cell once; a turned key only scales its light.

    exposures : "kept", "re-metered" or both, in the order in which they are wanted
    engine    : traces what the room gives back, a crew several cells at a time; None leaves it out
    told      : called with the number of cells that are metered
    returns   : the table, and for each cell the key's light in each version, for its pictures
    Raises OutputError naming a cell that cannot stand or cannot be re-metered, EngineError.
    """
    rows: dict[Exposure, list[CellRow]] = {each: [] for each in exposures}
    outputs, goal = [], None
    for cell, layout, run in _runs(series, engine):
        look = drawn(cell.setup, layout)
        goal = goal or goal_of(run)
        versions: list[KeyOutput] = []
        for exposure in exposures:
            try:
                made: Turned = as_set(run) if exposure == "kept" else turned(run, goal)
            except OutputError as problem:
                raise OutputError(f"cell {cell.number} ({cell.change}): {problem}") from None
            rows[exposure].append(cell_row(cell, made, look, exposure))
            versions.append(key_output(made))
        outputs.append(tuple(versions))
        if told:
            told(cell.number)
    table = SeriesTable(
        scene=series.scene,
        iso_speed=meter_speed(series.cells[0].setup),
        varied=tuple(Varied(v.key, tuple(x.text for x in v.values)) for v in series.variables),
        cells=tuple(against(row, each[0]) for each in rows.values() for row in each),
    )
    return table, tuple(outputs)


def _runs(series: Series, engine: Readers | None) -> Iterator[tuple[Cell, Layout, Run]]:
    """Every cell, in order, with what was read there; the next is placed meanwhile."""
    hands = 1 if engine is None else engine.hands
    waiting: deque[tuple[Cell, Layout, Future[Run]]] = deque()
    pool = ThreadPoolExecutor(hands)
    try:
        for cell, layout in placed(series.cells):
            waiting.append((cell, layout, pool.submit(measured, cell.setup, layout, engine)))
            if len(waiting) > hands:
                first, stands, run = waiting.popleft()
                yield first, stands, run.result()
        for first, stands, run in waiting:
            yield first, stands, run.result()
    finally:
        pool.shutdown(cancel_futures=True)

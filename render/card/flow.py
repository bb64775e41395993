"""Blocks of text one under the other, beside pictures, over as many pages as they need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.card.page import BODY_PT, MARGIN_MM, Paper, heading, line_mm, new_page, put, wrapped

Item = Callable[[Axes, float, float, float], float]  # axes, x, base line, width; next base line

BETWEEN_MM, BLOCK_MM = 0.8, 5.5  # between items, between blocks
FIRST_MM = MARGIN_MM + 13.0  # first base line under a one-line title
NEAR_MM = 14.0  # a block that would begin so near the end of the pictures begins below them
RUNNING_PT = 11.0  # title of a later page
GUTTER_MM = 8.0


@dataclass(frozen=True, slots=True)
class Block:
    """A heading with what stands under it; breaks between its items."""

    heading: str
    items: tuple[Item, ...]
    head: Item | None = None  # heads of columns, repeated on a new page


@dataclass
class Flow:
    """The pages so far, and where the next block begins."""

    title: str
    paper: Paper
    pages: list[Figure] = field(default_factory=list)
    y: float = float("inf")
    beside_mm: tuple[float, float] = (0.0, 0.0)  # width and lower end of pictures at the right

    @property
    def axes(self) -> Axes:
        """Of the page that is being set."""
        return self.pages[-1].axes[0]

    @property
    def bottom_mm(self) -> float:
        """Lowest base line."""
        return self.paper.height_mm - MARGIN_MM


def turn_page(flow: Flow) -> None:
    """Begin a page under the running title."""
    figure, axes = new_page(flow.paper)
    flow.pages.append(figure)
    y = MARGIN_MM + 4.0
    for line in wrapped(flow.title, flow.paper.column_mm, RUNNING_PT, "bold"):
        put(axes, (MARGIN_MM, y), line, RUNNING_PT, weight="bold")
        y += line_mm(RUNNING_PT)
    flow.y = y - line_mm(RUNNING_PT) + FIRST_MM - MARGIN_MM - 4.0
    flow.beside_mm = (0.0, 0.0)


def set_block(flow: Flow, block: Block) -> None:
    """Set a block where there is room, its items whole."""
    if not block.items:
        return
    width = _width(flow)
    scratch = _scratch(flow)
    first = block.items[0](scratch, MARGIN_MM, _open(scratch, block, width, 0.0, ""), width)
    if flow.y + first > flow.bottom_mm:
        turn_page(flow)
        width = _width(flow)
    y = _open(flow.axes, block, width, flow.y, "")
    for item in block.items:
        if y + item(scratch, MARGIN_MM, 0.0, width) - line_mm(BODY_PT) > flow.bottom_mm:
            turn_page(flow)
            width = _width(flow)
            y = _open(flow.axes, block, width, flow.y, ", goes on")
        y = item(flow.axes, MARGIN_MM, y, width) + BETWEEN_MM
    flow.y = y - BETWEEN_MM + BLOCK_MM


def _scratch(flow: Flow) -> Axes:
    """A page that is thrown away, to see how much room something takes."""
    return new_page(flow.paper)[1]


def _open(axes: Axes, block: Block, width: float, y: float, more: str) -> float:
    y = heading(axes, (MARGIN_MM, y), block.heading + more, width)
    return y if block.head is None else block.head(axes, MARGIN_MM, y, width)


def _width(flow: Flow) -> float:
    """Width of a block that begins here; beside pictures the rest of the column."""
    wide, low = flow.beside_mm
    if flow.y > low - NEAR_MM:
        flow.y = max(flow.y, low)
        return flow.paper.column_mm
    return flow.paper.column_mm - wide - GUTTER_MM

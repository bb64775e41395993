"""Later pages of the card: what to set and read, in which order, how it looks, what to mind."""

from __future__ import annotations

from functools import partial

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from render.card.content import Card
from render.card.flow import BLOCK_MM, Block, Flow, set_block, turn_page
from render.card.lights import lights_block
from render.card.page import BODY_PT, INK, MARGIN_MM, SMALL_PT, Paper, heading, paragraph, put
from render.card.plates import TALL_MM, WIDE_MM, Plate
from render.card.steps import steps
from render.card.tables import tape_block

NUMBER_MM = 7.0  # before the words of a step
DISC_MM = 1.7  # round a mark on a picture
CAPTION_MM = 3.4  # from a picture to the base line under it
LAST_MM = 1.2  # before the last and general caution


def later_pages(card: Card, paper: Paper, *, tape: bool = False) -> list[Figure]:
    """Table of the lights, order of work, pictures, findings and cautions; mostly one page.

    tape : with the table of tape distances, for which the first page had no room
    """
    flow = Flow(card.title, paper)
    turn_page(flow)
    if tape:
        set_block(flow, tape_block(card.tape))
    set_block(flow, lights_block(card))
    _plates(flow, card.plates)
    work = [partial(_step, number=i, words=words) for i, words in enumerate(steps(card), 1)]
    set_block(flow, Block("ORDER OF WORK", tuple(work)))
    wrong = tuple(partial(_said, words=words) for words in card.wrong)
    set_block(flow, Block("FOUND WRONG: change it before the sitter comes", wrong))
    mind = [partial(_said, words=words) for words in card.cautions[:-1]]
    set_block(flow, Block("MIND IN THIS SET", (*mind, partial(_last, words=card.cautions[-1]))))
    return flow.pages


def _plates(flow: Flow, plates: tuple[Plate, ...]) -> None:
    """The pictures, one under the other at the right; text runs beside them."""
    if not plates:
        return
    x = flow.paper.width_mm - MARGIN_MM - WIDE_MM
    scratch = Flow("", flow.paper)
    turn_page(scratch)
    high = sum(_plate(scratch.axes, (x, 0.0), plate) for plate in plates)
    if flow.y + high > flow.bottom_mm:
        turn_page(flow)
    y = flow.y
    for plate in plates:
        y += _plate(flow.axes, (x, y), plate)
    flow.beside_mm = (WIDE_MM, y)


def _plate(axes: Axes, at: tuple[float, float], plate: Plate) -> float:
    """A heading, a picture in a hair line, its caption; returns the height of it all."""
    x, top = at
    y = heading(axes, at, plate.title, WIDE_MM)
    if plate.pixels is not None:
        y -= 2.6
        high, wide = plate.pixels.shape[:2]
        scale = min(WIDE_MM / wide, TALL_MM / high)
        box = (x, x + wide * scale, y + high * scale, y)
        axes.imshow(plate.pixels, extent=box, aspect="auto", interpolation="none", zorder=3)
        axes.plot([box[0], box[1], box[1], box[0], box[0]], [y, y, box[2], box[2], y],
                  color=INK, lw=0.4, zorder=4)  # fmt: skip
        for mark, across, down in plate.marks:
            centre = (box[0] + across * (box[1] - box[0]), y + down * (box[2] - y))
            _disc(axes, centre, mark)
        y = box[2] + CAPTION_MM
    y = paragraph(axes, (x, y), plate.caption, WIDE_MM, SMALL_PT)
    return y + BLOCK_MM - top - 2.0


def _disc(axes: Axes, centre: tuple[float, float], mark: str) -> None:
    axes.add_patch(Circle(centre, DISC_MM, fc="white", ec=INK, lw=0.7, zorder=5))
    put(axes, centre, mark, SMALL_PT, weight="bold", align="center", middle=True)


def _step(axes: Axes, x: float, y: float, width: float, number: int, words: str) -> float:
    put(axes, (x, y), f"{number}", BODY_PT, weight="bold")
    return paragraph(axes, (x + NUMBER_MM, y), words, width - NUMBER_MM)


def _said(axes: Axes, x: float, y: float, width: float, words: str) -> float:
    return paragraph(axes, (x, y), words, width)


def _last(axes: Axes, x: float, y: float, width: float, words: str) -> float:
    return paragraph(axes, (x, y + LAST_MM), words, width, weight="bold")

"""The stops map as a printed page: grey look under colour, contours at whole stops, a legend."""

from __future__ import annotations

import textwrap
from pathlib import Path

import numpy as np
from contourpy import contour_generator
from matplotlib import colormaps, patheffects
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from render.photometry.srgb import srgb_encode
from render.picture.files import WRITTEN_BY, write_whole
from render.picture.stops_map import CARD_LINEAR, Spot, StopsMap

Floats = NDArray[np.float64]

# Perceptually uniform, rising in lightness all the way, much the same to every kind of colour
# vision: it also prints in grey.
COLOURS = colormaps["viridis"]
LOWEST, HIGHEST = -6, 3  # stops that the colours tell apart: the same on every page
COLOUR_SHARE = 0.75  # of colour over the grey look
LEAST_LOOP = 40.0  # length of the shortest contour drawn, in standard deviations of the blur
LABEL_ROOM_PX = 45.0  # between labels
TYPE_PT, SMALL_PT = 10.0, 8.0
RING_STEPS, LEAST_RING_PX = 96, 6
ZERO_PT, LINE_PT = 1.3, 0.6
DARK_BELOW = -3  # from here down lines and figures are pale
INK, PALE = "#101010", "#f4f4f4"
DPI = 200
LEGEND_PX, EDGE_PX = 150, 30
LEADING = 1.35  # line to line, of the height of the type; common practice, no source
LINE_PX, HEADING_PX = (LEADING * points * DPI / 72 for points in (SMALL_PT, TYPE_PT))
LETTER_PX = 0.55 * SMALL_PT * DPI / 72  # width of one on average, with some to spare
LEAST_ERROR = 0.01  # no page claims more
LEAST_PX = 900  # of the longer side of the picture on the page


def coloured(stops: Floats, reference: float) -> Floats:
    """Colours (..., 3) 0..1 of stops (...): the map's colour over the grey of the look.

    Colour and grey both follow from the stops, so that the legend has the very same colours.
    """
    share = (stops - LOWEST) / (HIGHEST - LOWEST)
    colour = np.asarray(COLOURS(np.clip(share, 0, 1)))[..., :3]
    grey = srgb_encode(np.clip(reference * 2.0**stops, 0, 1))
    mixed: Floats = COLOUR_SHARE * colour + (1 - COLOUR_SHARE) * np.asarray(grey)[..., None]
    return mixed


def words(found: StopsMap) -> str:
    """What the page shows and what 0 is, in three sentences."""
    card = np.log2(found.reference / CARD_LINEAR)
    zero = "0 is an 18 % grey card at the metered f-number"
    if found.spot is not None:
        noise = max(found.error_stops, LEAST_ERROR)
        side = "over" if card > 0 else "under"
        zero = (
            f"0 is the spot of one degree ringed on the key cheek (± {noise:.2f} of noise), here "
            f"{abs(card):.1f} {side} a metered grey card"
        )
    return (
        f"Light reflected to the camera, in stops. {zero}. Lines: whole stops of light averaged "
        f"over {found.blur_px:.1f} px (standard deviation)."
    )


def page(found: StopsMap, title: str) -> Figure:
    """The whole page: its title above the picture, what it shows below."""
    high, wide = found.stops.shape
    scale = max(1.0, LEAST_PX / max(high, wide))
    size = np.array([wide * scale, high * scale])
    across = size[0] + 2 * EDGE_PX + LEGEND_PX
    heading = textwrap.wrap(title, int((across - 2 * EDGE_PX) / (LETTER_PX * TYPE_PT / SMALL_PT)))
    lines = textwrap.wrap(words(found), int((across - 2 * EDGE_PX) / LETTER_PX))
    head = 1.5 * EDGE_PX + HEADING_PX * len(heading)
    foot = EDGE_PX + LINE_PX * (len(lines) + 0.4)
    whole = np.array([across, size[1] + head + foot])
    figure = Figure(figsize=tuple(whole / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    left, bottom = EDGE_PX / whole[0], foot / whole[1]
    axes = figure.add_axes((left, bottom, size[0] / whole[0], size[1] / whole[1]))
    axes.imshow(
        coloured(found.stops, found.reference), extent=(0, wide, high, 0), interpolation="nearest"
    )
    _contours(axes, found, scale)
    _ring(axes, found, scale)
    axes.set(xlim=(0, wide), ylim=(high, 0), xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    beside = left + (size[0] + 0.25 * LEGEND_PX) / whole[0]
    legend = (beside, bottom, 0.2 * LEGEND_PX / whole[0], size[1] / whole[1])
    _legend(figure.add_axes(legend), found)
    for k, line in enumerate(heading):
        height = 1 - (EDGE_PX + (k + 0.6) * HEADING_PX) / whole[1]
        figure.text(left, height, line, fontsize=TYPE_PT, va="baseline")
    for k, line in enumerate(lines):
        height = (foot - (k + 1.3) * LINE_PX) / whole[1]
        figure.text(left, height, line, fontsize=SMALL_PT, va="baseline")
    return figure


def _contours(axes: Axes, found: StopsMap, scale: float) -> None:
    """Lines at whole stops, each named once where there is room; specks are left out."""
    high, wide = found.smooth.shape
    x, y = np.arange(wide) + 0.5, np.arange(high) + 0.5
    drawn = contour_generator(x=x, y=y, z=found.smooth)
    taken = [] if found.spot is None else list(_circle(found.spot, scale)[:: RING_STEPS // 8])
    for stop in range(LOWEST, HIGHEST + 1):
        ink, around = (INK, PALE) if stop > DARK_BELOW else (PALE, INK)
        parts = [np.asarray(part, float) for part in drawn.lines(stop)]
        parts = [part for part in parts if _length(part) > LEAST_LOOP * found.blur_px]
        for part in parts:
            axes.plot(*part.T, color=ink, lw=ZERO_PT if stop == 0 else LINE_PT)
        longest = max(parts, key=_length, default=None)
        place = None if longest is None else _free(longest, taken, (wide, high), scale)
        if place is not None:
            taken.append(place)
            label = axes.text(float(place[0]), float(place[1]), name(stop), color=ink)
            label.set(fontsize=SMALL_PT, ha="center", va="center", clip_on=True)
            label.set_path_effects([patheffects.withStroke(linewidth=2.0, foreground=around)])


def name(stop: int) -> str:
    """Of a whole stop, with its sign."""
    return "0" if stop == 0 else f"{stop:+d}".replace("-", "−")


def _length(line: Floats) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _free(line: Floats, taken: list[Floats], size: tuple[int, int], scale: float) -> Floats | None:
    """A place on a line with room to the edges and to other labels; None if there is none."""
    edge = np.minimum(line, np.array(size) - line).min(1)
    others = [np.hypot(*(line - place).T) for place in taken]
    clear = np.min([2 * edge, *others], axis=0)
    best = int(np.argmax(clear))
    place: Floats = line[best]
    return place if clear[best] > LABEL_ROOM_PX / scale else None


def _circle(spot: Spot, scale: float) -> Floats:
    """The outline of a spot (n, 2), large enough to be seen on the page."""
    turn = np.linspace(0, 2 * np.pi, RING_STEPS)
    radius = max(spot.radius, LEAST_RING_PX / scale)
    return np.stack([spot.x + radius * np.cos(turn), spot.y + radius * np.sin(turn)], 1)


def _ring(axes: Axes, found: StopsMap, scale: float) -> None:
    """Where the face was read."""
    if found.spot is None:
        return
    x, y = _circle(found.spot, scale).T
    axes.plot(x, y, color=PALE, lw=2.2)
    axes.plot(x, y, color=INK, lw=1.0)


def _legend(axes: Axes, found: StopsMap) -> None:
    """A column of the picture's own colours with whole stops beside it."""
    column = np.linspace(HIGHEST + 0.5, LOWEST - 0.5, 512)[:, None]
    colours = coloured(column, found.reference)
    axes.imshow(colours, aspect="auto", extent=(0, 1, LOWEST - 0.5, HIGHEST + 0.5))
    marks = range(LOWEST, HIGHEST + 1)
    axes.set_yticks(list(marks), [name(stop) for stop in marks], fontsize=TYPE_PT)
    axes.yaxis.tick_right()
    inks = [INK if stop > DARK_BELOW else PALE for stop in marks]
    widths = [ZERO_PT if stop == 0 else LINE_PT for stop in marks]
    axes.hlines(list(marks), 0, 1, colors=inks, linewidths=widths)
    axes.set(xticks=[], xlim=(0, 1), ylim=(LOWEST - 0.5, HIGHEST + 0.5))
    axes.tick_params(length=0)
    axes.spines[:].set_visible(False)


def write_stops(path: Path, found: StopsMap, title: str) -> Path:
    """The page as a PNG. Raises OutputError where it cannot be written."""
    zero = "a metered grey card" if found.spot is None else "the face"
    figure = page(found, f"{title}: stops over {zero}")
    return write_whole(
        path, lambda part: figure.savefig(part, format="png", metadata={"Software": WRITTEN_BY})
    )

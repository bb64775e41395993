"""A page that shows where an element's black is not black, with the histogram of its codes."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from render.combine.black import Black
from render.combine.colour import Pixels, codes_of, light_of
from render.picture.files import write_whole

INK, GROUND, UNDER = "#e8e4dc", "#181818", "#000000"
SCALE = "cividis"  # of matplotlib: made to be read alike with and without colour blindness
MOST_STOPS = 6  # of the scale; brighter grains look like that
LONG_SIDE_PX = 1600  # of the map: fine dirt survives as the brightest pixel it falls into
REST = 3.2  # inches of the page's height beside the map
DPI = 150
MAP_SHARE = 0.86  # of the page's width
FULL_CODE = 255


def write_black(file: Path, light: Pixels, black: Black, title: str) -> Path:
    """Write the page (PNG) for an element's light (h, w, 3), plate and gain applied.

    Raises OutputError where it cannot be written.
    """
    with mpl.rc_context({"text.color": INK, "axes.labelcolor": INK, "font.size": 9}):
        height, width = light.shape[:2]
        wide = 8.0
        high = min(12.0, max(2.0, MAP_SHARE * wide * height / width))
        figure = Figure((wide, high + REST), dpi=DPI, facecolor=GROUND)
        top = 0.7 / (high + REST)
        tall = high / (high + REST)
        upper = figure.add_axes((0.02, 1 - top - tall, MAP_SHARE, tall))
        scale = figure.add_axes((0.90, 1 - top - tall, 0.02, tall))
        lower = figure.add_axes((0.09, 0.5 / (high + REST), 0.88, 1.6 / (high + REST)))
        _map(upper, scale, light.max(-1), black.limit_code)
        _histogram(lower, light, black)
        figure.text(0.02, 1 - 0.3 / (high + REST), title, fontsize=11, va="center")
        words = _words(black)
        figure.text(0.02, 1 - 0.54 / (high + REST), words, va="center")
        return write_whole(
            file, lambda part: figure.savefig(part, format="png", metadata={"Software": None})
        )


def _words(black: Black) -> str:
    if black.clean and black.over:
        return (
            f"clean by its plate; the element itself reaches code {black.reach_code:.1f}; "
            f"{100 * black.over_share:.1f} % of the pixels are over {black.limit_code:g}"
        )
    state = "clean" if black.clean else "not clean"
    return (
        f"{state}: backdrop code {black.backdrop_code:.1f}, rim code {black.rim_code:.1f}, limit "
        f"{black.limit_code:g}; {100 * black.over_share:.1f} % of the pixels are over it, grains "
        "among them"
    )


def _map(upper: Axes, scale: Axes, peak: Pixels, limit_code: float) -> None:
    """Stops over the limit, pixel by pixel; black is at or under it."""
    level = np.maximum(_pooled(peak), 1e-9)
    stops = np.log2(level / light_of(limit_code))
    over = np.ma.masked_where(np.round(codes_of(level)) <= limit_code, stops)
    colours = mpl.colormaps[SCALE].with_extremes(bad=UNDER)
    shown = upper.imshow(over, cmap=colours, vmin=0, vmax=MOST_STOPS, interpolation="nearest")
    upper.set_axis_off()
    bar = upper.figure.colorbar(shown, cax=scale, extend="max")
    bar.set_label(f"stops over code {limit_code:g}; black is at or under it")
    scale.tick_params(colors=INK)


def _pooled(peak: Pixels) -> Pixels:
    """The brightest pixel (H, W) of every block, so that the page is not larger than it shows."""
    step = -(-max(peak.shape) // LONG_SIDE_PX)
    if step == 1:
        return peak
    high, wide = (-(-n // step) * step for n in peak.shape)
    page = np.zeros((high, wide), np.float32)
    page[: peak.shape[0], : peak.shape[1]] = peak
    blocks = page.reshape(high // step, step, wide // step, step)
    return np.asarray(blocks.max((1, 3)), np.float32)


def _histogram(axes: Axes, light: Pixels, black: Black) -> None:
    """Pixels by the code of their brightest channel; both axes widen what is rare and dark."""
    codes = np.round(codes_of(light.max(-1))).astype(int).ravel()
    count = np.bincount(codes, minlength=FULL_CODE + 1)
    at = np.arange(FULL_CODE + 1)
    axes.bar(at, count, width=1.0, color=INK)
    axes.axvline(black.limit_code + 0.5, color="#ffd666", linestyle="--")
    axes.text(black.limit_code + 0.8, 0.94, f"limit {black.limit_code:g}", color="#ffd666",
              transform=axes.get_xaxis_transform(), va="top")  # fmt: skip
    axes.set_yscale("symlog", linthresh=1)
    axes.set_xscale("symlog", linthresh=8)
    axes.set_xlim(-0.5, FULL_CODE + 0.5)
    axes.set_ylim(0, None)
    marks = [0, 1, 2, 3, 5, 8, 16, 32, 64, 128, 255]
    axes.set_xticks(marks, [str(mark) for mark in marks])
    axes.set_xlabel("code of the brightest channel, at the portrait's development")
    axes.set_ylabel("pixels")
    axes.set_facecolor(GROUND)
    axes.tick_params(colors=INK)
    for side in axes.spines.values():
        side.set_color(INK)

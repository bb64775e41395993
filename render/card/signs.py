"""What the signs on the drawings mean, each drawn once beside its words."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon

from render.card.page import GREY, INK, SMALL_PT, heading, paragraph, put

SIGN_MM = 10.0  # width kept for a sign


def draw_signs(axes: Axes, at: tuple[float, float], width: float, notes: tuple[str, ...]) -> float:
    """The column of signs; returns its lower end [mm]."""
    x, y = at
    y = heading(axes, at, "THE SIGNS", width) + 1.0
    for kind, words in SIGNS:
        _sign(axes, kind, x, y - 0.9)
        end = paragraph(axes, (x + SIGN_MM, y), words, width - SIGN_MM, SMALL_PT)
        y = max(end + 0.9, y + 5.2)
    y += 1.5
    for note in notes:
        y = paragraph(axes, (x, y), note, width, SMALL_PT, colour=GREY) + 1.2
    return y


SIGNS = (
    ("mark", "light, numbered; its name, and from the side its height in metres"),
    (
        "front",
        "thick: the front that shines, white where you look into it, grey from behind; dot: its "
        "middle",
    ),
    ("axis", "axis of the light, to where it is aimed"),
    ("legs", "legs of its stand"),
    ("white", "white or silver panel, lettered; the tick is on its front"),
    ("black", "black panel or flag, hatched; the tick is on its front"),
    ("backdrop", "backdrop; fine line: edge of what lies on the floor"),
    ("view", "edges of the picture"),
    ("eyes", "the eyes of the sitter; on the floor the mark that all is measured from"),
)


def _sign(axes: Axes, kind: str, x: float, y: float) -> None:
    if kind == "mark":
        axes.add_patch(Circle((x + 4, y), 2.0, fc="white", ec=INK, lw=0.8))
        put(axes, (x + 4, y), "1", SMALL_PT, weight="bold", align="center", middle=True)
    elif kind == "front":
        _ring(axes, [(x + 1, y - 0.7), (x + 5, y - 2), (x + 5, y + 2), (x + 1, y + 0.7)], "#9a9a9a")
        axes.plot([x + 5, x + 5], [y - 2, y + 2], color=INK, lw=2.0)
        axes.plot([x + 5], [y], ".", color=INK, ms=4)
    elif kind == "axis":
        axes.plot([x, x + 7], [y, y], color=INK, lw=0.7, dashes=(1, 2))
        arrow = {"arrowstyle": "-|>", "lw": 0.7, "color": INK, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (x + 8, y), (x + 6, y), arrowprops=arrow)
    elif kind == "legs":
        style = {"fc": "none", "ec": GREY, "lw": 0.4, "ls": (0, (1, 3))}
        axes.add_patch(Circle((x + 4, y), 2.2, **style))
    elif kind in ("white", "black"):
        box = [(x + 1, y - 0.9), (x + 7, y - 0.9), (x + 7, y + 0.9), (x + 1, y + 0.9)]
        _ring(axes, box, "white", "//////" if kind == "black" else None)
        axes.plot([x + 4, x + 4], [y - 0.9, y - 2.4], color=INK, lw=0.7)
    elif kind == "backdrop":
        axes.plot([x, x + 8], [y, y], color=INK, lw=2.6, solid_capstyle="butt")
    elif kind == "view":
        axes.plot([x, x + 8], [y, y], color=GREY, lw=0.6, dashes=(8, 3))
    else:
        axes.plot([x + 4], [y], "+", color=INK, ms=6, mew=0.9)


def _ring(
    axes: Axes, corners: list[tuple[float, float]], fill: str, hatch: str | None = None
) -> None:
    style = {"fc": fill, "ec": INK, "lw": 0.8, "hatch": hatch, "hatch_linewidth": 0.35}
    axes.add_patch(Polygon(corners, closed=True, **style))

"""What the signs on the drawings mean, each drawn once beside its words."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Polygon

from render.card.content import Card
from render.card.outlines import dark
from render.card.page import GREY, INK, SMALL_PT, heading, paragraph, put
from render.card.rooms import is_cut
from render.card.tape import EYES, hung, panels
from render.card.words import room_box
from render.plan.checks.rig import rigs

SIGN_MM = 10.0  # width kept for a sign


def draw_signs(axes: Axes, at: tuple[float, float], width: float, card: Card) -> float:
    """The column of the signs that this set has; returns its lower end [mm]."""
    x, y = at
    y = heading(axes, at, "THE SIGNS", width) + 1.0
    for kind, words in SIGNS:
        if kind not in _used(card):
            continue
        if kind == "eyes" and card.tape[0].name != EYES:
            words = (
                f"{card.tape[0].name}, at {card.tape[0].height_m:.2f}, over the mark on the floor"
            )
        _sign(axes, kind, x, y - 0.9)
        end = paragraph(axes, (x + SIGN_MM, y), words, width - SIGN_MM, SMALL_PT)
        y = max(end + 0.9, y + 5.2)
    y += 1.5
    for note in _notes(card):
        y = paragraph(axes, (x, y), note, width, SMALL_PT, colour=GREY) + 1.2
    return y


def _used(card: Card) -> set[str]:
    """The signs that stand on the drawings of a set."""
    layout, used = card.layout, {"mark", "front", "axis", "eyes"}
    used |= {"black" if dark(sheet) else "white" for _, _, sheet in panels(layout)}
    used |= {"tape"} if room_box(layout) is not None else set()
    used |= {"legs"} if any(rig.kind != "none" for rig in rigs(card.setup, layout)) else set()
    used |= {"cut"} if is_cut(card) else set()
    used |= {"backdrop"} if hung(layout) is not None else set()
    return used | ({"view"} if layout.view is not None else set())


def _notes(card: Card) -> tuple[str, ...]:
    notes = ["Print at full size: the bar below the drawings must measure as it says."]
    if room_box(card.layout) is None:
        notes.append("No walls in this set: distances are from the mark on the floor.")
    return tuple(notes)


SIGNS = (
    ("mark", "light, numbered; its name, and from the side its height in metres"),
    (
        "front",
        "thick: the front that shines, white where you look into it, grey from behind; dot: its "
        "middle",
    ),
    ("axis", "axis of the light, to where it is aimed"),
    ("legs", "its stand, one leg under the load where walls allow"),
    ("tape", "tape from a wall to the floor under the middle, in metres"),
    ("white", "white or silver panel, lettered; tick: its front; degrees: its turn from straight"),
    ("black", "black panel or flag, hatched; tick: its front; degrees: its turn from straight"),
    ("backdrop", "backdrop; fine line: edge of what lies on the floor"),
    ("view", "edges of the picture"),
    ("cut", "the room goes on"),
    ("eyes", "the eyes of the sitter, over the mark on the floor"),
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
        for end in ((x + 6.2, y), (x + 2.9, y - 1.9), (x + 2.9, y + 1.9)):
            axes.plot([x + 4, end[0]], [y, end[1]], color=GREY, lw=0.9)
    elif kind == "tape":
        axes.plot([x + 0.5, x + 8], [y, y], color=INK, lw=0.35)
        axes.plot([x - 0.2, x + 1.2], [y + 0.7, y - 0.7], color=INK, lw=0.7)
    elif kind in ("white", "black"):
        box = [(x + 1, y - 0.9), (x + 7, y - 0.9), (x + 7, y + 0.9), (x + 1, y + 0.9)]
        _ring(axes, box, "white", "//////" if kind == "black" else None)
        axes.plot([x + 4, x + 4], [y - 0.9, y - 2.4], color=INK, lw=0.7)
    elif kind == "cut":
        steps = [(0, 0), (3, 0), (3.6, -1.4), (4.4, 1.4), (5, 0), (8, 0)]
        axes.plot([x + a for a, _ in steps], [y + b for _, b in steps], color=INK, lw=0.4)
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

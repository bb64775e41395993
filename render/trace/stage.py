"""What one tracing job sees: the set, what the sitter wears as surface, which lights shine."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.emission import Front
from render.emission.front import WHITE
from render.layout.placed import Cloud, Layout, Sheet
from render.photometry.srgb import LUMINANCE_SHARES
from render.sitter.body import Body, Strands
from render.sitter.hair.thickness import strand_radius_factor
from render.trace.digest import digest

Dress = Literal["real", "plain", "matte"]
SkinModel = Literal["surface", "under"]  # light stays on the skin, or goes under it and comes back

CARD_REFLECTANCE = 0.18  # the grey of the "matte" dress, as of an exposure card
LUMINANCE = tuple(float(share) for share in LUMINANCE_SHARES)
HEAD_HAIR = "hair"  # how the names of strands of the head's hair begin
# Vertices of a light path by how pale the room is. A closed room of reflectance 0.85 keeps all
# but 0.7 % at 16 and all at 32 (measured on a closed box with a bust in it).
DEPTH_DARK, DEPTH_GREY, DEPTH_PALE = 8, 16, 32
GREY_ROOM, PALE_ROOM = 0.20, 0.75


@dataclass(frozen=True, slots=True)
class Stage:
    """A set made ready for tracing; lights that do not shine stay as black things."""

    fronts: tuple[Front, ...]
    sheets: tuple[Sheet, ...]
    body: Body | None
    dress: Dress
    emitting: tuple[str, ...]  # names of the lights that shine; one layer each, in this order
    max_depth: int  # vertices of a path, the light's included: bounces + 1
    skin: SkinModel = "surface"
    strand_share: float = 1.0  # of the strands of the head's hair that are traced
    elements: tuple[Cloud, ...] = ()  # in the real dress only

    @property
    def key(self) -> str:
        """Name of everything that the traced light depends on; every light is traced white."""
        white = tuple(replace(front, colour=WHITE) for front in self.fronts)
        return digest(replace(self, fronts=white))

    @property
    def weights(self) -> NDArray[np.float64]:
        """(lights, 3) what red, green and blue of a white light's picture weigh in the luminance
        that this light makes in its own colour."""
        colours = [front.colour for front in self.fronts if front.name in self.emitting]
        shares: NDArray[np.float64] = LUMINANCE_SHARES * np.reshape(colours, (-1, 3))
        return shares


def depth_for(sheets: tuple[Sheet, ...]) -> int:
    """How many vertices a light path may have in this room (see the constants above)."""
    # Of a coloured wall the colour that it hands on best.
    palest = max((max(s.reflectance) for s in sheets if s.kind == "wall"), default=0.0)
    if palest > PALE_ROOM:
        return DEPTH_PALE
    return DEPTH_GREY if palest > GREY_ROOM else DEPTH_DARK


def stage_of(
    layout: Layout,
    dress: Dress,
    *,
    room: bool = True,
    bounces: int | None = None,
    emitting: tuple[str, ...] | None = None,
) -> Stage:
    """Make a layout ready for tracing at one lumen second per light.

    room     : whether walls, ceiling and floor stand; backdrop and panels always do
    bounces  : reflections that a light path may make (1 = direct light only); None = enough
    emitting : lights that shine, by name; None = all
    """
    sheets = tuple(s for s in layout.sheets if room or s.kind != "wall")
    names = tuple(front.name for front in layout.fronts)
    return Stage(
        fronts=tuple(replace(front, luminous_energy_lm_s=1.0) for front in layout.fronts),
        sheets=sheets,
        body=layout.body,
        dress=dress,
        emitting=names if emitting is None else tuple(n for n in names if n in emitting),
        max_depth=depth_for(sheets) if bounces is None else bounces + 1,
        elements=layout.elements if dress == "real" else (),
    )


def thinned(strands: Strands, share: float) -> Strands:
    """Fewer and thicker strands that cover as much; brows, lashes and beard keep all of theirs.

    The first of a body's strands are a fair sample of them.
    """
    if share >= 1 or not strands.name.startswith(HEAD_HAIR):
        return strands
    count = max(1, round(share * len(strands.points)))
    thicker = np.float32(strand_radius_factor(count, len(strands.points)))
    return replace(strands, points=strands.points[:count], radii=strands.radii[:count] * thicker)

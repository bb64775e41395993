"""A modifier whose beam was measured: the front that its photometric file describes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from render.emission import Beam, Disk, Rectangle, Shape, Tabulated
from render.emission.measured import MeasuredBeam, read_measured, share_behind, tabulated
from render.errors import KitError
from render.studio.kit import Modifier

TOLD_SHARE = 0.005  # less light beside and behind a front is not worth a word
DARK_SHARE = 0.01  # a meter on the axis of a beam with so dark a middle reads stray light


@dataclass(frozen=True, slots=True)
class MeasuredFront:
    """Outline and beam of a measured modifier."""

    shape: Shape
    width_m: float
    height_m: float
    beam: Beam
    ahead_share: float  # of its light within 90 degrees of the axis; a flat front sends no other

    @property
    def note(self) -> str:
        """What a reading has to tell about the light that is left out."""
        lost = 1 - self.ahead_share
        return f", {100 * lost:.0f} % sideways and backwards left out" if lost > TOLD_SHARE else ""


def measured_front(modifier: Modifier) -> MeasuredFront:
    """The front of a measured modifier; raises KitError for a file that cannot be one.

    Its outline is size_cm or diameter_cm of the kit where stated, else the file's lit opening.
    """
    file = Path(modifier.measured_file or "")
    beam = read_measured(file)
    shape, width, height = _outline(file, modifier, beam)
    behind = share_behind(beam)
    try:
        ahead = tabulated(beam)
    except ValueError:
        found = "no light within 90 degrees of the luminaire's axis"
        raise KitError(file, "", found, "accepted: a lamp that shines ahead") from None
    return MeasuredFront(shape, width, height, ahead, 1 - behind)


def check_axis(modifier: Modifier, beam: Beam) -> None:
    """Raise KitError where readings straight ahead of a measured modifier can say nothing."""
    if isinstance(beam, Tabulated):
        ahead, most = float(np.mean(beam.intensity[:, 0])), float(np.max(beam.intensity))
        if ahead < DARK_SHARE * most:
            found = f"straight ahead {100 * ahead / most:.2g} % of the brightest intensity"
            wanted = "accepted: no reading of this modifier, which is taken on the axis"
            raise KitError(modifier.measured_file or "", "", found, wanted)


def _outline(file: Path, modifier: Modifier, beam: MeasuredBeam) -> tuple[Shape, float, float]:
    """Shape, width and height [m]; an ellipse counts as the disk of equal area."""
    if modifier.size_cm is not None:
        return Rectangle(), modifier.size_cm[0] / 100, modifier.size_cm[1] / 100
    if modifier.diameter_cm is not None:
        return Disk(), modifier.diameter_cm / 100, modifier.diameter_cm / 100
    width, height = beam.width_m, beam.height_m
    if min(width, height) <= 0:
        found = f"a lit opening of {width:g} x {height:g} m"
        wanted = "accepted: a file with its width and length, or size_cm or diameter_cm in the kit"
        raise KitError(file, "", found, wanted)
    if beam.round:
        across = (width * height) ** 0.5
        return Disk(), across, across
    return Rectangle(), width, height

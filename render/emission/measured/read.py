"""Reads the photometric file of a lamp, whichever of the two usual formats it is in."""

from __future__ import annotations

from pathlib import Path

from render.emission.measured.beam import MeasuredBeam
from render.emission.measured.eulumdat import is_eulumdat, read_eulumdat
from render.emission.measured.lm63 import is_lm63, read_lm63
from render.emission.measured.text import read_lines, refuse


def read_measured(path: str | Path) -> MeasuredBeam:
    """The measured beam in an ANSI/IES LM-63 (.ies) or EULUMDAT (.ldt) file.

    The content decides; the suffix does where the content is damaged.
    Raises KitError with file, line, what was found and what would be accepted.
    """
    file = Path(path)
    lines = read_lines(file)
    if is_lm63(lines) or file.suffix.lower() == ".ies":
        return read_lm63(file, lines)
    if is_eulumdat(lines) or file.suffix.lower() == ".ldt":
        return read_eulumdat(file, lines)
    raise refuse(file, 0, "not a photometric file", "LM-63 (.ies) or EULUMDAT (.ldt)")

"""Photometric files of lamps whose light is known in closed form, written for the tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

STEP_2_5 = np.arange(0, 90.1, 2.5)
STEP_5 = np.arange(0, 90.1, 5.0)
Light = Callable[[float, float], float]


def cosine(gamma_deg: float, plane_deg: float) -> float:
    """1000 cd · cos gamma ahead, nothing behind: 1000 π lm by Lambert's law."""
    return 1000 * max(0.0, float(np.cos(np.radians(gamma_deg))))


def row(values: Sequence[float] | np.ndarray, sign: str = " ") -> str:
    return sign.join(f"{value:.6f}".rstrip("0").rstrip(".") for value in values)


def lm63(
    light: Light = cosine,
    verticals: Sequence[float] | np.ndarray = STEP_2_5,
    horizontals: Sequence[float] = (0.0,),
    *,
    first: str | None = "IESNA:LM-63-2002",
    tilt: str = "TILT=NONE",
    lumens: float = -1,
    multiplier: float = 1.0,
    kind: int = 1,
    units: int = 2,
    sizes: tuple[float, float, float] = (0.3, 0.3, 0.0),
    ballast: float = 1.0,
    after_ballast: float = 1.0,
    sign: str = " ",
) -> str:
    """An LM-63 file of a light given by its vertical and horizontal angle."""
    lines = [] if first is None else [first]
    lines += ["[TEST] computed", "[MANUFAC] none"] if first else ["a computed lamp"]
    lines.append(tilt)
    counts = f"{len(verticals)} {len(horizontals)} {kind} {units}".split()
    numbers = ["1", f"{lumens:g}", f"{multiplier:g}", *counts, *(f"{size:g}" for size in sizes)]
    lines.append(sign.join(numbers))
    lines.append(sign.join([f"{ballast:g}", f"{after_ballast:g}", "100"]))
    lines += [row(verticals, sign), row(horizontals, sign)]
    lines += [row([light(v, h) for v in verticals], sign) for h in horizontals]
    return "\n".join(lines) + "\n"


def eulumdat(
    light: Light,
    planes: Sequence[float] = (0.0,),
    kept: Sequence[float] = (0.0,),
    gammas: Sequence[float] | np.ndarray = STEP_5,
    *,
    symmetry: int = 1,
    lamp_flux: float = 2000.0,
    conversion: float = 1.0,
    lamps: int = 1,
    sizes_mm: tuple[float, float] = (300.0, 0.0),
    point: str = ".",
) -> str:
    """A EULUMDAT file of a light in cd per 1000 lm of its lamps."""
    head = ["a company", "1", f"{symmetry}", f"{len(planes)}", "0", f"{len(gammas)}", "0"]
    head += ["", "a computed lamp", "", "file", "date", "400", "0", "100"]
    head += [f"{sizes_mm[0]:g}", f"{sizes_mm[1]:g}", "0", "0", "0", "0"]
    head += ["100", "100", f"{conversion:g}", "0", "1"]
    head += [f"{lamps}", "flash tube", f"{lamp_flux:g}", "5600", "100", "100"]
    head += ["0.5"] * 10
    numbers = [*planes, *gammas, *(light(g, c) for c in kept for g in gammas)]
    text = "\n".join([*head, *(row([value]) for value in numbers)])
    return text.replace(".", point) + "\n"

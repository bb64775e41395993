"""Whether the backdrop fills the frame: how many centimetres are missing, and at which side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.lens import ray_through
from render.layout.placed import Sheet, View
from render.layout.sweep import meet
from render.layout.walls import BACK_WALL
from render.plan.checks.finding import Context, Finding
from render.predict.touch import distances

Floats = NDArray[np.float64]

# A roll hangs and a camera stands to some centimetres; common practice, no source.
SPARE_M = 0.05
EDGE_RAYS = 101  # along each edge of the frame, its corners included


def backdrop_edges(context: Context) -> list[Finding]:
    """One finding: the edge of the backdrop that is in the frame, or the least margin."""
    lens, sheet = context.layout.view, backdrop_of(context)
    assert lens is not None
    assert sheet is not None
    steps = np.linspace(0.0, 1.0, EDGE_RAYS)
    places = np.stack(np.meshgrid(steps, steps), -1).reshape(-1, 2)
    ways = ray_through(lens, places)
    starts = np.broadcast_to(lens.position_m, ways.shape)
    share, _ = meet(sheet, starts, ways)
    sitter = distances(context.sitter, starts, ways)
    missing = ~np.isfinite(share) & ~np.isfinite(sitter)
    across, up = _on_plane(sheet, lens, ways)
    if missing.any():
        return [_missing(sheet, missing, across, up)]
    return [_filled(sheet, places, across, up, np.isfinite(sitter))]


def backdrop_of(context: Context) -> Sheet | None:
    """The backdrop of the set; None without one."""
    found = [sheet for sheet in context.layout.sheets if sheet.kind == "backdrop"]
    return found[0] if found else None


def no_backdrop(context: Context) -> str:
    """Why the backdrop cannot be checked."""
    if context.layout.view is None:
        return "the scene has no camera"
    return "" if backdrop_of(context) is not None else "the scene has no backdrop"


def _on_plane(sheet: Sheet, lens: View, ways: Floats) -> tuple[Floats, Floats]:
    """Where rays (n, 3) cross the plane of the upright part: across and up of its middle [m]."""
    towards = ways @ sheet.normal
    gap = (sheet.centre_m - lens.position_m) @ sheet.normal
    with np.errstate(divide="ignore"):
        far = gap / np.where(towards < 0, towards, -0.0)
    at = lens.position_m + np.where(np.isfinite(far), far, np.nan)[:, None] * ways - sheet.centre_m
    return at @ sheet.right, at @ sheet.up


def _missing(sheet: Sheet, missing: NDArray[np.bool_], across: Floats, up: Floats) -> Finding:
    """What is past the backdrop, side by side, and the size that would fill the frame."""
    half_w, half_h = 0.5 * sheet.width_m, 0.5 * sheet.height_m
    x, y = across[missing], up[missing]
    past = {
        "camera left": float(np.nanmax(-x - half_w)),
        "camera right": float(np.nanmax(x - half_w)),
        "the top": float(np.nanmax(y - half_h)),
        "the bottom": float(np.nanmax(-half_h - y)),
    }
    short = {side: 100 * metres for side, metres in past.items() if metres > 0}
    told = " and ".join(f"{centimetres:.0f} cm at {side}" for side, centimetres in short.items())
    cures = []
    if "camera left" in short or "camera right" in short:
        needed = 2 * max(past["camera left"], past["camera right"]) + sheet.width_m
        cures.append(f"{needed:.2f} m wide")
    if "the top" in short:
        cures.append(f"hung {short['the top']:.0f} cm higher")
    if "the bottom" in short:
        cures.append("swept farther over the floor, or frame higher")
    share = 100 * float(np.mean(missing))
    words = (
        f"The {_called(sheet)} does not fill the frame: {told} are missing where it hangs, "
        f"{share:.1f} % of the frame; it has to be {' and '.join(cures)}."
    )
    worst = max(short.values(), default=0.0)
    return Finding("backdrop", "backdrop", "wrong", worst, "cm missing", 0.0, words)


def _filled(
    sheet: Sheet, places: Floats, across: Floats, up: Floats, covered: NDArray[np.bool_]
) -> Finding:
    """The least margin between the frame and the sides and the top of the backdrop."""
    half_w, half_h = 0.5 * sheet.width_m, 0.5 * sheet.height_m
    margins = {
        "camera left": across[~covered] + half_w,
        "camera right": half_w - across[~covered],
        "the top": half_h - up[~covered],
    }
    least = {side: float(np.nanmin(gap)) for side, gap in margins.items() if len(gap)}
    if not least:
        words = f"The sitter hides all of the {_called(sheet)}."
        return Finding("backdrop", "backdrop", "look", 0.0, "cm to spare", 0.0, words)
    side = min(least, key=lambda each: least[each])
    spare = least[side]
    near = spare < SPARE_M
    words = f"The {_called(sheet)} fills the frame with {100 * spare:.0f} cm to spare at {side}"
    words += f"; leave {100 * SPARE_M:.0f} cm for a camera set up by hand." if near else "."
    return Finding(
        check="backdrop",
        about="backdrop",
        verdict="look" if near else "fine",
        value=100 * spare,
        unit="cm to spare",
        limit=100 * SPARE_M,
        words=words,
    )


def _called(sheet: Sheet) -> str:
    return BACK_WALL if sheet.name == BACK_WALL else "backdrop"

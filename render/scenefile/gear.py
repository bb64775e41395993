"""Whether each head, modifier and grid of a kit file can be: the sizes it needs, and no others."""

from __future__ import annotations

import math
from pathlib import Path

from render.errors import KitError
from render.studio.kit import Flash, Grid, Kit, Modifier

SQUARED = ("softbox", "strip", "plain")
UMBRELLAS = ("umbrella through", "umbrella bounce")
HEADED = (*UMBRELLAS, "bare", "lantern")  # whose flash head can stand in the light
BEAMED = ("softbox", "strip", "octa", "round", "umbrella bounce", "dish", "reflector")
# Which kinds each key is for; keys that are not listed here are for all.
KINDS = {
    "size_cm": (*SQUARED, "measured"),
    "diameter_cm": (
        *("octa", "round", *UMBRELLAS, "dish", "reflector", "snoot", "bare", "lantern"),
        "measured",
    ),
    "sides": ("octa",),
    "diffusers": ("softbox", "strip", "octa", "round", "dish", "reflector"),
    "beam_deg": BEAMED,
    "edge_falloff_stops": (*BEAMED, "umbrella through", "snoot", "plain"),
    "recess_cm": ("softbox", "strip", "octa", "round", "dish", "reflector", "snoot", "plain"),
    "depth_cm": UMBRELLAS,
    "back_share": ("umbrella through",),
    "deflector_cm": ("dish",),
    "deflector_share": ("dish",),
    "head_cm": HEADED,
    "measured_file": ("measured",),
    "shell_cm": (*SQUARED, "octa", "round", "dish", "reflector", "snoot", "measured"),
    "grid_depth_cm": (*SQUARED, "octa", "round", "dish", "reflector", "measured"),
}
NEEDED = {
    "size_cm": SQUARED,
    "diameter_cm": tuple(kind for kind in KINDS["diameter_cm"] if kind != "measured"),
    "depth_cm": UMBRELLAS,
    "recess_cm": ("snoot",),
    "measured_file": ("measured",),
}
OPENS_DEG = (5.0, 80.0)  # angles at which cells close; makers' labels run from 10 to 60 degrees
LEAST_DARK_K = 1500.0  # a lamp redder than this is not modelled

Problem = tuple[str, str, str]  # key, what was found, what would be accepted


def check_gear(file: Path, kit: Kit) -> None:
    """Raise KitError for the first head, modifier or grid of a kit file that cannot be."""
    problems = [(f"flash.{name}", _of_flash(entry)) for name, entry in kit.flash.items()]
    problems += [(f"modifier.{name}", _of_modifier(entry)) for name, entry in kit.modifier.items()]
    problems += [(f"grid.{name}", _of_grid(entry)) for name, entry in kit.grid.items()]
    for heading, problem in problems:
        if problem is not None:
            key, found, wanted = problem
            raise KitError(file, f"{heading}.{key}", found, wanted)


def _of_modifier(modifier: Modifier) -> Problem | None:
    return _of_keys(modifier) or _of_sizes(modifier) or _of_range(modifier)


def _of_keys(modifier: Modifier) -> Problem | None:
    """Every kind has the keys it needs and no others."""
    kind, stated = modifier.kind, modifier.model_fields_set
    for key, kinds in KINDS.items():
        if key in stated and kind not in kinds:
            return key, f"found on {with_article(kind)}", f"only for {_or(kinds)}"
    for key, kinds in NEEDED.items():
        if kind in kinds and key not in stated:
            return key, f"missing, {with_article(kind)} needs it", f"write {key} = {_example(key)}"
    if modifier.size_cm is not None and modifier.diameter_cm is not None:
        return "size_cm", "found beside diameter_cm", "one of the two"
    return None


def _example(key: str) -> str:
    return {"size_cm": "[60, 90]", "measured_file": '"beam.ies"'}.get(key, "20")


def _of_sizes(modifier: Modifier) -> Problem | None:
    """Sizes that fit each other."""
    across = modifier.diameter_cm or 0.0
    if modifier.depth_cm is not None and modifier.depth_cm > across / 2:
        wanted = f"at most half its diameter, {across / 2:g}"
        return "depth_cm", f"found {modifier.depth_cm:g}", wanted
    if modifier.deflector_cm > 0 and modifier.deflector_cm >= across:
        return "deflector_cm", f"found {modifier.deflector_cm:g}", f"less than the dish, {across:g}"
    if modifier.kind == "snoot" and modifier.recess_cm < across / 2:
        wanted = f"the tube's length, at least half its diameter, {across / 2:g}"
        return "recess_cm", f"found {modifier.recess_cm:g}", wanted
    if modifier.kind == "strip" and modifier.size_cm is not None:
        short, long = sorted(modifier.size_cm)
        if long < 2 * short:
            found = f"found {modifier.size_cm[0]:g} by {modifier.size_cm[1]:g}"
            return "size_cm", found, 'a strip at least twice as long as wide, or kind = "softbox"'
    bowl = modifier.kind in UMBRELLAS
    if bowl and modifier.head_cm is not None and modifier.head_cm[0] >= across:
        found = f"found a head {modifier.head_cm[0]:g} wide"
        return "head_cm", found, f"narrower than its umbrella, {across:g}"
    return None


def _of_range(modifier: Modifier) -> Problem | None:
    usual = modifier.usual_loss_stops
    if usual is not None and usual[0] > usual[1]:
        return "usual_loss_stops", f"found {usual[0]:g} to {usual[1]:g}", "the least first"
    return None


def _of_flash(flash: Flash) -> Problem | None:
    """A head whose least power still has a colour that a lamp can have."""
    drift = flash.colour_drift_k_per_stop * flash.power_range_stops
    least = flash.colour_temperature_k + drift
    if least < LEAST_DARK_K:
        found = f"found {flash.colour_drift_k_per_stop:g}, {least:.0f} K at the least power"
        return "colour_drift_k_per_stop", found, f"a drift that stays above {LEAST_DARK_K:g} K"
    return None


def _of_grid(grid: Grid) -> Problem | None:
    closes = math.degrees(math.atan(grid.cell_cm / grid.depth_cm))
    low, high = OPENS_DEG
    if not low <= closes <= high:
        found = f"found {grid.cell_cm:g} with depth_cm = {grid.depth_cm:g}"
        found += f", cells that close at {closes:.1f} degrees"
        return "cell_cm", found, f"cells that close between {low:g} and {high:g} degrees"
    return None


def with_article(kind: str) -> str:
    """A kind of modifier in a sentence: "an octa"."""
    name = f"{kind} front" if kind in ("plain", "measured", "bare", "round") else kind
    return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def _or(kinds: tuple[str, ...]) -> str:
    return kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} or {kinds[-1]}"

"""Where the particles of an element are: thrown by chance, the same throw for the same seed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout.dust import PUFFS, hidden_m2, puff_shares, puff_sizes, stirred
from render.layout.fits import check_inside, refuse
from render.layout.placed import Cloud, Sheet
from render.layout.walls import PALEST, Rgb, rgb_of
from render.photometry.srgb import luminance
from render.scenefile import Setup
from render.studio.element import Element

Floats = NDArray[np.float64]

KINDS = ("grains", "flakes", "drops", "curls", "dust")  # their order is part of the throw
LOOKS = 8  # numbers that a particle's own shape is made of
# So many can be traced in the memory of a small computer; a choice, no source.
MOST = {"grains": 20000, "flakes": 10000, "drops": 1000, "curls": 2000, "dust": 10**9}
# Luminous reflectance: rosin dust and flour 0.7 to 0.85, fresh spruce and maple 0.45 to 0.6; from
# memory.
# Fine dust of clear or white stuff scatters nearly all that meets it; from memory.
USUAL_REFLECTANCE = {"grains": 0.75, "flakes": 0.5, "drops": 0.0, "curls": 0.5, "dust": 0.9}
# Of light through a plane's shaving, a tenth of a millimetre thin: held against a window it glows
# nearly as bright as it is from the front; common practice, no source.
USUAL_THROUGH = {"grains": 0.0, "flakes": 0.3, "drops": 0.0, "curls": 0.3, "dust": 0.0}
# Diameters [mm]: what can be traced one by one, and what is too fine for it. Dust below 5 um is a
# hundredth of any pile's weight and more; from memory.
SIZES_MM, DUST_MM = (0.05, 200.0), (0.005, 0.2)
INDEX = {"water": 1.333, "glass": 1.52}  # sodium light, handbook values
FALL_BEGINS = 0.3  # share of its spread that a fall begins with; by eye
RADII = np.linspace(0.0, 1.0, 1025)  # where the share of an ellipsoid within a radius is tabled


def scatter(setup: Setup, name: str, eyes: Floats) -> Cloud:
    """The particles of an element in room axes; raises SceneError.

    eyes : (3,) where a cloud without a place of its own hangs [m]
    """
    element = setup.scene.element[name]
    _check(setup, name, element)
    # Uniform numbers alone: of all that a generator gives, those that stay the same for good.
    chance = np.random.Generator(np.random.PCG64([element.seed, KINDS.index(element.kind)]))
    dust = element.kind == "dust"
    u = chance.random((min(element.count, PUFFS) if dust else element.count, 8 + LOOKS))
    centre = eyes if element.centre_m is None else np.array(element.centre_m)
    least, most = (each / 1000 for each in element.size_mm)
    sizes = puff_sizes(element, u[:, 4]) if dust else least * (most / least) ** u[:, 4]
    reflectance = _rgb(setup, name, element)
    return Cloud(
        name=name,
        kind=element.kind,
        centres_m=centre + _offsets(element, u[:, :4], chance),
        sizes_m=sizes,
        turns=turned(u[:, 5:8]),
        looks=u[:, 8:],
        reflectance=reflectance,
        through=_through(setup, name, element, reflectance),
        refractive_index=INDEX[element.clear or "water"] if element.kind == "drops" else 1.0,
        hides_m2=hidden_m2(element) * puff_shares(sizes) if dust else None,
    )


def middle_m(element: Element, eyes: Floats) -> Floats:
    """The middle (3,) [m] of a cloud, or half way down a fall."""
    centre = eyes if element.centre_m is None else np.array(element.centre_m)
    return np.asarray(centre - np.array([0.0, 0.5 * (element.falls_m or 0.0), 0.0]), float)


def _check(setup: Setup, name: str, element: Element) -> None:
    """Sizes in order, no more than can be traced, keys that go together; raises SceneError."""
    key, (least, most) = f"element.{name}", element.size_mm
    size = f"found [{least:g}, {most:g}]"
    refuse(least > most, setup, f"{key}.size_mm", size, "the smallest first")
    low, high = DUST_MM if element.kind == "dust" else SIZES_MM
    wanted = f"{low:g} to {high:g} for {element.kind}"
    refuse(least < low or most > high, setup, f"{key}.size_mm", size, wanted)
    limit = MOST[element.kind]
    many = f"found {element.count} {element.kind}"
    refuse(element.count > limit, setup, f"{key}.count", many, f"at most {limit}")
    clear = element.kind == "drops"
    for part in ("colour", "reflectance", "through"):
        given = getattr(element, part) is not None
        refuse(clear and given, setup, f"{key}.{part}", "found with drops", "leave it out: clear")
    dust = element.kind == "dust"
    shines = dust and element.through is not None
    refuse(shines, setup, f"{key}.through", "found with dust", "leave it out: it scatters all ways")
    wrong = element.clear is not None and not clear
    refuse(wrong, setup, f"{key}.clear", f"found with {element.kind}", "with drops only")


def _rgb(setup: Setup, name: str, element: Element) -> Rgb:
    if element.colour is None:
        usual = USUAL_REFLECTANCE[element.kind]
        grey = usual if element.reflectance is None else element.reflectance
        return (grey, grey, grey)
    return rgb_of(setup, f"element.{name}.colour", element.colour, element.reflectance)


def _through(setup: Setup, name: str, element: Element, reflectance: Rgb) -> Rgb:
    """What comes out on the other side, in the colour of what is given back; raises SceneError."""
    share = USUAL_THROUGH[element.kind] if element.through is None else element.through
    bright = float(luminance(np.array(reflectance)))
    if share == 0:
        return (0.0, 0.0, 0.0)
    most = max(0.0, (PALEST / max(reflectance) - 1) * bright)
    if element.through is None:
        share = min(share, most)
    refuse(
        share > most,
        setup,
        f"element.{name}.through",
        f"found {share:g}, together with the reflectance more than falls on it",
        f"at most {np.floor(100 * most) / 100:g}",
    )
    red, green, blue = (each * share / bright for each in reflectance)
    return (red, green, blue)


def _offsets(element: Element, u: Floats, chance: np.random.Generator) -> Floats:
    """Places (n, 3) [m] from the middle, from numbers (n, 4) in 0..1; chance stirs dust."""
    half = 0.5 * np.array(element.spread_m)
    even = element.shape == "box"
    thrown = 2 * u[:, :3] - 1 if even else within_ball(u[:, :3])
    apart = (stirred(thrown, chance) if element.kind == "dust" else thrown) * half
    if element.falls_m is None:
        return apart
    # Let go evenly in time, a fall is t² deep and goes on drifting apart.
    time = u[:, 3:]
    wide = FALL_BEGINS + (1 - FALL_BEGINS) * time
    drift = apart * np.concatenate([wide, np.ones_like(time), wide], 1)
    return np.asarray(drift - np.array([0.0, element.falls_m, 0.0]) * time**2, float)


def within_ball(u: Floats) -> Floats:
    """Places (n, 3) in the unit ball, their density as (1 - r²)², from numbers (n, 3) in 0..1.

    The share within r is (35 r³ - 42 r⁵ + 15 r⁷) / 8 (integrated by hand).
    """
    share = (35 * RADII**3 - 42 * RADII**5 + 15 * RADII**7) / 8
    radius = np.interp(u[:, 0], share, RADII)
    level, turn = 2 * u[:, 1] - 1, 2 * np.pi * u[:, 2]
    flat = np.sqrt(1 - level**2)
    way = np.stack([flat * np.cos(turn), flat * np.sin(turn), level], -1)
    return np.asarray(radius[:, None] * way, float)


def turned(u: Floats) -> Floats:
    """Rotations (n, 3, 3), every one as likely, from numbers (n, 3) in 0..1.

    Source: K. Shoemake, Uniform random rotations, Graphics Gems III (1992).
    """
    one, two = 2 * np.pi * u[:, 1], 2 * np.pi * u[:, 2]
    low, high = np.sqrt(1 - u[:, 0]), np.sqrt(u[:, 0])
    x, y, z, w = low * np.sin(one), low * np.cos(one), high * np.sin(two), high * np.cos(two)
    rows = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    return np.moveaxis(np.array(rows), 2, 0)


def check_cloud(setup: Setup, cloud: Cloud, sheets: list[Sheet], box: Floats | None) -> None:
    """Every particle inside the room and before the backdrop; raises SceneError."""
    half = 0.5 * cloud.sizes_m[:, None]
    ends = np.concatenate([cloud.centres_m - half, cloud.centres_m + half])
    key = f"element.{cloud.name}"
    check_inside(setup, key, "the cloud", ends, box)
    for sheet in sheets:
        if sheet.kind != "backdrop":
            continue
        behind = (ends - sheet.centre_m) @ sheet.normal
        across = np.abs((ends - sheet.centre_m) @ sheet.right) < 0.5 * sheet.width_m
        deepest = float(-behind[across].min(initial=0.0))
        if deepest > 0:
            raise SceneError(
                setup.file,
                key,
                f"the cloud reaches {100 * deepest:.0f} cm through the backdrop",
                "a smaller spread_m, or a greater backdrop.gap_m",
            )

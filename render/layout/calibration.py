"""What real readings say of a light: how far it is from the typical one, and which are wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import fmean

import numpy as np

from render.emission import Ball, Front
from render.emission.output import Evidence, Output, axial_exposure, metered, rated, walls_stops
from render.emission.solids import head_end_m
from render.errors import KitError, SceneError
from render.layout.measured import check_axis
from render.layout.modifiers import Fitted, as_front, fitted
from render.layout.tints import light_tint
from render.photometry.exposure import f_number, luminous_exposure_for
from render.photometry.stops import show_f_number
from render.scenefile import Setup
from render.scenefile.kits import ReadingPlace
from render.studio.kit import Flash, KitReading, Modifier
from render.studio.light import Light

# Readings of one set-up further apart than this cannot all be right: two repeat within 0.1 to 0.2
# stop, dials are true to 0.2; common practice. Of set-ups that differ, cloths and grids add theirs.
CONTRADICTION_STOPS, ACROSS_SET_UPS_STOPS = 0.5, 1.5
MOST_EFFICACY = 80.0  # [lm/W] no xenon tube gives more light a watt second; from memory
# Heads give 15 to 50 lm/(W·s), 1.2 stops under the typical 35; the rest is for a dark lining.
DARKEST_STOPS = 4.0
CLEAR_M = 0.02  # a receptor so near to lip, head or ball is in it

Problem = tuple[str, str]  # what was found, what would be accepted


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading of the kit against what the typical head and modifier would have shown."""

    reading: KitReading
    place: ReadingPlace
    typical_f_number: float  # with the walls' light, where that is known
    offset_stops: float  # of the light straight from the front, + is brighter than typical

    @property
    def walls_stops(self) -> float:
        """What the walls may have added to it, at most [stops]; 0 where it is taken off."""
        shaded = self.reading.shaded_f_number is not None
        return 0.0 if shaded else walls_stops(self.reading.distance_m)


def output_of(setup: Setup, light: Light, modifier: Modifier, worn: Fitted) -> Output:
    """Light that leaves the cloth of a light with a flash, at full power.

    From the readings of this flash and modifier, where the kit has some: those whose cloths, grid
    and gels are most like the light's, their mean in stops; else as typical.
    Raises KitError for a reading that is wrong or contradicts another.
    """
    flash = setup.kit.flash[light.flash or ""]
    share = worn.share * worn.open_share
    typical = rated(flash.stored_energy_ws, flash.efficacy_lm_per_ws, share)
    taken = readings_of(setup, light.flash or "", light.modifier or "")
    if not taken:
        return typical
    unlike = [_differences(each.reading, light, modifier) for each in taken]
    chosen = [each for each, n in zip(taken, unlike, strict=True) if n == min(unlike)]
    offsets = [each.offset_stops for each in chosen]
    dates = [each.reading.date for each in chosen if each.reading.date is not None]
    evidence = Evidence(
        date=max(dates).isoformat() if dates else "",
        count=len(chosen),
        spread_stops=max(offsets) - min(offsets),
        walls_stops=max(each.walls_stops for each in chosen),
        carried=min(unlike) > 0,
    )
    return metered(typical.luminous_energy_lm_s * 2 ** fmean(offsets), evidence)


def readings_of(setup: Setup, flash: str, modifier: str) -> list[Taken]:
    """Every reading of the kit with this flash and modifier, in the order of the files.

    Raises KitError for a reading that is wrong or contradicts another.
    """
    taken = [
        _taken(setup, reading, place)
        for reading, place in zip(setup.kit.reading, _places(setup), strict=True)
        if (reading.flash, reading.modifier) == (flash, modifier)
    ]
    if taken:
        _check_agreement(taken, setup.kit.modifier[modifier])
    return taken


def beyond_dial(name: str, flash: Flash, power: float) -> Problem | None:
    """What is wrong with a power that the flash cannot give."""
    least = 2.0**-flash.power_range_stops
    if power >= least * 0.999:
        return None
    return f"found 1/{1 / power:.4g}, less than {name} can give", f"from 1/{1 / least:.4g} to 1"


def _places(setup: Setup) -> tuple[ReadingPlace, ...]:
    if setup.reading_places:
        return setup.reading_places
    return tuple(ReadingPlace(setup.file, f"reading[{i}]") for i in range(len(setup.kit.reading)))


def _taken(setup: Setup, reading: KitReading, place: ReadingPlace) -> Taken:
    """The reading beside its model; raises KitError where it cannot be true."""
    flash, modifier = setup.kit.flash[reading.flash], setup.kit.modifier[reading.modifier]
    problem = beyond_dial(reading.flash, flash, reading.power)
    if problem is not None:
        raise KitError(place.file, f"{place.key}.power", *problem)
    light, worn = _worn(setup, reading, place, modifier)
    front = as_front(place.key, worn, np.zeros(3), np.array([0.0, 0.0, 1.0]), 0.0)
    _check_distance(reading, place, front)
    distance = reading.distance_m - float(front.centre_m[2])
    per_energy = axial_exposure(front, distance, reading.receptor)
    tinted = light_tint(setup, place.key, light).transmission
    behind = reading.power * tinted * worn.open_share * flash.stored_energy_ws * per_energy
    typical = behind * worn.share * flash.efficacy_lm_per_ws
    constant = {"flat": setup.scene.meter.c_flat, "dome": setup.scene.meter.c_dome}
    walls = _exposure(reading.shaded_f_number or 0.0, reading, constant)
    direct = _exposure(reading.f_number, reading, constant) - walls
    speed, c = reading.iso_speed, constant[reading.receptor]
    least, most = typical * 2**-DARKEST_STOPS, behind * MOST_EFFICACY
    if not least <= direct <= most:
        low, high = (float(f_number(h + walls, speed, c)) for h in (least, most))
        raise KitError(place.file, f"{place.key}.f_number", *_impossible(reading, low, high))
    shown = float(f_number(typical + walls, speed, c))
    return Taken(reading, place, shown, math.log2(direct / typical))


def _exposure(shown: float, reading: KitReading, constant: dict[str, float]) -> float:
    """Luminous exposure behind an f-number of a reading's meter [lx·s]."""
    return float(luminous_exposure_for(shown, reading.iso_speed, constant[reading.receptor]))


def _worn(
    setup: Setup, reading: KitReading, place: ReadingPlace, modifier: Modifier
) -> tuple[Light, Fitted]:
    """The light as it was when the reading was taken; raises KitError."""
    light = Light(
        flash=reading.flash,
        modifier=reading.modifier,
        power=reading.power,
        diffusers=reading.diffusers,
        grid=reading.grid,
        grid_deg=reading.grid_deg,
        gel=reading.gel,
        nd=reading.nd,
    )
    try:
        worn = fitted(setup, place.key, light, modifier)
    except SceneError as problem:
        raise KitError(place.file, problem.key, problem.found, problem.accepted) from None
    check_axis(modifier, worn.beam)
    return light, worn


def _check_distance(reading: KitReading, place: ReadingPlace, front: Front) -> None:
    """The receptor is outside the modifier; raises KitError."""
    inside = front.recess_m
    if isinstance(front.shape, Ball):
        inside = 0.5 * front.width_m
    elif front.cells is not None:
        inside = front.cells.depth_m
    inside = max(inside, head_end_m(front) or 0.0)
    if reading.distance_m < inside + CLEAR_M:
        found = f"found {reading.distance_m:g}, which is inside {reading.modifier}"
        wanted = f"from the middle of its front, more than {inside + CLEAR_M:.2f}"
        raise KitError(place.file, f"{place.key}.distance_m", found, wanted)


def _impossible(reading: KitReading, low: float, high: float) -> Problem:
    """Words for an f-number that this flash and modifier cannot give."""
    pair = f"{reading.flash} with {reading.modifier} at {reading.distance_m:g} m"
    if reading.shaded_f_number is not None and reading.f_number <= reading.shaded_f_number:
        return f"found {reading.f_number:.3g}, not more than shaded_f_number", "the brighter one"
    what = "less" if reading.f_number < low else "more"
    found = f"found {show_f_number(reading.f_number)}, {what} light than {pair} can give"
    wanted = f"from {show_f_number(low)} to {show_f_number(high)} at this power and ISO"
    return found, wanted


def _set_up(reading: KitReading | Light, modifier: Modifier) -> tuple[object, ...]:
    """Cloths, grid, and what is before them."""
    cloths = modifier.diffusers if reading.diffusers is None else reading.diffusers
    grid = reading.grid if reading.grid is not None else reading.grid_deg
    return cloths, grid, (tuple(sorted(reading.gel)), reading.nd)


def _differences(reading: KitReading, light: Light, modifier: Modifier) -> int:
    """In how many ways the light is set up otherwise than it was when it was read."""
    pairs = zip(_set_up(reading, modifier), _set_up(light, modifier), strict=True)
    return sum(a != b for a, b in pairs)


def _check_agreement(taken: list[Taken], modifier: Modifier) -> None:
    """Readings of the same set-up agree, those of others at least roughly; raises KitError."""
    set_ups = [_set_up(each.reading, modifier) for each in taken]
    for one in dict.fromkeys(set_ups):
        same = [each for each, its in zip(taken, set_ups, strict=True) if its == one]
        _check_apart(same, CONTRADICTION_STOPS)
    _check_apart(taken, ACROSS_SET_UPS_STOPS)


def _check_apart(taken: list[Taken], most_stops: float) -> None:
    """Name the brightest and the darkest reading where they are too far apart."""
    low = min(taken, key=lambda each: each.offset_stops)
    high = max(taken, key=lambda each: each.offset_stops)
    apart = high.offset_stops - low.offset_stops
    # From farther away a reading has more of the walls in it, and may be so much brighter.
    allowed = most_stops + max(0.0, high.walls_stops - low.walls_stops)
    if apart <= allowed:
        return
    later, earlier = (high, low) if taken.index(high) > taken.index(low) else (low, high)
    other = earlier.place.key
    if earlier.place.file != later.place.file:
        other += f" of {earlier.place.file.name}"
    what = "more" if later is high else "less"
    reading = later.reading
    raise KitError(
        later.place.file,
        later.place.key,
        f"says {apart:.1f} stops {what} light than {other}, both {reading.flash} with "
        f"{reading.modifier}, once distance, power, receptor and set-up are allowed for",
        f"readings that agree within {allowed:.1f} stop",
    )

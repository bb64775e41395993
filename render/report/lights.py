"""What there is to light with: heads, modifiers, grids, gels and surfaces, with their numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from render.errors import KitError
from render.folders import data_folder
from render.layout.calibration import readings_of
from render.layout.lamps import light_alone
from render.layout.tints import light_tint
from render.photometry.exposure import f_number
from render.predict.alone import beam_width_deg, exposure_ahead, spot_diameter_m
from render.report.kit_rows import (
    FlashRow,
    GelRow,
    GridRow,
    Lights,
    ModifierRow,
    ReadingRow,
    SurfaceRow,
)
from render.scenefile import Setup
from render.scenefile.kits import read_kits
from render.studio.kit import Grid, KitReading, Modifier
from render.studio.light import Light
from render.studio.scene import Scene

HEAD = "monobloc-400"  # whose guide numbers are listed, unless another is asked for
REFERENCE = "reflector-standard"  # what losses are counted against
COMPARED_AT_M = 2.0  # where modifiers and honeycombs are compared
KEY_AT_M = 1.0  # where fabric grids are, as a key stands
CLOTHED = "softbox-60x90"  # that shows what fabric grids do
SPEED = 100.0  # ISO of guide numbers


def lights(own: Sequence[Path] = (), head: str = HEAD, only: str = "") -> Lights:
    """List the kit, bundled and own, with computed numbers.

    own  : kit files of one's own, read after the bundled ones
    head : flash that guide numbers are for
    only : name of one list; the others stay empty. All of them by default
    Raises KitError for a file, entry or reading that cannot be, or a head that is not there.
    """
    kit, places = read_kits(own)
    nowhere = own[-1] if own else data_folder("scenes") / "kit"
    lamp = {"lamp": Light(size_cm=(60, 90), luminous_energy_lm_s=1)}
    setup = Setup(nowhere, Scene(title="kit", light=lamp), kit, places)
    if head not in kit.flash:
        known = ", ".join(sorted(kit.flash))
        raise KitError(nowhere, "flash", f'"{head}" is not in the kit', f"one of {known}")

    def asked(name: str) -> bool:
        return only in ("", name)

    return Lights(
        head,
        REFERENCE,
        COMPARED_AT_M,
        flashes=_flashes(setup) if asked("flashes") else (),
        modifiers=_modifiers(setup, head) if asked("modifiers") else (),
        grids=_grids(setup, head) if asked("grids") else (),
        readings=_readings(setup) if asked("readings") else (),
        gels=_gels(setup) if asked("gels") else (),
        surfaces=_surfaces(setup) if asked("surfaces") else (),
    )


def _flashes(setup: Setup) -> tuple[FlashRow, ...]:
    names = FlashRow.__dataclass_fields__.keys() - {"name"}
    entries = setup.kit.flash.items()
    return tuple(FlashRow(name=n, **{key: getattr(e, key) for key in names}) for n, e in entries)


def _surfaces(setup: Setup) -> tuple[SurfaceRow, ...]:
    names = SurfaceRow.__dataclass_fields__.keys() - {"name"}
    entries = setup.kit.surface.items()
    return tuple(SurfaceRow(name=n, **{key: getattr(e, key) for key in names}) for n, e in entries)


def _modifiers(setup: Setup, head: str) -> tuple[ModifierRow, ...]:
    front, _ = light_alone(setup, Light(flash=head, modifier=REFERENCE))
    base = exposure_ahead(front, COMPARED_AT_M)
    return tuple(
        _modifier(setup, head, base, name, entry) for name, entry in setup.kit.modifier.items()
    )


def _modifier(setup: Setup, head: str, base: float, name: str, entry: Modifier) -> ModifierRow:
    front, output = light_alone(setup, Light(flash=head, modifier=name))
    exposure = exposure_ahead(front, COMPARED_AT_M)
    across = (front.width_m,) if entry.size_cm is None else (front.width_m, front.height_m)
    return ModifierRow(
        name=name,
        about=entry.about,
        kind=entry.kind,
        size_cm=tuple(round(100 * side, 3) for side in across),
        loss_stops=math.log2(base / exposure),
        usual_loss_stops=entry.usual_loss_stops,
        guide_number_m=float(f_number(exposure, SPEED, setup.scene.meter.c_flat)) * COMPARED_AT_M,
        beam_deg=beam_width_deg(front),
        share=entry.share,
        diffusers=entry.diffusers,
        calibration=output.calibration,
        source=entry.source,
    )


def _grids(setup: Setup, head: str) -> tuple[GridRow, ...]:
    return tuple(_grid(setup, head, name, grid) for name, grid in setup.kit.grid.items())


def _grid(setup: Setup, head: str, name: str, grid: Grid) -> GridRow:
    """Fabric on a soft box where a key stands, honeycombs on the reference."""
    on, at = (CLOTHED, KEY_AT_M) if grid.cells == "square" else (REFERENCE, COMPARED_AT_M)
    bare, _ = light_alone(setup, Light(flash=head, modifier=on))
    worn, _ = light_alone(setup, Light(flash=head, modifier=on, grid=name))
    beam = beam_width_deg(worn)
    return GridRow(
        name=name,
        about=grid.about,
        cells=grid.cells,
        cell_cm=grid.cell_cm,
        depth_cm=grid.depth_cm,
        open_share=grid.open_share,
        closes_deg=math.degrees(math.atan(grid.cell_cm / grid.depth_cm)),
        on=on,
        at_m=at,
        loss_stops=math.log2(exposure_ahead(bare, at) / exposure_ahead(worn, at)),
        beam_deg=beam,
        spot_m=None if beam is None else spot_diameter_m(beam, COMPARED_AT_M),
        source=grid.source,
    )


def _gels(setup: Setup) -> tuple[GelRow, ...]:
    rows = []
    for name, gel in setup.kit.gel.items():
        made = light_tint(setup, "lamp", Light(gel=(name,)))
        kelvin = made.colour_temperature_k
        rows.append(GelRow(name, gel.mired, made.loss_stops, kelvin, made.colour))
    return tuple(rows)


def _readings(setup: Setup) -> tuple[ReadingRow, ...]:
    pairs = dict.fromkeys((each.flash, each.modifier) for each in setup.kit.reading)
    return tuple(
        ReadingRow(
            file=taken.place.file.name,
            key=taken.place.key,
            flash=flash,
            modifier=modifier,
            worn=_worn(taken.reading),
            power=taken.reading.power,
            distance_m=taken.reading.distance_m,
            iso_speed=taken.reading.iso_speed,
            receptor=taken.reading.receptor,
            f_number=taken.reading.f_number,
            typical_f_number=taken.typical_f_number,
            difference_stops=taken.offset_stops,
            walls_stops=taken.walls_stops,
        )
        for flash, modifier in pairs
        for taken in readings_of(setup, flash, modifier)
    )


def _worn(reading: KitReading) -> str:
    """What was on the modifier besides what it comes with."""
    cloths = "" if reading.diffusers is None else f"{reading.diffusers} cloths"
    angle = "" if reading.grid_deg is None else f"grid {reading.grid_deg:g}°"
    sheet = f"nd {reading.nd:g}" if reading.nd else ""
    return ", ".join(filter(None, [cloths, reading.grid, angle, *reading.gel, sheet]))

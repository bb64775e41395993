"""What each modifier does on the same flash in the same place: loss, softness, falloff, spill."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import SceneError
from render.layout import Layout, place
from render.photometry.exposure import f_number
from render.photometry.stops import show_f_number, show_power, stops
from render.predict.softness import (
    NoseShadow,
    curvature_radius_m,
    edge_width,
    mirror_image_m,
    nose_shadow,
    shining,
)
from render.report.face import Face, face_of, light_on
from render.report.outfits import Outfit, as_it_stands, key_light, with_outfit
from render.report.readings import meter_speed
from render.scenefile import Setup
from render.trace import Engine

Floats = NDArray[np.float64]
STANDARD = Outfit("reflector-standard")  # that losses are told against; common practice, no source
MM = 1000.0


@dataclass(frozen=True, slots=True)
class TrialRow:
    """One modifier; its fields are the keys of the JSON output.

    Light on the face and on the backdrop is that of the key and of what the room gives back of it.
    """

    name: str
    modifier: str
    kind: str
    grid: str | None
    diffusers: int | None
    power: float  # share of full that makes the wanted face reading, in the head's own steps
    power_shown: str
    missing_stops: float  # what the head cannot give of it; negative where its least is too much
    f_number: float  # at the face at that power
    shown: str
    standard_error_stops: float
    loss_stops: float | None  # against the standard reflector, straight from the front
    room_stops: float | None  # what the room adds to the face reading
    edge_mm: float | None  # of the nose's shadow, from a tenth of the light to nine tenths
    edge_whole_mm: float | None  # of the same from the first light to the last
    chin_stops: float | None  # chin against forehead, straight from the front
    ear_stops: float | None  # far ear against the face
    ear_direct_stops: float | None  # the same, straight from the front
    spill_stops: float | None  # mean of the backdrop that shows, against the face
    spill_direct_stops: float | None
    highlight_width_mm: float | None  # mirror image of the front on the forehead
    highlight_height_mm: float | None
    calibration: str


@dataclass(frozen=True, slots=True)
class Trials:
    """The table of a scene's modifiers."""

    scene: str
    light: str
    flash: str
    iso_speed: float
    re_point: str
    wanted_f_number: float
    wanted: str
    forehead_radius_mm: float | None  # of the ball that highlights are mirrored in
    rows: tuple[TrialRow, ...]
    left_out: tuple[str, ...]  # modifiers that cannot stand there, and why


@dataclass(frozen=True, slots=True)
class Tried:
    """A modifier's figures, and the set-up that shows it at its power."""

    row: TrialRow
    setup: Setup


@dataclass(frozen=True, slots=True)
class _Trial:
    """What is the same for every modifier."""

    setup: Setup
    face: Face
    wanted: float  # light at the face [lx·s]
    standard: float  # of the standard reflector at full power, straight from the front [lx·s]
    shadow: NoseShadow | None
    radius_m: float | None  # of the forehead
    engine: Engine | None
    others: bool


def try_modifiers(
    setup: Setup,
    outfits: Iterable[Outfit],
    *,
    engine: Engine | None,
    others: bool = False,
    lenient: bool = False,
) -> tuple[Trials, tuple[Tried, ...]]:
    """Put one modifier after the other on the key and bring the face to the same reading.

    setup   : with a sitter; the key as it stands says where, and how bright the face is to be
    engine  : traces what the room gives back; None leaves that out
    others  : leave the other lights on in the set-ups that are returned; figures are the key's
    lenient : leave out what cannot stand there and say so, instead of raising SceneError
    returns : the table, and each modifier's row with its set-up
    Raises SceneError, KitError, MeshError, EngineError.
    """
    trial = _trial(setup, engine, others)
    found: list[Tried] = []
    left_out: list[str] = []
    for outfit in outfits:
        try:
            found.append(_tried(trial, outfit))
        except SceneError as problem:
            if not lenient:
                raise
            left_out.append(f"{outfit.name}: {problem.found}")
    number = _f_number(setup, trial.wanted)
    key, light = key_light(setup)
    return Trials(
        scene=setup.scene.title,
        light=key,
        flash=str(light.flash),
        iso_speed=meter_speed(setup),
        re_point=trial.face.name,
        wanted_f_number=number,
        wanted=show_f_number(number),
        forehead_radius_mm=None if trial.radius_m is None else MM * trial.radius_m,
        rows=tuple(each.row for each in found),
        left_out=tuple(left_out),
    ), tuple(found)


def _trial(setup: Setup, engine: Engine | None, others: bool) -> _Trial:
    layout = place(as_it_stands(setup))
    face = face_of(setup, layout)
    just_there = replace(face, points=face.points[:1], backdrop=())
    wanted = light_on(layout, just_there, engine).face
    standard = light_on(place(with_outfit(setup, STANDARD, 1.0)), just_there, None).face_clear
    assert layout.body is not None  # face_of has asked for a sitter
    shadow = nose_shadow(layout.body, layout.fronts[layout.key])
    radius = curvature_radius_m(layout.body, "forehead")
    return _Trial(setup, face, wanted, standard, shadow, radius, engine, others)


def _tried(trial: _Trial, outfit: Outfit) -> Tried:
    """The key at full power with a modifier, then turned down to the wanted light."""
    setup = trial.setup
    layout = place(with_outfit(setup, outfit, 1.0))
    light = light_on(layout, trial.face, trial.engine)
    power, missing = _power(setup, trial.wanted, light.face)
    number = _f_number(setup, power * light.face)
    edge, whole = shadow_edge_mm(layout, trial.shadow)
    wide, high = _highlight(layout, trial.radius_m)
    row = TrialRow(
        name=outfit.name,
        modifier=outfit.modifier,
        kind=setup.kit.modifier[outfit.modifier].kind,
        grid=outfit.grid,
        diffusers=outfit.diffusers,
        power=power,
        power_shown=show_power(power),
        missing_stops=missing,
        f_number=number,
        shown=show_f_number(number),
        standard_error_stops=light.face_error / light.face / np.log(2) if light.face else 0.0,
        loss_stops=_apart(trial.standard, light.face_clear),
        room_stops=_apart(light.face, light.face_direct),
        edge_mm=edge,
        edge_whole_mm=whole,
        chin_stops=_apart(light.chin, light.forehead),
        ear_stops=_apart(light.ear, light.face),
        ear_direct_stops=_apart(light.ear_direct, light.face),
        spill_stops=_apart(light.spill, light.face),
        spill_direct_stops=_apart(light.spill_direct, light.face),
        highlight_width_mm=wide,
        highlight_height_mm=high,
        calibration=layout.calibrations[layout.key],
    )
    return Tried(row, with_outfit(setup, outfit, power, trial.others))


def _f_number(setup: Setup, luminous_exposure: float) -> float:
    return float(f_number(luminous_exposure, meter_speed(setup), setup.scene.meter.c_flat))


def _apart(light: float | None, base: float | None) -> float | None:
    """Stops of one light over another; None where either is nothing."""
    return float(stops(light / base)) if light and base else None


def _power(setup: Setup, wanted: float, full: float) -> tuple[float, float]:
    """Power on the head's dial nearest to the wanted light, and the stops that it lacks."""
    flash = setup.kit.flash[str(key_light(setup)[1].flash)]
    if full <= 0:
        return 1.0, 0.0
    above = float(stops(wanted / full))
    step = flash.power_step_stops
    dialled = round(above / step) * step if step else above
    reached = min(0.0, max(-flash.power_range_stops, dialled))
    missing = above - reached if dialled != reached else 0.0
    return 2.0**reached, missing


def shadow_edge_mm(layout: Layout, shadow: NoseShadow | None) -> tuple[float | None, float | None]:
    """Soft edge of the nose's shadow in the key [mm]: the middle of the light, all of it."""
    if shadow is None:
        return None, None
    seen = shining(layout, layout.key, shadow.edge_m)
    width = edge_width(seen, shadow.edge_m, shadow.across, shadow.gap_m)
    return (None, None) if width is None else (MM * width.middle_m, MM * width.whole_m)


def _highlight(layout: Layout, radius_m: float | None) -> tuple[float | None, float | None]:
    """Width and height [mm] of the front's mirror image on the forehead."""
    body, lens = layout.body, layout.view
    if body is None or lens is None or radius_m is None:
        return None, None
    here = body.landmarks["forehead"].position_m.astype(float)
    seen = shining(layout, layout.key, here)
    image = mirror_image_m(seen, here, radius_m, lens.position_m, lens.right, lens.up)
    return (None, None) if image is None else (MM * image[0], MM * image[1])

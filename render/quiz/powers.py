"""Powers of a drawn set-up: the ratio that is wanted, the face read as the camera is set."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout, MeterPoint
from render.layout.geometry import unit
from render.layout.people import anchors_of, eyes_of
from render.layout.points import backdrop_anchors
from render.plan.who.taken import Taken, constant_of, face_held
from render.predict import Obstacles, direct_exposure
from render.quiz.drafts import CROWN, Draft
from render.quiz.scenes import DrawAgainError, Stood, dial, dial_range
from render.report.held import METER_LIFT_M, measure
from render.series.run import Rows, Run, measured
from render.trace import Readers

Floats = NDArray[np.float64]

CORNERS = ("backdrop_top_left", "backdrop_top_right")
PLACES = (CROWN, "backdrop_centre", *CORNERS)  # held besides those of the scene's wishes
NONE = np.zeros((0, 3))
LEAST_FILL = 0.2  # of what the room gives the shadow cheek, a quarter of a stop; a choice
Dials = dict[str, str]  # marking by the light's name


def read(made: Stood, engine: Readers | None) -> Run:
    """Hold the meter at the places that questions are about; raises SceneError, EngineError."""
    return measured(made.setup, _with_places(made), engine, made.still)


def read_face(made: Stood) -> Run:
    """Hold the meter at the face alone, without bounce: enough for powers without a ratio."""
    setup, layout = made.setup, _with_places(made)
    obstacles = Obstacles.of(layout, made.still)
    face = face_held(setup, layout)
    taken = Taken(setup, layout, (face,), measure(layout, [face], None, 1, obstacles))
    return Run(taken, Rows(points=tuple(range(len(layout.points)))))


def _with_places(made: Stood) -> Layout:
    """The set-up with a meter point at each of PLACES, and of its own those that are wished for."""
    setup, layout = made.setup, made.layout
    assert layout.body is not None
    anchors = anchors_of(layout.body)
    sheet = next((each for each in layout.sheets if each.kind == "backdrop"), None)
    if sheet is not None:
        anchors |= backdrop_anchors(sheet, eyes_of(setup.scene.sitter), layout.view)
    kept = {wish.point for wish in setup.scene.wanted.values()} | set(PLACES)
    kept.add(layout.points[face_held(setup, layout).point].name)
    points = [point for point in layout.points if point.name in kept]
    here = {point.name for point in points}
    for name in PLACES:
        if name in anchors and name not in here:
            each = anchors[name]
            points.append(MeterPoint(name, each.position_m, each.normal, each.on, NONE, NONE))
    return replace(layout, points=tuple(points))


def row_at(run: Run, name: str) -> int | None:
    """The row of all lights at one of the places; None where there is none such."""
    points = run.taken.layout.points
    return next((k for k in run.rows.points if points[k].name == name), None)


def dials(run: Run, draft: Draft, by_room: float = 0.0) -> Dials:
    """Dial markings of the lights that a draft turns; raises DrawAgainError for what dials cannot.

    by_room : share of the face reading that the run leaves out
    """
    setup, fronts = run.taken.setup, run.taken.layout.fronts
    shares = gains(run, draft) * (1.0 - by_room)
    shares[run.key] *= 2.0**draft.over_stops
    turned = {fronts[run.key].name, draft.fill, *(goal.light for goal in draft.goals)}
    return {
        front.name: dial(setup, front.name, setup.scene.light[front.name].power * float(gain))
        for front, gain in zip(fronts, shares, strict=True)
        if front.name in turned
    }


def gains(run: Run, draft: Draft) -> Floats:
    """Factors (lights,) on the lights' powers: light adds, so they follow from one reading.

    Lights with a goal are set by it as far as their dials go, fill to key by the ratio, then both
    so that the face reads as the camera is set.
    """
    taken = run.taken
    at = {front.name: k for k, front in enumerate(taken.layout.fronts)}
    needed, found = _needed(run), np.ones(len(at))
    for goal in draft.goals:
        alone = _alone(run, goal.point, at[goal.light])
        if alone <= 0:
            raise DrawAgainError(f"the {goal.light} light does not reach the {goal.point}")
        flat = needed * taken.setup.scene.meter.c_flat / _face_constant(run)
        found[at[goal.light]] = _on_dial(run, at[goal.light], flat * 2.0**goal.stops / alone)
    face, key = taken.light(-1), run.key
    fill, share = None if draft.fill is None else at[draft.fill], draft.lead or 0.0
    if fill is not None and draft.key_to_fill is not None:
        share = _fill_share(run, fill, draft.key_to_fill)
    free = {key} if fill is None else {key, fill}
    rest = sum(float(face[k] * found[k]) for k in range(len(at)) if k not in free)
    with_key = float(face[key]) + (0.0 if fill is None else share * float(face[fill]))
    if with_key <= 0 or needed <= rest:
        raise DrawAgainError("the key does not make the face reading")
    found[key] = (needed - rest) / with_key
    if fill is not None:
        found[fill] = _on_dial(run, fill, share * found[key])
        found[key] = (needed - rest - found[fill] * float(face[fill])) / float(face[key])
    return found


def _on_dial(run: Run, light: int, gain: float) -> float:
    """A factor on a light's power, as near as its dial comes."""
    setup, name = run.taken.setup, run.taken.layout.fronts[light].name
    power = setup.scene.light[name].power
    least, most = dial_range(setup, name)
    return min(max(gain, least / power), most / power)


def _alone(run: Run, name: str, light: int) -> float:
    """Straight light of one lamp at a place, the receptor flat and aimed at it [lx·s]."""
    row, layout = row_at(run, name), run.taken.layout
    if row is None:
        return 0.0
    place = layout.points[row]
    at = (place.position_m + METER_LIFT_M * place.normal)[None]
    way = unit(layout.fronts[light].centre_m - at)
    read = direct_exposure(layout, at, way, "flat", obstacles=run.taken.measured.obstacles)
    return float(read.luminous_exposure_lx_s[0, light])


def _fill_share(run: Run, fill: int, wanted: float) -> float:
    """Factor on the fill light for each factor on the key that makes a ratio K:F."""
    read, rows = run.taken.measured, run.rows
    if rows.key_on_cheek is None or rows.camera_on_shadow is None:
        raise DrawAgainError("the sitter has no cheeks to hold a meter at")
    at = read.direct[rows.camera_on_shadow] + read.bounce[rows.camera_on_shadow]
    others = [k for k in rows.fills if k != fill]
    by_room = float(read.bounce[rows.camera_on_shadow, run.key] + at[others].sum())
    if at[fill] <= 0:
        raise DrawAgainError("the fill light does not reach the shadow cheek")
    # Where the room alone fills more than wanted, the fill adds a little to it.
    lacking = float(read.direct[rows.key_on_cheek, run.key]) / wanted - by_room
    return max(lacking, LEAST_FILL * by_room) / float(at[fill])


def _needed(run: Run) -> float:
    """Light of the face reading at which the camera is set right [lx·s]."""
    setup = run.taken.setup
    camera = setup.scene.camera
    assert camera is not None
    return camera.f_number**2 * _face_constant(run) / camera.iso_speed


def _face_constant(run: Run) -> float:
    return constant_of(run.taken.setup, run.taken.held[-1])


def relit(run: Run, made: Stood) -> Run:
    """A run at other powers of the same lights in the same places; nothing is read again."""
    taken, fronts = run.taken, made.layout.fronts
    before = np.array([front.luminous_energy_lm_s for front in taken.layout.fronts])
    after = np.array([front.luminous_energy_lm_s for front in fronts])
    gain = np.divide(after, before, out=np.ones_like(after), where=before > 0)
    old = taken.measured
    new = replace(
        old,
        direct=old.direct * gain,
        clear=old.clear * gain,
        bounce=old.bounce * gain,
        error=old.error * gain,
        by_surface=old.by_surface * gain[:, None],
        by_surface_error=old.by_surface_error * gain[:, None],
    )
    layout = replace(taken.layout, fronts=fronts)
    return replace(run, taken=replace(taken, setup=made.setup, layout=layout, measured=new))


def room_share(run: Run) -> float:
    """Share of the face reading that room and panels give."""
    face, read = run.taken.light(-1), run.taken.measured
    return float(read.bounce[-1, face > 0].sum() / face.sum())


def face_off_stops(run: Run) -> float:
    """How far the face reads over what the camera is set for."""
    return float(np.log2(float(run.taken.light(-1).sum()) / _needed(run)))


def error_stops(run: Run, row: int, lights: list[int]) -> float:
    """Standard error of what some lights give at a row."""
    read = run.taken.measured
    total = float((read.direct + read.bounce)[row, lights].sum())
    error = float(np.sqrt((read.error[row, lights] ** 2).sum()))
    return error / total / float(np.log(2)) if total > 0 else 0.0

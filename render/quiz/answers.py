"""The answers of a question, computed as `meter`, `check` and `series` compute them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from render.layout.geometry import facing, unit
from render.layout.lens import project
from render.plan.checks.face import Nose, nose_axes
from render.plan.checks.face_shadow import face_shadow
from render.plan.checks.finding import Context
from render.plan.checks.pattern import FACES_CAMERA_DEG, pattern_name, shape_of
from render.plan.who.taken import tone_at
from render.plan.who.tones import BLACK_UP_TO, WHITE_FROM
from render.predict import Obstacles
from render.quiz.confirm import key_angles
from render.quiz.drafts import RATIOS
from render.quiz.powers import CORNERS, error_stops, row_at
from render.quiz.questions import (
    EXACT,
    REASON_STOPS,
    SURE_PATTERN,
    TOLERANCE_STOPS,
    Answer,
)
from render.quiz.scenes import DrawAgainError
from render.series.cells import Cell
from render.series.figures import Drawn, cell_row
from render.series.run import Run
from render.series.turned import as_set
from render.series.words import ratio_words

Floats = NDArray[np.float64]

SURE_DEG = 3.0  # a key set up by hand stands within so much; common practice, no source
STRAIGHT_DEG = 10.0  # a key so nearly before the nose has no broad or short side; the same
ASIDE_DEG = 20.0  # from here on a picture tells the side of its key; by eye
CLEAR_M = 0.01  # before the backdrop, where a ray to it must have come


def ratio_answers(run: Run) -> tuple[Answer, ...]:
    """K:F and (K+F):F, named."""
    row = cell_row(
        Cell(1, (), "", run.taken.setup), as_set(run), Drawn(None, None), exposure="kept"
    )
    found, whole, shadow = row.key_to_fill, row.lighting_ratio, run.rows.camera_on_shadow
    if found is None or whole is None or shadow is None:
        raise DrawAgainError("the shadow cheek gets no fill")
    if not RATIOS[0] <= found <= RATIOS[1]:
        raise DrawAgainError(f"K:F {found:.1f}:1 cannot be told from a picture")
    error = error_stops(run, shadow, [run.key, *run.rows.fills])
    room = 2.0 ** (TOLERANCE_STOPS + error)
    low, high = found / room, found * room
    return tuple(
        Answer(
            name=name,
            value=value,
            shown=ratio_words(value),
            low=low + more,
            high=high + more,
            accepted=f"{ratio_words(low + more)} to {ratio_words(high + more)}",
            standard_error_stops=error,
            reason=REASON_STOPS,
        )
        for name, value, more in (("K:F", found, 0.0), ("(K+F):F", whole, 1.0))
    )


def pattern_answers(context: Context) -> tuple[Answer, ...]:
    """The pattern's name, and broad or short; raises DrawAgainError near the border of another."""
    layout, sitter = context.layout, context.setup.scene.sitter
    assert layout.body is not None
    assert sitter is not None
    assert layout.view is not None
    nose, centre = nose_axes(sitter), layout.fronts[layout.key].centre_m
    tip = layout.body.landmarks["nose_tip"].position_m.astype(float)
    names = {_name(context, nose, place) for place in _around(tip, centre)}
    if len(names) > 1:
        raise DrawAgainError(f"its pattern lies between {' and '.join(sorted(names))}")
    name = names.pop()
    camera, _ = nose.angles_deg(layout.view.position_m - tip)
    beside, _ = key_angles(context)
    side = "broad" if camera * beside > 0 else "short"
    if abs(camera) < FACES_CAMERA_DEG or abs(beside) < STRAIGHT_DEG:
        side = "neither"
    return _exact("pattern", name, SURE_PATTERN), _exact("side", side, EXACT)


def _name(context: Context, nose: Nose, place: Floats) -> str:
    body = context.layout.body
    assert body is not None
    tip = body.landmarks["nose_tip"].position_m.astype(float)
    shape = shape_of(face_shadow(body, context.sitter, nose, place))
    return pattern_name(shape, nose.angles_deg(place - tip)[1])


def _around(tip: Floats, centre: Floats) -> list[Floats]:
    """The key, and where it would stand a little farther round, back, up and down (3,) [m]."""
    way = centre - tip
    far = float(np.linalg.norm(way))
    ahead = way / far
    right, up = facing(ahead)
    step = far * np.tan(np.radians(SURE_DEG))
    moved = [tip + far * unit(way + step * each) for each in (right, -right, up, -up)]
    return [centre, *moved]


def side_answers(context: Context) -> tuple[Answer, ...]:
    """Camera left or right, by where the key stands as the lens sees it."""
    layout = context.layout
    assert layout.view is not None
    assert layout.body is not None
    tip = layout.body.landmarks["nose_tip"].position_m.astype(float)
    way = layout.fronts[layout.key].centre_m - tip
    across = float(np.degrees(np.arctan2(way @ layout.view.right, way @ layout.view.back)))
    if abs(across) < ASIDE_DEG:
        raise DrawAgainError("its key is too near the camera to tell its side")
    return (_exact("side", "right" if across > 0 else "left", EXACT),)


def lights_answers(context: Context) -> tuple[Answer, ...]:
    """How many lights fire."""
    count = sum(front.luminous_energy_lm_s > 0 for front in context.layout.fronts)
    return (Answer("lights", count, str(count), count, count, str(count), None, EXACT),)


def backdrop_answers(context: Context, run: Run) -> tuple[tuple[Answer, ...], tuple[float, float]]:
    """Stops of a place on the backdrop from the face reading, and where it is in the picture."""
    row, mark = _corner(context, run)
    tone = tone_at(run.taken, row)
    if not BLACK_UP_TO < tone.code < WHITE_FROM:
        raise DrawAgainError(f"its backdrop is {tone.word} there: stops cannot be told from it")
    every = list(range(len(run.taken.layout.fronts)))
    value = run.taken.above(float(run.taken.light(row).sum()), row)
    assert value is not None
    face = list(run.taken.held[-1].chosen(run.taken.layout))
    last = len(run.taken.held) - 1
    error = float(np.hypot(error_stops(run, row, every), error_stops(run, last, face)))
    low, high = value - TOLERANCE_STOPS - error, value + TOLERANCE_STOPS + error
    return (
        Answer(
            name="stops from the face",
            value=value,
            shown=f"{value:+.1f}",
            low=low,
            high=high,
            accepted=f"{low:+.1f} to {high:+.1f}",
            standard_error_stops=error,
            reason=REASON_STOPS,
        ),
    ), mark


def _corner(context: Context, run: Run) -> tuple[int, tuple[float, float]]:
    """The row of an upper corner that the lens sees, and its place in the picture."""
    lens = context.layout.view
    assert lens is not None
    for name in CORNERS:
        row = row_at(run, name)
        if row is None:
            continue
        place = run.taken.layout.points[row].position_m
        near = place + CLEAR_M * unit(lens.position_m - place)
        if Obstacles.of(context.layout).clear_sight(lens.position_m, near[None])[0]:
            across, down = (float(each) for each in project(lens, place))
            return row, (across, down)
    raise DrawAgainError("no upper corner of the picture shows the backdrop")


def _exact(name: str, found: str, reason: str) -> Answer:
    return Answer(name, found, found, None, None, found, None, reason)

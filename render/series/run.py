"""One measuring run of a cell: the meter at every place that the table of a series tells of."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from render.layout import Layout, MeterPoint
from render.layout.lamps import role
from render.layout.people import Anchor, anchors_of, eyes_of
from render.layout.points import backdrop_anchors, cheek_anchors
from render.plan.who.taken import Taken, face_held
from render.predict import Obstacles, Still
from render.report.face import far_ear
from render.report.held import ALL, Held, Measured, hold, measure
from render.report.readings import BOUNCE_SAMPLES, wished_readings
from render.scenefile import Setup
from render.studio.scene import Aim
from render.trace import Readers

SAMPLES = 2048  # paths per receptor: the bounce of a pale room to about 0.01 stop; face: more
NOT_FILL = ("key", "hair", "rim", "background")  # roles that give no light to the shadow side
NONE = np.zeros((0, 3))
KEY_CHEEK, SHADOW_CHEEK, EAR, BACKDROP = "key_cheek", "shadow_cheek", "far_ear", "backdrop_centre"


@dataclass(frozen=True, slots=True)
class Rows:
    """Which row of a run is what; None where there is no such place."""

    points: tuple[int, ...]  # every meter point, all lights together
    wishes: tuple[tuple[str, int], ...] = ()  # wanted readings of one light alone, by name
    key_on_cheek: int | None = None  # flat, aimed at the key
    key_on_ear: int | None = None  # far ear, flat, aimed at the key
    camera_on_shadow: int | None = None  # shadow cheek, flat, aimed at the camera
    key_cheek: int | None = None  # flat along the skin, all lights, as the next
    shadow_cheek: int | None = None
    backdrop: int | None = None
    fills: tuple[int, ...] = ()  # lights that fill the shadow side


@dataclass(frozen=True, slots=True)
class Run:
    """What was read at every place of a cell."""

    taken: Taken
    rows: Rows

    @property
    def key(self) -> int:
        """The key among the lights."""
        return self.taken.layout.key


def measured(
    setup: Setup, layout: Layout, engine: Readers | None, still: Still | None = None
) -> Run:
    """Hold the meter at every place of a set that stands already, and read it once.

    engine : traces what the room gives back; None leaves that out
    still  : of a set that differs in its lights alone
    Raises SceneError for an impossible wish, EngineError.
    """
    places = _places(setup, layout)
    wider = replace(layout, points=(*layout.points, *places.values()))
    row = {name: len(layout.points) + k for k, name in enumerate(places)}
    key = layout.fronts[layout.key].name
    held: list[Held] = [hold(layout, i, ALL, None, None) for i in range(len(layout.points))]

    def add(*new: Held) -> int:
        held.extend(new)
        return len(held) - 1

    def add_at(name: str, lights: str, aim: Aim) -> int | None:
        if name not in row:
            return None
        seen: Aim = "normal" if aim == "camera" and layout.view is None else aim
        return add(hold(wider, row[name], lights, "flat", seen))

    wishes = zip(setup.scene.wanted, wished_readings(setup, layout), strict=True)
    rows = Rows(
        points=tuple(range(len(layout.points))),
        wishes=tuple((name, add(wish)) for name, wish in wishes if wish.lights != ALL),
        key_on_cheek=add_at(KEY_CHEEK, key, "light"),
        key_on_ear=add_at(EAR, key, "light"),
        camera_on_shadow=add_at(SHADOW_CHEEK, ALL, "camera"),
        key_cheek=add_at(KEY_CHEEK, ALL, "normal"),
        shadow_cheek=add_at(SHADOW_CHEEK, ALL, "normal"),
        backdrop=add_at(BACKDROP, ALL, "normal"),
        fills=_fills(setup, layout),
    )
    face = face_held(setup, layout)
    obstacles = Obstacles.of(wider, still)
    read = [
        measure(wider, held, engine, SAMPLES, obstacles),
        measure(wider, [face], engine, BOUNCE_SAMPLES, obstacles),
    ]
    return Run(Taken(setup, wider, (*held, face), _joined(*read)), rows)


def _joined(one: Measured, other: Measured) -> Measured:
    """The receptors of two runs in the same set."""
    both = (one, other)
    return replace(
        one,
        direct=np.concatenate([read.direct for read in both]),
        clear=np.concatenate([read.clear for read in both]),
        bounce=np.concatenate([read.bounce for read in both]),
        error=np.concatenate([read.error for read in both]),
        by_surface=np.concatenate([read.by_surface for read in both]),
        by_surface_error=np.concatenate([read.by_surface_error for read in both]),
    )


def _fills(setup: Setup, layout: Layout) -> tuple[int, ...]:
    return tuple(
        k
        for k, (name, light) in enumerate(setup.scene.light.items())
        if k != layout.key and role(name, light) not in NOT_FILL
    )


def _places(setup: Setup, layout: Layout) -> dict[str, MeterPoint]:
    """Places of face and backdrop beside the scene's own meter points."""
    anchors: dict[str, Anchor] = {}
    found: dict[str, MeterPoint] = {}
    body, front = layout.body, layout.fronts[layout.key]
    if body is not None:
        marks = anchors_of(body)
        anchors |= cheek_anchors(marks, front)
        ear = far_ear(body, front.centre_m)
        found |= {} if ear is None else {EAR: ear}
    sheet = next((each for each in layout.sheets if each.kind == "backdrop"), None)
    if sheet is not None:
        anchors |= backdrop_anchors(sheet, eyes_of(setup.scene.sitter), layout.view)
    for name, each in anchors.items():
        found[name] = MeterPoint(name, each.position_m, each.normal, each.on, NONE, NONE)
    return found

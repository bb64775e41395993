"""A set-up as it stands, with the light of every lamp at full power at every meter point.

Powers, lamps on or off and ISO only weigh these numbers, so the browser can follow them by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout, place
from render.layout.lamps import key_index
from render.page.making import Seated, seated, turned
from render.page.metering import Metered, bounced_light, direct_light
from render.page.outlook import outlines
from render.plan.balance.responses import as_before, seated_as
from render.predict import Obstacles, Still
from render.report.held import ALL, Held, hold
from render.report.readings import wanted_f_numbers, wished_readings
from render.scenefile import Setup
from render.studio.scene import Scene
from render.trace import Engine

Floats = NDArray[np.float64]

BOUNCE_SAMPLES = 4096  # as `balance` takes first: most readings are sure to 0.005 stop


@dataclass(frozen=True, slots=True)
class Standing:
    """A set-up placed and metered; `firing` is the same with every light on."""

    setup: Setup
    firing: Setup
    layout: Layout  # of `firing`, its points without patches
    obstacles: Obstacles
    held: tuple[Held, ...]  # of each point: every light alone, then all; after them the wishes
    wanted: tuple[float, ...]  # f-numbers of the wishes
    direct: Floats  # (held, lights) each at full power [lx·s]
    bounce: Floats | None  # (held, lights); None before it was ever traced
    traced: bool  # whether the bounce is that of this very geometry
    sitter: dict[str, Any] | None  # outlines for the page
    who: Seated  # sits there
    seated: Still  # the same, ready for rays, without panels and papers

    @property
    def full(self) -> Floats:
        """(held, lights) all light of each at full power [lx·s]."""
        return self.direct if self.bounce is None else self.direct + self.bounce

    @property
    def metered(self) -> Metered:
        """Its direct light, for a set that differs little."""
        powers = _powers(self.firing)
        return Metered(self.layout, self.held, self.obstacles, self.direct, powers)

    @property
    def rows(self) -> int:
        """Held receptors of a point."""
        return len(self.layout.fronts) + 1


def stand(
    setup: Setup,
    before: Standing | None = None,
    *,
    wait: bool = True,
    trial: bool = False,
    placed: Callable[[Layout], None] = lambda _: None,
) -> Standing:
    """Place a set-up and meter its direct light; what has not changed is taken from before.

    The bounce is kept from before, as an estimate, until `with_bounce` traces it anew.

    wait   : for a sitter who was never made; otherwise the one from before sits there meanwhile
    trial  : the sitter's eyes need not follow the camera
    placed : told the layout before it is metered, where its light can differ
    Raises SceneError, KitError, MeshError, and UnmadeError where nobody can sit there meanwhile.
    """
    firing = all_firing(setup)
    who = _who(setup, before, wait, trial)
    layout = place(firing, who.body, spots=False)
    who = replace(who, body=layout.body)
    held = tuple(_held(layout) + wished_readings(firing, layout))
    wanted = tuple(wanted_f_numbers(setup))
    alike = before is not None and layout.body is before.layout.body
    if before is not None and alike and _same_light(firing.scene, before.firing.scene):
        return replace(before, setup=setup, firing=firing, layout=layout, wanted=wanted, who=who)
    placed(layout)
    same = before is not None and as_before(layout, before.layout)
    seated = before.seated if before and alike else _ready(layout, who, before)
    still = before.obstacles.still if before and same else Still.apart(layout, seated)
    obstacles = Obstacles.of(layout, still)
    known = before.metered if before is not None and same else None
    direct = direct_light(layout, held, obstacles, _powers(firing), known)
    kept = _kept(layout, held, before)
    drawn = before.sitter if before and before.layout.body is layout.body else None
    return Standing(
        setup=setup,
        firing=firing,
        layout=layout,
        obstacles=obstacles,
        held=held,
        wanted=wanted,
        direct=direct,
        bounce=kept,
        traced=False,
        sitter=drawn or outlines(firing, layout),
        who=who,
        seated=seated,
    )


def _ready(layout: Layout, who: Seated, before: Standing | None) -> Still:
    """The sitter ready for rays: anew, or as before and turned."""
    if before is not None and who.moved is not None and layout.body is not None:
        return before.seated.turned(layout.body, *who.moved)
    return Still.of(replace(layout, sheets=()))


def _who(setup: Setup, before: Standing | None, wait: bool, trial: bool) -> Seated:
    """Who sits there, the body of before where it is theirs."""
    sitter = setup.scene.sitter
    if before is not None and sitter is not None:
        then = before.who
        if trial and (theirs := turned(then, sitter)) is not None:
            return theirs
        scene = before.setup.scene.model_copy(update={"sitter": then.whose})
        body = seated_as(setup, replace(before.setup, scene=scene), before.layout)
        if body is not None:
            return Seated(body, sitter)
    if wait:
        return Seated(None, sitter)
    return seated(setup, before.who if before else None, before.layout.view if before else None)


def with_bounce(
    standing: Standing, engine: Engine, given_up: Callable[[], bool] = lambda: False
) -> Standing | None:
    """The same with its bounce traced; None where that was given up. Raises EngineError."""
    powers = _powers(standing.firing)
    layout, held = standing.layout, standing.held
    found = bounced_light(layout, held, powers, engine, BOUNCE_SAMPLES, given_up)
    return None if found is None else replace(standing, bounce=found, traced=True)


def all_firing(setup: Setup) -> Setup:
    """The set-up with every light on; the light that ratios refer to stays the same."""
    lights = setup.scene.light
    key = key_index(lights)
    changed = {
        name: light.model_copy(update={"on": True, "role": "key" if i == key else "fill"})
        for i, (name, light) in enumerate(lights.items())
    }
    return replace(setup, scene=setup.scene.model_copy(update={"light": changed}))


def _held(layout: Layout) -> list[Held]:
    """Every light alone, then all together, point by point, as the meter table holds them."""
    lights = [front.name for front in layout.fronts]
    return [
        hold(layout, point, light, None, None)
        for point in range(len(layout.points))
        for light in [*lights, ALL]
    ]


def _powers(setup: Setup) -> Floats:
    return np.array([light.power for light in setup.scene.light.values()])


def _same_light(now: Scene, before: Scene) -> bool:
    """Whether receptors and the light on them at full power are the same in two scenes.

    What the drift of a lamp's colour with its power does to the bounce is let go.
    """
    return _neutral(now) == _neutral(before)


def _neutral(scene: Scene) -> Scene:
    """A scene without what only weighs its light, or the picture."""
    lights = {name: each.model_copy(update={"power": 1.0}) for name, each in scene.light.items()}
    camera = scene.camera
    if camera is not None:
        camera = camera.model_copy(update={"iso_speed": 100, "f_number": 8, "shutter_s": 1 / 125})
    wishes = {
        name: each.model_copy(
            update={"f_number": None, "stops": None, "range_stops": None, "weight": None}
        )
        for name, each in scene.wanted.items()
    }
    changed = {"title": "", "light": lights, "camera": camera, "wanted": wishes}
    return scene.model_copy(update=changed)


def _kept(layout: Layout, held: tuple[Held, ...], before: Standing | None) -> Floats | None:
    """The bounce of the geometry before, for the same receptors; None where these are others."""
    if before is None or before.bounce is None:
        return None
    names = [front.name for front in layout.fronts]
    alike = names == [front.name for front in before.layout.fronts]
    return before.bounce if alike and _asked(held) == _asked(before.held) else None


def _asked(held: tuple[Held, ...]) -> list[tuple[int, str, str]]:
    return [(each.point, each.lights, each.receptor) for each in held]

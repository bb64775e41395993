"""What a check found: a verdict, the number behind it, and one sentence that says both."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from embreex.rtcore_scene import EmbreeScene

from render.errors import EngineError
from render.layout import Layout, place
from render.picture import Look
from render.picture.take import exposure_of, take
from render.plan.checks.face import FaceLight, face_light
from render.predict import Obstacles
from render.predict.touch import body_meshes, ray_scene
from render.scenefile import Setup
from render.trace import Engine, Quality

LOOK_QUALITY: Quality = "draft"
LOOK_PX = 300  # longer side of the look that is checked: 2 mm of a head and shoulders
Verdict = Literal["wrong", "look", "fine"]
VERDICTS: tuple[Verdict, ...] = ("wrong", "look", "fine")  # in the order in which they are shown


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check found; its fields are the keys of the JSON output."""

    check: str  # a word, such as "frame"
    about: str  # what it is about, such as "light.key", "panel.fill", "backdrop", "camera"
    verdict: Verdict  # fine; look: judge for yourself; wrong: change it before the sitter comes
    value: float  # the number behind the verdict
    unit: str  # of the number, such as "cm", "deg", "stops", "%", "count"
    limit: float | None  # the number that the verdict compares it with; None where there is none
    words: str  # one plain sentence with the number and, where there is one, the cure


@dataclass(frozen=True)
class Context:
    """The set that is checked; what several checks need is worked out once, when first asked."""

    setup: Setup
    engine: str | None = None  # that traces the small look; None leaves it out

    @cached_property
    def layout(self) -> Layout:
        """The set as it stands."""
        return place(self.setup)

    @cached_property
    def obstacles(self) -> Obstacles:
        """What stands between lights and places."""
        return Obstacles.of(self.layout)

    @cached_property
    def sitter(self) -> EmbreeScene | None:
        """The sitter ready for rays, without hair and clear lenses."""
        return ray_scene(body_meshes(self.layout.body))

    @cached_property
    def look(self) -> Look | str:
        """A small draft of the look, or why there is none; its frames are kept in the store."""
        if self.engine is None:
            return "left out by --quick"
        if not any(front.luminous_energy_lm_s > 0 for front in self.layout.fronts):
            return "no light fires"
        try:
            with Engine(self.engine) as running:
                return take(
                    self.layout,
                    exposure_of(self.setup),
                    quality=LOOK_QUALITY,
                    long_side_px=LOOK_PX,
                    engine=running,
                )
        except EngineError as problem:
            return f"the light cannot be traced: {problem}"

    @cached_property
    def face(self) -> FaceLight:
        """What each light does on the face."""
        return face_light(self.layout, self.obstacles)


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what it looks for, what it cannot do without, and the function that does it."""

    looks_for: str  # in plain words: "lamp in the frame"
    run: Callable[[Context], list[Finding]]
    lacks: Callable[[Context], str] = lambda _: ""  # why it cannot be done here; empty if it can
    how: Callable[[], str] = lambda: ""  # in which way it is done here, where there are several


@dataclass(frozen=True, slots=True)
class Checks:
    """Everything that was found, what was looked for, and what was not."""

    scene: str
    findings: tuple[Finding, ...]
    checked_for: tuple[str, ...]
    not_checked_for: tuple[str, ...]  # with the reason in brackets
    cautions: tuple[str, ...] = ()  # for this set, one sentence each


def run_checks(context: Context, checks: tuple[Check, ...], never: tuple[str, ...]) -> Checks:
    """Do every check that the scene allows; findings by verdict, the worst first.

    never : what none of the checks looks for
    Raises SceneError, KitError and MeshError for a scene that cannot be placed.
    """
    found: list[Finding] = []
    done: list[str] = []
    left: list[str] = []
    for check in checks:
        reason = check.lacks(context)
        if reason:
            left.append(f"{check.looks_for} ({reason})")
            continue
        done.append(f"{check.looks_for}{check.how()}")
        found += check.run(context)
    return Checks(context.setup.scene.title, by_verdict(found), tuple(done), (*left, *never))


def by_verdict(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The worst first, those alike in their order."""
    return tuple(sorted(findings, key=lambda finding: VERDICTS.index(finding.verdict)))


def no_camera(context: Context) -> str:
    """Why a check of the picture cannot be done."""
    return "the scene has no camera" if context.layout.view is None else ""


def no_sitter(context: Context) -> str:
    """Why a check of the sitter cannot be done."""
    return "the scene has no sitter" if context.layout.body is None else ""


def no_portrait(context: Context) -> str:
    """Why a check of the sitter as the camera sees him cannot be done."""
    return no_camera(context) or no_sitter(context)

"""ISO speed and f-number that let the dials meet the wishes: the change that is least trouble."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.plan.balance.responses import Responses, targets
from render.plan.balance.solve import REACHED_STOPS, Problem, cost, missed, solve
from render.plan.balance.thirds import (
    F_NUMBERS,
    ISO_SPEEDS,
    moved_mark,
    thirds_between,
    thirds_from,
)
from render.plan.balance.unknowns import Unknown
from render.plan.changes.settings import Setting
from render.report.readings import meter_speed

Floats = NDArray[np.float64]

APERTURE = 2  # another f-number moves the depth of field too: twice the trouble of another speed
AS_GOOD = 1e-3  # a cost that is higher by this is no worse: 0.003 stop of an f-number


@dataclass(frozen=True, slots=True)
class Exposure:
    """What camera and meter are set to."""

    iso_speed: float
    faster: int  # than now [third stops]
    closed: int  # f-number, from now [third stops]

    @property
    def trouble(self) -> int:
        """How much of a change it is."""
        return abs(self.faster) + APERTURE * abs(self.closed)


def camera_settings(
    start: Responses, problem: Problem, free: tuple[Unknown, ...]
) -> tuple[Setting, ...]:
    """The least change of ISO speed and f-number, of those that are free, that serves best.

    start   : the present set-up
    problem : its lights as they would stand
    """
    if not free:
        return ()
    found: list[tuple[float, Exposure]] = []
    for exposure in _once(sorted(_exposures(start, free), key=lambda each: each.trouble)):
        tried = replace(problem, target=_targets(start, exposure))
        below = solve(tried)
        found.append((cost(tried, below), exposure))
        if bool(np.all(np.abs(missed(tried, below)) < REACHED_STOPS)):
            break
    least = min(price for price, _ in found)
    good = [exposure for price, exposure in found if price <= least + AS_GOOD]
    return _settings(start, good[0], {each.part for each in free})


def _exposures(start: Responses, free: tuple[Unknown, ...]) -> Iterator[Exposure]:
    """All that the ranges hold; the present one too, where they do."""
    ends = {each.part: each for each in free}
    now = meter_speed(start.setup)
    speed, aperture = ends.get("iso_speed"), ends.get("f_number")
    speeds = {now} if speed is None or speed.low <= now <= speed.high else set()
    if speed is not None:
        speeds |= set(thirds_between(ISO_SPEEDS, speed.low, speed.high))
    closed = {0} if aperture is None or aperture.low <= aperture.now <= aperture.high else set()
    if aperture is not None:
        marks = thirds_between(F_NUMBERS, aperture.low, aperture.high)
        closed |= {thirds_from(aperture.now, mark, 2) for mark in marks}
    for iso_speed in sorted(speeds):
        for thirds in sorted(closed):
            yield Exposure(iso_speed, thirds_from(now, iso_speed, 1), thirds)


def _once(exposures: list[Exposure]) -> Iterator[Exposure]:
    """The first of those that ask for the same light."""
    seen: set[int] = set()
    for each in exposures:
        if each.faster - each.closed not in seen:
            seen.add(each.faster - each.closed)
            yield each


def _numbers(start: Responses, closed: int) -> dict[str, float]:
    """The wished f-numbers so many thirds on."""
    return {
        name: moved_mark(wish.f_number, closed)
        for name, wish in start.setup.scene.wanted.items()
        if wish.f_number is not None
    }


def _targets(start: Responses, exposure: Exposure) -> Floats:
    moved = _numbers(start, exposure.closed)
    wishes = start.setup.scene.wanted
    first = next(name for name in wishes if name in moved)
    factor = moved[first] / (wishes[first].f_number or 1.0)
    wanted = [
        moved.get(name, number * factor) for name, number in zip(wishes, start.wanted, strict=True)
    ]
    return targets(start.setup, start.held, wanted, exposure.iso_speed)


def _settings(start: Responses, exposure: Exposure, free: set[str]) -> tuple[Setting, ...]:
    scene, found = start.setup.scene, []
    camera = scene.camera
    if "iso_speed" in free:
        found.append(Setting("camera.iso_speed", exposure.iso_speed))
        if scene.meter.iso_speed is not None:
            found.append(Setting("meter.iso_speed", exposure.iso_speed))
    if "f_number" in free and camera is not None:
        found.append(Setting("camera.f_number", moved_mark(camera.f_number, exposure.closed)))
        numbers = _numbers(start, exposure.closed)
        found += [Setting(f"wanted.{name}.f_number", each) for name, each in numbers.items()]
    return tuple(found)

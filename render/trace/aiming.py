"""Directions towards panels that are lit: drawn the likelier the more light they may give."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import drjit as dr
import mitsuba as mi

from render.trace import picking
from render.trace.grids import NEAREST_M
from render.trace.panels import Panel, Panels

# Shares below are those with the least noise x time of the few tried (chin panel, white V-flats).
MOST = 0.85  # of directions go to panels, all others as the surface throws its light
ROOM = 0.3  # of a closed room's light: what is left of it beside panels and paper
# Of silver's directions: drawn all over it, and among those that mirror a light how much wider
# than the mirrored light is.
EVEN, WIDER = 0.1, 1.1
EVEN_TOO = 0.1  # of what a matte panel would give: silver's light that is thrown further
LAMP = 0.4  # deviation of points of a front, of half its diagonal
CLOSE = 0.1  # of a panel's reach: nearer to its plane it is found by itself, or hardly seen
SURE = 1 - 1e-6  # of a distribution; beyond, float32 has no deviations


@dataclass(frozen=True, slots=True, eq=False)
class Even:
    """Evenly on a panel."""

    panel: Panel
    chance: Any

    def draw(self, u: Any) -> tuple[Any, Any]:
        """A point x, y [m] in the panel's axes."""
        return (2 * u.x - 1) * self.panel.half_width, (2 * u.y - 1) * self.panel.half_height

    def density(self, x: Any, y: Any) -> Any:
        """Of drawn points [1/m²]."""
        return dr.rcp(self.panel.area_m2)


@dataclass(frozen=True, slots=True, eq=False)
class Glint:
    """Around the place where silver mirrors a light: normal along both axes, cut at the edges."""

    panel: Panel
    chance: Any
    sharp: Any  # one over the deviation and the root of 2 [1/m]
    x: tuple[Any, Any, Any]  # its middle [m]; the error function at the panel's edges
    y: tuple[Any, Any, Any]

    def draw(self, u: Any) -> tuple[Any, Any]:
        """A point x, y [m] in the panel's axes."""
        return self._along(u.x, self.x, self.panel.half_width), self._along(
            u.y, self.y, self.panel.half_height
        )

    def _along(self, u: Any, axis: tuple[Any, Any, Any], half: Any) -> Any:
        middle, low, high = axis
        share = dr.clip(dr.lerp(low, high, u), -SURE, SURE)
        return dr.clip(middle + dr.erfinv(share) / self.sharp, -half, half)

    def density(self, x: Any, y: Any) -> Any:
        """Of drawn points [1/m²]."""
        found = 4 * dr.inv_pi * dr.square(self.sharp)
        for place, (middle, low, high) in ((x, self.x), (y, self.y)):
            found *= dr.exp(-dr.square((place - middle) * self.sharp)) / (high - low)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Aim:
    """How directions are drawn from a place: some towards panels, the rest as it responds."""

    place: Any
    ways: list[list[Even | Glint]]  # panel by panel
    scale: Any  # of the ways' chances
    share: Any  # of directions drawn towards panels

    def density(self, own: Any, direction: Any) -> Any:
        """Of all directions per solid angle, `own` being that of the place's response."""
        found = (1 - self.share) * own
        for ways in self.ways:
            panel = ways[0].panel
            start = panel.local(mi.Vector3f(self.place) - panel.centre)
            along = panel.local(direction)
            way = -start.z / along.z
            x, y = dr.fma(along.x, way, start.x), dr.fma(along.y, way, start.y)
            met = (way > 0) & (dr.abs(x) <= panel.half_width) & (dr.abs(y) <= panel.half_height)
            there = sum(each.chance * each.density(x, y) for each in ways)
            found += dr.select(met, self.scale * there * way * way / dr.abs(along.z), 0)
        return found

    def draw(self, u: Any, point: Any) -> Any:
        """A direction towards a panel, for a random number below `share`."""
        target, below = mi.Vector3f(0), mi.Float(0)
        for each in (way for ways in self.ways for way in ways):
            above = below + self.scale * each.chance
            target = dr.select((u >= below) & (u < above), each.panel.at(*each.draw(point)), target)
            below = above
        return dr.normalize(target - mi.Vector3f(self.place))

    def rest(self, u: Any) -> Any:
        """The random number of those that are not drawn towards panels, evenly from 0 to 1."""
        return (u - self.share) / (1 - self.share)

    def onward(
        self, drawn: tuple[Any, Any], it: Any, sampled: tuple[Any, Any], response: Any, active: Any
    ) -> tuple[Any, Any]:
        """Sample of a surface and its weight with some directions turned towards panels.

        drawn    : random number and point; `sampled` was drawn by `rest` of the number
        response : (direction, active) to value and density of all directions
        """
        (u, point), (bs, weight) = drawn, sampled
        turned = active & (u < self.share)
        bs.wo = dr.select(turned, it.to_local(self.draw(u, point)), bs.wo)
        bs.eta = dr.select(turned, 1, bs.eta)
        guided = active & (self.share > 0) & (turned | (bs.pdf > 0))
        value, pdf = response(bs.wo, guided)
        bs.pdf = dr.select(guided, pdf, bs.pdf)
        return bs, dr.select(guided, dr.select(pdf > 0, value / pdf, 0), weight)


def aim(panels: Panels, lights: list[Any], place: Any, normal: Any, wrap: Any, usable: Any) -> Aim:
    """How to look for panels from a place that gathers light around a normal.

    wrap : 0 for a surface, 1 for what gathers light from behind too
    """
    ways, total, usual = [], mi.Float(0), mi.Float(0)
    for panel in panels.panels:
        found = _ways(panel, lights, mi.Vector3f(place), normal, wrap)
        high = dr.square(dr.dot(mi.Vector3f(place) - panel.centre, panel.normal))
        seen = high / (high + dr.square(CLOSE * panel.reach))
        usual += sum(way.chance for way in found)
        ways.append([replace(way, chance=seen * way.chance) for way in found])
        total += sum(way.chance for way in ways[-1])
    shining = sum(dr.select(light.peak > 0, 1.0, 0.0) for light in lights)
    scale = MOST / (usual + ROOM * panels.room * shining)
    scale = dr.select(usable & (total > 0), scale, 0)
    return Aim(place, ways, scale, scale * total)


def aim_from(panels: Panels | None, lights: list[Any], si: Any, usable: Any) -> Aim | None:
    """How to look for panels from a surface; sharp mirrors find them by themselves."""
    if panels is None:
        return None
    flags = si.bsdf().flags()
    normal = mi.Vector3f(dr.select(si.wi.z < 0, -si.sh_frame.n, si.sh_frame.n))
    through = mi.has_flag(flags, mi.BSDFFlags.Transmission)
    usable = usable & ~mi.has_flag(flags, mi.BSDFFlags.Delta)
    return aim(panels, lights, si.p, normal, dr.select(through, 1.0, 0.0), usable)


def _ways(panel: Panel, lights: list[Any], place: Any, normal: Any, wrap: Any) -> list[Any]:
    """Ways to draw points on one panel, chances as the light that each may give."""
    here = panel.local(place - panel.centre)
    pale = dr.select(here.z > 0, *panel.pale)

    def gathered(target: Any, reach: Any) -> Any:
        towards = target - place
        cosine = (dr.dot(towards, normal) + reach) / (dr.norm(towards) + reach)
        return dr.maximum((cosine + wrap) / (1 + wrap), 0)

    side = dr.select(here.z > 0, panel.normal, -panel.normal)
    lit = sum(_light(light, panel.centre, side) for light in lights)
    square = dr.maximum(dr.squared_norm(here), NEAREST_M**2)
    size = panel.area_m2 * dr.abs(here.z) * dr.rsqrt(square)
    size /= square + panel.area_m2 * dr.inv_pi
    even = pale * dr.inv_pi * lit * size * gathered(panel.centre, panel.reach)
    if panel.rough is None:
        return [Even(panel, even)]
    rough = dr.select(here.z > 0, *panel.rough)
    glints, found = [_glint(panel, light, here, rough) for light in lights], []
    for middle, sharp, share in glints:
        target = panel.at(*middle)
        chance = pale * share * gathered(target, CLOSE * panel.reach)
        edges = [
            (m, dr.erf((-half - m) * sharp), dr.erf((half - m) * sharp))
            for m, half in zip(middle, (panel.half_width, panel.half_height), strict=True)
        ]
        mass = 0.25 * math.prod(high - low for _, low, high in edges)
        chance = dr.select(rough > 0, chance * mass, 0)
        found.append(Glint(panel, (1 - EVEN) * chance, sharp, *edges))
    mirrored = EVEN / (1 - EVEN) * sum(each.chance for each in found)
    return [Even(panel, dr.select(rough > 0, mirrored + EVEN_TOO * even, even)), *found]


def _light(light: Any, place: Any, normal: Any) -> Any:
    """A guess of a light's illuminance on a place."""
    at = dr.zeros(mi.Interaction3f)
    at.p, at.n = mi.Point3f(place), mi.Normal3f(normal)
    return picking.guess(light, at)


def _glint(panel: Panel, light: Any, here: Any, rough: Any) -> tuple[Any, Any, Any]:
    """Where silver mirrors a light to a place, how sharply, and what light comes from there.

    Mirrored light spreads by twice the tilts of silver's small mirrors; on the panel it is as wide
    as the tilt between the ways to place and light allows.
    """
    lamp = panel.local(light.centre - panel.centre)
    side = dr.select(here.z > 0, 1.0, -1.0)
    low, high = dr.abs(here.z), dr.maximum(side * lamp.z, 0)
    inverse = dr.rcp(dr.maximum(low + high, NEAREST_M))
    x, y = (high * here.x + low * lamp.x) * inverse, (high * here.y + low * lamp.y) * inverse
    near = dr.maximum(dr.norm(here - mi.Vector3f(x, y, 0)), NEAREST_M)
    away = dr.maximum(dr.norm(lamp - mi.Vector3f(x, y, 0)), NEAREST_M)
    middle = (
        dr.clip(x, -panel.half_width, panel.half_width),
        dr.clip(y, -panel.half_height, panel.half_height),
    )
    tilted = dr.square(dr.sqrt(2) * rough * low / near) + dr.square(LAMP * light.reach / away)
    wide = WIDER * dr.rcp(dr.rcp(near) + dr.rcp(away)) * dr.sqrt(tilted)
    sharp = dr.rcp(dr.sqrt(2) * dr.maximum(wide, NEAREST_M))
    beside = (dr.square(x - middle[0]) + dr.square(y - middle[1])) * dr.square(sharp)
    spot = panel.at(*middle)
    towards = mi.Vector3f(light.centre) - spot
    lit = _light(light, spot, dr.normalize(towards)) * dr.square(away / (near + away))
    return middle, sharp, dr.select(high > 0, lit * dr.exp(-beside), 0)

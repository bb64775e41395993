"""How the lights are held, as the drawn set takes it."""

from __future__ import annotations

from render.layout import Layout
from render.plan.checks.rig import HEAD_LENGTH_M, HEAD_WIDTH_M, rigs
from render.scenefile import Setup
from render.setview import Holder


def holders(setup: Setup, layout: Layout) -> list[Holder]:
    """What holds each light up, and the head behind its housing; in the order of the scene."""
    lights = setup.scene.light.values()
    return [
        Holder(
            light=rig.light,
            kind=rig.kind,
            mount_m=rig.mount_m,
            foot_m=rig.foot_m,
            tail_m=rig.tail_m,
            leg_radius_m=rig.leg_radius_m,
            head_m=_head(light.flash is not None and front.head_m is None),
            bag=rig.bag_kg > 0,
        )
        for rig, light, front in zip(rigs(setup, layout), lights, layout.fronts, strict=True)
    ]


def _head(behind: bool) -> tuple[float, float] | None:
    return (HEAD_WIDTH_M, HEAD_LENGTH_M) if behind else None

"""Cautions for this set-up only, short, deferring to makers, local rules and competent persons."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from render.plan.checks.finding import Context
from render.plan.checks.rig import Rig, rigs
from render.plan.checks.stands import overhead
from render.plan.checks.tipping import RAISED_M
from render.studio.element import Element

HOT_LM_PER_W = 40.0  # dimmer for its watts than this, a lamp is a halogen one; from memory
CLOTH = ("softbox", "strip", "octa", "round", "umbrella through", "umbrella bounce", "lantern")
# What the trade does about dust in the air and about children; common practice, no source.
PRESENT = {
    "powder": "Powder in the air can catch fire and harms eyes and lungs: modelling lamps off, no "
    "bare tube, hot lamp or flame near the cloud, little at a time, masks and eye cover, air the "
    "room, keep it out of the vents of the heads.",
    "children": "Children in the room: one grown-up who does nothing but watch them, bags on all "
    "stands, cables out of their way, nothing hot within reach.",
}
# Grains from so small a size on [mm] are dust among them: it floats, and gets into lungs and vents.
# Common practice, no source.
FINE_MM = 0.5
WATER = (
    "Water in the air: heads in bags that leave their vents free and 1.5 m away, sockets behind a "
    "residual-current breaker, dry hands, the wet floor taped off and wiped."
)
LAST = (
    "This is a plan only: makers' instructions, local electrical, fire and workplace rules and a "
    "competent person decide."
)


def cautions(context: Context) -> tuple[str, ...]:
    """One sentence for each thing to mind in this set, the general one last."""
    lights = context.setup.scene.light.values()
    said = [*_held(context), *_hot(context)]
    said += [
        PRESENT[each] for each in dict.fromkeys((*context.setup.scene.present, *_dust(context)))
    ]
    if any(each.kind == "drops" and each.clear != "glass" for each in _elements(context)):
        said.append(WATER)
    if any(light.flash is not None for light in lights):
        said.append(
            "Flash heads hold a high voltage even unplugged: never open one, switch off, unplug "
            "and wait before you change a tube, and keep liquids away."
        )
        said.append(
            "Cables go down the stand and under a leg, taped flat, with slack; keep the load of "
            "each circuit within its breaker."
        )
        if context.setup.scene.sitter is not None:
            said.append(
                "Ask the sitter before about epilepsy, migraine and eye trouble; single flashes a "
                "second or more apart, no bursts, and a stop at any word."
            )
    return (*said, LAST)


def _elements(context: Context) -> Iterable[Element]:
    return context.setup.scene.element.values()


def _dust(context: Context) -> tuple[str, ...]:
    """Powder, where an element has dust, or grains that are fine enough to float."""
    kinds = ("grains", "dust")
    fine = any(e.kind in kinds and e.size_mm[0] <= FINE_MM for e in _elements(context))
    return ("powder",) if fine else ()


def _held(context: Context) -> Iterator[str]:
    """Of stands and booms."""
    found = rigs(context.setup, context.layout)
    over = [rig for rig in found if overhead(context, rig)]
    if over:
        yield (
            f"{_names(over)} over the sitter: bag the stand before the load goes up, lock every "
            "grip, tie head and modifier to the boom, and lower it before you change anything; "
            "nobody under it while it moves."
        )
    booms = [rig for rig in found if rig.kind == "boom"]
    if booms:
        yield f"Tail of {_names(booms)}: bright tape on the counterweight, people walk into it."
    bare = [
        rig for rig in found if rig.kind != "none" and not rig.bag_kg and rig.mount_m[1] > RAISED_M
    ]
    if bare:
        yield (
            f"{_names(bare)} without a bag, head above {RAISED_M:g} m: weigh the stand down, its "
            "longest leg under the load; do not catch a falling lamp, step away."
        )


def _hot(context: Context) -> Iterator[str]:
    """Of hot modelling lamps near cloth and gels."""
    kit, lights = context.setup.kit, context.setup.scene.light
    for name, light in lights.items():
        flash, modifier = kit.flash.get(light.flash or ""), kit.modifier.get(light.modifier or "")
        if flash is None or not flash.modelling_w or flash.modelling_lm_per_w > HOT_LM_PER_W:
            continue
        if modifier is not None and modifier.kind in CLOTH:
            yield (
                f"{name}: {flash.modelling_w:g} W of hot lamp in cloth; mind the lamp limit that "
                "the modifier's maker states, take the transport cap off and keep vents clear."
            )
        if light.gel or light.nd:
            yield f"{name}: gel only as a heat-rated sheet off the tube, modelling lamp off."


def _names(found: list[Rig]) -> str:
    return ", ".join(rig.light for rig in found)

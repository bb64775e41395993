"""How little topples a stand and what balances a boom: an estimate with its inputs shown."""

from __future__ import annotations

from render.plan.checks.finding import Context, Finding, Verdict
from render.plan.checks.rig import USUAL_STAND_KG, Rig, rigs

GRAVITY_M_S2 = 9.81
EDGE_SHARE = 0.5  # of the leg radius: a tripod's tipping edge half way between two legs; geometry
# Sand bags of a raised head and of a boom's stand; common practice, no source: 7 to 10, 10 to 15.
STAND_BAG_KG, BOOM_BAG_KG = 7.0, 10.0
RAISED_M = 1.5  # from here on a head wants its bag; common practice, no source
BALANCED_SHARE = 0.1  # a counterweight this near to what is needed balances; a grip holds the rest


def push_to_topple_n(
    mass_kg: float, height_m: float, edge_m: float, off_centre_m: float = 0.0
) -> float:
    """Sideways push at a height that topples a stand [N]: m·g·(edge - off centre) / h.

    mass_kg      : everything on the stand, with the stand
    edge_m       : from the column to the tipping edge
    off_centre_m : from the column to the common centre of mass, towards that edge
    Below 0 it topples by itself. Source: moments about the edge (derived).
    """
    return mass_kg * GRAVITY_M_S2 * (edge_m - off_centre_m) / height_m


def counterweight_kg(load_kg: float, arm_m: float, tail_m: float) -> float:
    """Mass on the tail that balances a load on the arm [kg]: load x arm / tail; weightless boom.

    Source: law of the lever.
    """
    return load_kg * arm_m / tail_m


def check_tipping(context: Context) -> list[Finding]:
    """The push that topples each stand, and the balance of each boom."""
    found = []
    for rig in rigs(context.setup, context.layout):
        if rig.kind == "boom":
            found.append(_balance(rig))
        if rig.kind != "none":
            found.append(_push(rig))
    return found


def _needed(rig: Rig) -> float:
    return counterweight_kg(rig.load_kg, rig.boom.arm_m, rig.boom.tail_m)


def _push(rig: Rig) -> Finding:
    """Bare and with its bag, or the usual one where it has none."""
    usual = BOOM_BAG_KG if rig.kind == "boom" else STAND_BAG_KG
    edge, height = EDGE_SHARE * rig.leg_radius_m, float(rig.mount_m[1])
    moment = rig.modifier_kg * rig.modifier_ahead_m  # about the column [kg·m]
    bare = rig.load_kg + USUAL_STAND_KG
    if rig.kind == "boom":
        weight = _needed(rig) if rig.boom.weight_kg is None else rig.boom.weight_kg
        moment = abs(rig.load_kg * rig.boom.arm_m - weight * rig.boom.tail_m)
        bare += weight

    def push(bag_kg: float) -> float:
        return push_to_topple_n(bare + bag_kg, height, edge, moment / (bare + bag_kg))

    now, shown = push(rig.bag_kg), rig.bag_kg or usual
    inputs = (
        f"{bare:.1f} kg in all, head at {height:.2f} m, tipping edge {100 * edge:.0f} cm from the "
        f"column, typical mass of {rig.assumed}"
    )
    if now < 0:
        cure = "balance the boom first" if rig.kind == "boom" else "more bag, or wider legs"
        words = f"{rig.about} topples by itself, an estimate ({inputs}); {cure}."
        return Finding("tip-over", rig.about, "wrong", now, "N", 0.0, words)
    words = (
        f"{rig.about}: an estimated sideways push of {push(0):.0f} N topples it bare, "
        f"{push(shown):.0f} N with a bag of {shown:g} kg; a child's tug is more ({inputs})."
    )
    wants = rig.bag_kg < usual and (height > RAISED_M or rig.kind == "boom")
    if wants:
        stated = f"it has {rig.bag_kg:g} kg" if rig.bag_kg else "no bag_kg is stated"
        words += f" Usual is a bag of {usual:g} kg or more, hung on a leg; {stated}."
    verdict: Verdict = "look" if wants else "fine"
    return Finding("tip-over", rig.about, verdict, now, "N", None, words)


def _balance(rig: Rig) -> Finding:
    needed, weight = _needed(rig), rig.boom.weight_kg
    lever = (
        f"{rig.load_kg:.1f} kg at {rig.boom.arm_m:g} m needs {needed:.1f} kg at "
        f"{rig.boom.tail_m:g} m"
    )
    if weight is None:
        words = f"Boom of {rig.about}, an estimate: {lever} to balance; no weight_kg is stated."
        return Finding("boom balance", rig.about, "look", needed, "kg", None, words)
    off = weight - needed
    balanced = abs(off) <= BALANCED_SHARE * needed
    words = f"Boom of {rig.about}, an estimate: {lever} to balance; it has {weight:g} kg."
    if not balanced:
        words += (
            f" {'Add' if off < 0 else 'Take off'} {abs(off):.1f} kg, or move it along the tail."
        )
    return Finding(
        "boom balance", rig.about, "fine" if balanced else "wrong", needed, "kg", weight, words
    )

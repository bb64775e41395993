"""What the heads of a set draw from the mains, added up from the figures of the kit."""

from __future__ import annotations

from render.plan.checks.finding import Context, Finding

# Two trade pages: 1.2 kW for a circuit, 2 kW for an outlet. They differ, so no verdict hangs on it.
TRADE_WORDS = "trade pages name 1.2 kW a circuit and 2 kW an outlet, your breaker decides"


def no_figures(context: Context) -> str:
    """Why the load cannot be added up."""
    return "" if _stated(context) else "no flash of the scene states modelling_w or charging_w"


def _stated(context: Context) -> dict[str, tuple[float | None, float | None]]:
    """Modelling lamp and charging [W] of every light that is on and states one of them."""
    flashes = context.setup.kit.flash
    used = {
        name: flashes[light.flash]
        for name, light in context.setup.scene.light.items()
        if light.on and light.flash in flashes
    }
    pairs = {name: (flash.modelling_w, flash.charging_w) for name, flash in used.items()}
    return {name: pair for name, pair in pairs.items() if pair != (None, None)}


def check_circuit(context: Context) -> list[Finding]:
    """The sum for all lights that are on, on one circuit."""
    stated = _stated(context)
    lamps = sum(lamp or 0.0 for lamp, _ in stated.values())
    charging = sum(charge or 0.0 for _, charge in stated.values())
    silent = [name for name, (_, charge) in stated.items() if charge is None]
    lights = context.setup.scene.light.items()
    silent += [name for name, light in lights if light.on and name not in stated]
    words = f"Modelling lamps draw {lamps:.0f} W"
    if charging:
        words += f" and charging {charging:.0f} W more"
    if silent:
        words += f"; charging is not stated for {', '.join(silent)} and comes on top"
    words += f" ({TRADE_WORDS})."
    return [Finding("circuit", "room", "fine", lamps + charging, "W", None, words)]

"""A change of balance, power or calibration: kept light frames mixed, against tracing anew.

`python -m tests.bench.rebalance [--quick]` prints JSON. Each round changes to another value and
takes both ways in turn with one running engine; CPU times of this process and the tracer's.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from render.picture import Look, look
from render.plan.balance.balance import balance
from render.plan.changes.settings import Setting, changed
from render.scenefile import Setup, load_scene
from render.trace import Engine, FrameStore
from tests.bench.clock import taken_s
from tests.bench.figures import Figure, Part, Told

SCENE, FLASH, LIGHT = "violin-two-lights", "monobloc-400", "key"
LONG_PX, QUICK_PX = 600, 300
ROUNDS, QUICK_ROUNDS = 5, 3
CLICK = 0.1  # stops from round to round
CHEAPER = 10.0  # times than tracing anew, at least, at full size: a choice, no source


def power(setup: Setup, turn: int) -> Setup:
    """The key turned up by so many clicks."""
    return changed(setup, [Setting(f"light.{LIGHT}.power", f"1/8 +{CLICK * (turn + 1):.1f}")])


def calibration(setup: Setup, turn: int) -> Setup:
    """The key's head found to give more light than typical, as a meter's reading says."""
    flash = setup.kit.flash[FLASH]
    stronger = flash.efficacy_lm_per_ws * 2 ** (CLICK * (turn + 1))
    heads = setup.kit.flash | {
        FLASH: flash.model_copy(update={"efficacy_lm_per_ws": stronger, "source": "bench"})
    }
    return replace(setup, kit=setup.kit.model_copy(update={"flash": heads}))


def balanced(setup: Setup, turn: int) -> Setup:
    """Powers that meet the scene's wishes, after the camera was stopped down by so many clicks."""
    darker = changed(setup, [Setting("camera.iso_speed", 100 * 2 ** (CLICK * (turn + 1)))])
    return changed(darker, balance(darker, bounce=False, cures=False).changes)


def measured(long_px: int, rounds: int) -> dict[str, Any]:
    """Median ratio of the two, least CPU time of the mix, and the largest difference of a pixel."""
    setup, found, difference = load_scene(SCENE), {}, 0.0
    with tempfile.TemporaryDirectory() as folder, Engine("llvm") as engine:
        kept = FrameStore(Path(folder) / "kept")
        look(setup, quality="draft", long_side_px=long_px, engine=engine, store=kept)
        for name, change in (("power", power), ("calibration", calibration), ("balance", balanced)):
            pairs = []
            for turn in range(rounds):
                made, pictures, spent = change(setup, turn), [], []
                for store in (kept, FrameStore(Path(folder) / f"{name}-{turn}")):
                    took_s, _ = taken_s(
                        lambda made=made, store=store, pictures=pictures: pictures.append(
                            look(
                                made,
                                quality="draft",
                                long_side_px=long_px,
                                engine=engine,
                                store=store,
                            )
                        )
                    )
                    spent.append(took_s)
                pairs.append(spent)
                difference = max(difference, _apart(*pictures))
            found[name] = {
                "mixed_s": min(mixed for mixed, _ in pairs),
                "anew_s": min(anew for _, anew in pairs),
                "ratio": statistics.median(anew / mixed for mixed, anew in pairs),
            }
    return {
        "size": f"{SCENE}, draft, {long_px} px",
        "long_px": long_px,
        "rounds": rounds,
        "changes": found,
        "difference": difference,
    }


def _apart(one: Look, two: Look) -> float:
    return float(np.abs(one.picture.linear - two.picture.linear).max())


def _judged(found: Any) -> Told:
    changes = found["changes"].items()
    least = CHEAPER if found["long_px"] >= LONG_PX else None
    told = [
        Figure(f"{name}: traced anew over mixed", each["ratio"], "times", at_least=least)
        for name, each in changes
    ]
    told += [Figure(f"{name}: mixed, least CPU", each["mixed_s"], "s") for name, each in changes]
    told += [Figure(f"{name}: anew, least CPU", each["anew_s"], "s") for name, each in changes]
    told.append(Figure("largest difference of a pixel", found["difference"], at_most=0.0))
    return Told(told, [f"{found['size']}, {found['rounds']} rounds in turn, the median ratio."])


PART = Part(
    "rebalance",
    "A look after a change of powers or calibration with kept light frames, against tracing it "
    "anew; both give the same picture.",
    lambda asked: ["--quick"] if asked.quick else [],
    _judged,
)


if __name__ == "__main__":
    small = "--quick" in sys.argv
    print(json.dumps(measured(*((QUICK_PX, QUICK_ROUNDS) if small else (LONG_PX, ROUNDS)))))

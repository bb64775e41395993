"""Where light is looked for: no rays for what cannot be seen, many for panels that are lit."""

from __future__ import annotations

import numpy as np
import pytest

from render.emission import Cells
from render.photometry.formfactors import polygon_view_factor
from render.trace import Engine, receptor_readings
from tests.agreement.quadrature import light
from tests.agreement.test_panels import (
    KEY_ON_PANEL_DEG,
    SILVER,
    facing_panel,
    panel_beside,
    silver_two_steps,
    two_steps,
)
from tests.sets import front, layout

SAMPLES = 1 << 12
LIP_M = 0.06
# Nearly in the plane of a front, where its lip hides much of it.
ASIDE, AXIS = np.array([0.9, 0.3, 0.15]), np.array([-1.0, -0.2, -0.1])


def in_sight(along: float, half: float) -> float:
    """Share of a line from -half to half that a lip before both its ends leaves in sight."""
    x = np.linspace(-half, half, 100001)
    at_lip = x + (along - x) * LIP_M / ASIDE[2]
    return float(np.mean(np.abs(at_lip) <= half))


@pytest.mark.parametrize("cells", [None, Cells(0.08, 0.08, 0.005)])
def test_no_rays_go_to_what_a_lip_hides(cells: Cells | None, engine: Engine) -> None:
    """Truth: the integral over the front; rays all over it that are stopped at a share 1 - v of
    its points have a relative variance of (1 - v) / v at least."""
    made = front(recess_m=LIP_M, cells=cells)
    axis = AXIS / np.linalg.norm(AXIS)
    truth = light(made, ASIDE, axis, "flat")
    v = in_sight(ASIDE[0], made.width_m / 2) * in_sight(ASIDE[1], made.height_m / 2)
    assert v < 0.5
    reading = receptor_readings(
        layout(made), [ASIDE], [axis], "flat", engine=engine, samples=SAMPLES
    )
    found, error = reading.total[0, 0], reading.total_error[0, 0]
    assert abs(found - truth) < 4 * error
    assert SAMPLES * (error / found) ** 2 < 0.25 * (1 - v) / v


@pytest.mark.parametrize("kind", ["white", "silver"])
@pytest.mark.parametrize("angle_deg", [-KEY_ON_PANEL_DEG, 20.0])
def test_panels_that_are_lit_are_looked_for(kind: str, angle_deg: float, engine: Engine) -> None:
    """Truth: the integral key -> panel -> place; rays that find the panel by chance, a share F of
    them by its view factor, have a relative variance of (1 - F) / F at least."""
    made = panel_beside(0.8, **(SILVER if kind == "silver" else {}))
    place, axis = facing_panel(made, angle_deg)
    truth = (
        silver_two_steps(made, place, axis) if kind == "silver" else two_steps(made, place, axis)
    )
    share = polygon_view_factor(made.sheets[0].corners_m[::-1] - place, axis)
    reading = receptor_readings(made, [place], [axis], "flat", engine=engine, samples=SAMPLES)
    energy = made.fronts[0].luminous_energy_lm_s
    found, error = (float(a[0, 0]) * energy for a in (reading.bounce, reading.bounce_error))
    assert abs(found - truth) < 4 * error + 0.005 * truth
    assert SAMPLES * (error / found) ** 2 < 0.5 * (1 - share) / share

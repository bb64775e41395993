"""What is taken over from before a move is what would be metered anew."""

from pathlib import Path

import numpy as np
import pytest

from render.page.standing import Standing, stand
from tests.unit.page.scenes import STOOL, opened

# The fill as a box of 1 x 1 m, whose back can stand between the key and the stool.
BOXY = STOOL.replace("luminous_energy_lm_s = 100\nsize_cm = [2, 2]", "flash = 'monobloc-400'\n"
                     "size_cm = [100, 100]")  # fmt: skip
MOVES = (
    {"light.fill.azimuth_deg": 100},
    {"light.fill.azimuth_deg": -30, "light.fill.distance_m": 0.3},  # before the key
    {"light.key.distance_m": 1.2},
    {"light.key.gel": ["cool-half"]},
    {"light.key.power": "1/16", "light.fill.azimuth_deg": 60},
    {"light.fill.on": True, "point.stool.position_m": [0.1, 1.2, 0]},
    {"light.rim": {"flash": "monobloc-400", "size_cm": [30, 30], "azimuth_deg": -30,
                   "distance_m": 0.4}},
    {"panel.flag": {"kind": "black", "size_cm": [60, 60], "azimuth_deg": -30, "distance_m": 0.4}},
)  # fmt: skip


def asked(standing: Standing) -> np.ndarray:
    """Light in the receptors that are held for a lamp."""
    rows = [
        standing.direct[i, j]
        for i, each in enumerate(standing.held)
        for j, front in enumerate(standing.layout.fronts)
        if each.lights in ("all", front.name)
    ]
    return np.array(rows)


@pytest.mark.parametrize("keys", MOVES, ids=lambda keys: next(iter(keys)))
def test_a_moved_set_is_metered_as_one_never_seen_before(
    tmp_path: Path, keys: dict[str, object]
) -> None:
    document = opened(tmp_path, BOXY)
    before = stand(document.checked(document.text))
    setup = document.checked(document.edited(keys))
    assert asked(stand(setup, before)) == pytest.approx(asked(stand(setup)), rel=1e-9)


def test_a_lamp_put_before_another_takes_its_light_away(tmp_path: Path) -> None:
    document = opened(tmp_path, BOXY)
    before = stand(document.checked(document.text))
    after = stand(document.checked(document.edited(dict(MOVES[1]))), before)
    assert before.direct[0, 0] > 0
    assert after.direct[0, 0] == 0  # the box of 1 m at 0.3 m hides the key at 0.8 m

"""Cloth reflects what was asked for, its sheen included."""

from __future__ import annotations

import pytest

from render.sitter.wear.weaves import knit, suiting
from render.trace import Engine
from tests.agreement.test_skin_light import whole


@pytest.mark.parametrize("weave", [knit, suiting])
@pytest.mark.parametrize("asked", [0.05, 0.18, 0.5, 0.8])
def test_cloth_under_light_from_all_sides_gives_back_what_was_asked(
    asked: float, weave: object, engine: Engine
) -> None:
    found, error = whole(weave((asked,) * 3), engine, "surface")
    assert error < 0.01 * asked
    assert found == pytest.approx(asked, rel=0.1)

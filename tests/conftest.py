"""Sitters that scenes of the tests seat have few hairs and small maps: quick to make and trace."""

from collections.abc import Iterator
from functools import partial

import pytest

from render.layout import people
from render.sitter import build_body
from tests.people import MAP_WIDTH

HAIRS = 8000  # of which draft and proof trace 0.4; radii make up for the rest


@pytest.fixture(scope="session", autouse=True)
def _small_sitters() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        small = partial(build_body, strand_count=HAIRS, map_width=MAP_WIDTH)
        patch.setattr(people, "build_body", small)
        yield

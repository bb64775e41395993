"""What the scene file's page names for a sitter is what a sitter can be."""

import re

import pytest

from render.sitter import CHOICES
from render.studio.sitter import Sitter


@pytest.mark.parametrize("key", CHOICES)
def test_every_choice_is_named_in_the_description_of_its_key(key: str) -> None:
    said = Sitter.model_fields[key].description or ""
    named = re.split(r", | or ", said.removeprefix("bundled sitter: "))
    assert sorted(named) == sorted(CHOICES[key])

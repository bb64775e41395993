"""A crowded set with long names is still set without one text over another."""

from dataclasses import replace
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from render.card import Card, card_of
from render.card.first import divided, first_page
from render.card.page import PAPERS
from render.card.plates import Plate
from render.card.second import later_pages
from render.scenefile import load_scene

LONG = "key-with-the-large-folding-octa-from-the-window-side"
TITLE = "Five lights, three panels and a boom, for the long wall of the workshop and the web page"
LIGHT = """
[light.{name}]
flash = "monobloc-200"
modifier = "{modifier}"
power = "1/8 +0.3"
position_m = {place}
aim = "face"
"""
PANEL = """
[panel.{name}]
kind = "black"
size_cm = [60, 90]
position_m = {place}
facing = [0, 1.2, 0]
"""


@pytest.fixture(scope="module")
def crowded(file: Path) -> Card:
    text = file.read_text().replace("[light.key]", f'[light.{LONG}]\nrole = "key"')
    text = text.replace('modifier = "strip-25x110"', 'modifier = "strip-25x110"\nstand = "boom"')
    for name, modifier, place in (
        ("fill", "softbox-60x90", [0.9, 1.4, 1.2]),
        ("rim", "strip-30x90", [-1.0, 1.5, -0.8]),
        ("background", "reflector-standard", [1.0, 0.6, -0.7]),
    ):
        text += LIGHT.format(name=name, modifier=modifier, place=place)
    for name, place in (("flag_camera_left", [-0.5, 1.2, 0.1]), ("low", [0.3, 0.8, 0.4])):
        text += PANEL.format(name=name, place=place)
    (own := file.with_name("crowded.toml")).write_text(text)
    card = card_of(load_scene(own), bounce=False)
    words = Plate("THE LOOK, predicted", "No look: no engine can run here.")
    return replace(card, title=TITLE, plates=(words,))


def boxes(page: Figure) -> list[tuple[str, tuple[float, float, float, float]]]:
    page.set_dpi(72)  # SVG and PDF count 72 points an inch
    texts = [text for text in page.axes[0].texts if text.get_text()]
    return [(text.get_text(), text.get_window_extent().extents) for text in texts]


def test_no_text_lies_over_another_or_off_the_page(crowded: Card) -> None:
    sheet = PAPERS["letter"]
    tape = not divided(crowded, sheet).table
    for page in (first_page(crowded, sheet), *later_pages(crowded, sheet, tape=tape)):
        found = boxes(page)
        across, down = page.get_size_inches() * 72
        for words, (left, low, right, high) in found:
            assert left > 0, words
            assert right < across, words
            assert low > 0, words
            assert high < down, words
        for i, (words, one) in enumerate(found):
            for other_words, other in found[:i]:
                wide = min(one[2], other[2]) - max(one[0], other[0])
                high = min(one[3], other[3]) - max(one[1], other[1])
                least = min(one[3] - one[1], other[3] - other[1])
                # Boxes of neighbouring lines touch by their leading.
                assert wide < 1 or high < 0.35 * least, (words, other_words)

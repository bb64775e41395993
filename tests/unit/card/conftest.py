"""One small set for all tests of the card: two lights, a panel, paper, no sitter, no bounce."""

from pathlib import Path

import pytest

from render.card import Card, card_of, write_card
from render.scenefile import load_scene

SET = """
title = "Η βιολοποιός, мастер скрипок: two lights"
[room]
width_m = 3.2
depth_m = 4.6
height_m = 2.4
back_wall_m = 1.6
{backdrop}
[camera]
distance_m = 1.7
focal_length_mm = 100
[point.face]
position_m = [0, 1.2, 0]
[point.crown]
position_m = [0, 1.35, -0.1]
[light.hair]
flash = "monobloc-200"
modifier = "strip-25x110"
grid_deg = 40
power = "1/4 +0.6"
position_m = [0.6, 1.9, -0.8]
aim = "crown"
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/8 +0.5"
position_m = [-0.8, 1.6, 0.9]
aim = "face"
[panel.fill]
size_cm = [60, 90]
position_m = [0.7, 1.1, 0.2]
facing = [0, 1.2, 0]
[wanted]
face = {{ point = "face", f_number = 8 }}
hair = {{ point = "crown", light = "hair", stops = 0 }}
"""
PAPER_BACKDROP = '[backdrop]\nkind = "paper"\ngap_m = 1.4'


def scene(folder: Path, backdrop: str = PAPER_BACKDROP) -> Path:
    """The set as a scene file."""
    file = folder / "two.toml"
    file.write_text(SET.format(backdrop=backdrop))
    return file


@pytest.fixture(scope="session")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return scene(tmp_path_factory.mktemp("card"))


@pytest.fixture(scope="session")
def card(file: Path) -> Card:
    return card_of(load_scene(file), bounce=False)


@pytest.fixture(scope="session")
def drawn(card: Card, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The pages as SVG."""
    return write_card(card, tmp_path_factory.mktemp("svg") / "card.svg")

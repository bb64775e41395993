"""The card says what the meter table says, and is drawn to the scale that it states."""

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.artist import Artist
from typer.testing import CliRunner

from render.card import Card, files, write_card
from render.card.first import first_page
from render.card.page import PAPERS
from render.card.tape import taped
from render.cli.app import app
from render.errors import OutputError
from render.layout import place
from render.report import meter
from render.scenefile import load_scene


@pytest.fixture(scope="module")
def words(drawn: list[Path]) -> list[str]:
    """Every line of text on the pages, read back from their SVG."""
    found = []
    for page in drawn:
        every = ElementTree.parse(page).iter("{http://www.w3.org/2000/svg}text")
        found += ["".join(text.itertext()).replace("\N{NO-BREAK SPACE}", " ") for text in every]
    return found


def test_every_number_is_the_meters(file: Path, words: list[str]) -> None:
    rows = meter(load_scene(file), bounce=False).readings
    said = {(row.point, row.lights): row.shown for row in rows}
    # The hair light has a wish at the crown; the key is read at the point of the meter table.
    for name, power, point in (("key", "1/8 +0.5", "face"), ("hair", "1/4 +0.6", "crown")):
        at = words.index(name, words.index("meter said"))
        expected = [name, power, point, said[point, name], said[point, "all"]]
        assert words[at : at + 5] == expected


def test_tape_distances_are_those_of_the_scene_file(card: Card, words: list[str]) -> None:
    # By hand, from the file: walls at x = -1.6 and 1.6, z = -1.6 and 3.0; the paper hangs before
    # the back wall, so that depths are from the camera wall.
    rows = {row.name: row for row in card.tape}
    key, hair, panel = rows["key"], rows["hair"], rows["fill"]
    assert (key.across[0], key.along[0]) == ("camera-left wall", "camera wall")
    assert (hair.across[0], panel.across[0]) == ("camera-right wall", "camera-right wall")
    found = [key.across[1], key.along[1], key.height_m, hair.across[1], hair.along[1]]
    assert found == pytest.approx([0.8, 2.1, 1.6, 1.0, 3.8])
    assert [panel.across[1], panel.along[1]] == pytest.approx([0.9, 2.8])
    # Down by 0.4 over a level distance of hypot(0.8, 0.9); eyes of nobody are at 1.2.
    level = np.hypot(0.8, 0.9)
    assert key.tilt_deg == pytest.approx(-np.degrees(np.arctan2(0.4, level)))
    assert key.eyes_m == pytest.approx(np.hypot(level, 0.4))
    for text in ("0.80", "camera-left wall", "2.10", "18° down", "138° right", "1.27"):
        assert text in words


def test_without_a_backdrop_the_nearer_wall_is_taped(file: Path, tmp_path: Path) -> None:
    bare = tmp_path / "bare.toml"
    bare.write_text(re.sub(r"\[backdrop\][^\[]*", "", file.read_text()))
    setup = load_scene(bare)
    rows = {row.name: row for row in taped(setup, place(setup))}
    assert rows["hair"].along == ("back wall", pytest.approx(0.8))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_lights_stand_apart_as_in_the_room(card: Card, paper: str) -> None:
    page = first_page(card, PAPERS[paper])
    texts = [text.get_text() for text in page.axes[0].texts]
    scale = int(re.search(r"Drawn 1:(\d+)", " ".join(texts)).group(1))  # type: ignore[union-attr]

    def drawn(name: str) -> np.ndarray:
        def named(artist: Artist) -> bool:
            return artist.get_gid() == name

        (dot,) = page.findobj(named)
        return np.array(dot.get_xydata()[0])  # type: ignore[attr-defined]

    hair, key = (np.array(light.position_m) for light in card.setup.scene.light.values())
    for view, seen in (("plan", [2, 0]), ("side", [2, 1])):
        on_page_mm = drawn(f"{view}.light.hair") - drawn(f"{view}.light.key")
        in_room_m = (hair - key)[seen] * [1, -1]  # down the page is down in the room
        np.testing.assert_allclose(on_page_mm * scale, 1e3 * in_room_m, atol=1.0)


def test_it_ends_with_who_decides_and_promises_nothing(words: list[str]) -> None:
    text = " ".join(words)
    assert "plan only" in text
    assert "a competent person decide." in text
    assert re.search(r"\bsafe", text, re.IGNORECASE) is None


def test_mistakes_are_one_sentence(card: Card, file: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"found card\.doc \(accepted: .*\.pdf, \.svg, \.png\)"):
        write_card(card, tmp_path / "card.doc")
    with pytest.raises(OutputError, match="no folder"):
        write_card(card, tmp_path / "missing" / "card.pdf")


def test_the_command_writes_and_says_where(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "PNG_DPI", 20)
    out = tmp_path / "sheet.png"
    arguments = ["card", str(file), "--out", str(out), "--direct", "--no-look"]
    blank = tmp_path / "blank.toml"
    done = CliRunner().invoke(app, [*arguments, "--readings", str(blank)])
    assert done.exit_code == 0, done.output
    assert out.exists()
    assert (tmp_path / "sheet-2.png").exists()
    assert blank.read_text().count("[[read]]") == 4

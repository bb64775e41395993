"""The printed card, read back by another program: text, sizes, the scale, drawn places."""

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from render.card import Card, numbers, write_card

POINTS_PER_MM = 72 / 25.4
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module", params=["a4", "letter"])
def pdf(
    card: Card, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> tuple[str, PdfReader]:
    (file,) = write_card(card, tmp_path_factory.mktemp("pdf") / "card.pdf", request.param)
    return request.param, PdfReader(file)


@pytest.fixture(scope="module")
def svg(drawn: list[Path]) -> ElementTree.Element:
    return ElementTree.parse(drawn[0]).getroot()


# A4 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI/ASME Y14.1), in points of 1/72 in.
SIZES = {"a4": (210 * POINTS_PER_MM, 297 * POINTS_PER_MM), "letter": (612, 792)}


def test_pages_have_the_size_of_the_paper(pdf: tuple[str, PdfReader]) -> None:
    paper, reader = pdf
    assert len(reader.pages) == 2
    for page in reader.pages:
        found = [float(page.mediabox.width), float(page.mediabox.height)]
        assert found == pytest.approx(SIZES[paper], abs=0.01)


def test_every_number_can_be_searched_for(pdf: tuple[str, PdfReader], card: Card) -> None:
    paper, reader = pdf
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    told = numbers(card, paper)
    for light in told.lights:
        assert light.alone is not None
        assert light.together is not None
        for words in (light.power, light.alone.shown, light.together.shown, light.gear):
            assert words in text
    for row in told.tape:
        for metres in (row.across_m, row.along_m, row.height_m, row.eyes_m or row.height_m):
            assert f"{metres:.2f}" in text
    assert f"Drawn 1:{told.scale}" in text
    assert "Η βιολοποιός, мастер скрипок: two lights" in text
    for sentence in (*told.cautions, *told.wrong):
        assert sentence in text


def test_letters_travel_with_the_file(pdf: tuple[str, PdfReader]) -> None:
    _, reader = pdf
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            font = font.get_object()
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            assert "/FontFile2" in inner["/FontDescriptor"]
        assert not list(page.images)  # lines, no pixels


# By hand: 4.60 m of room in 120 mm of A4, 5.60 m of width and height in what Letter leaves.
METRES = {"a4": (40, 25.0), "letter": (50, 20.0)}


def test_a_metre_measures_what_the_scale_says(pdf: tuple[str, PdfReader], card: Card) -> None:
    """Truth: 1000 mm over the scale, of the longest line of the file that lies at its words."""
    paper, reader = pdf
    scale, length = METRES[paper]
    assert numbers(card, paper).scale == scale
    page = reader.pages[0]
    texts: list[tuple[str, float]] = []
    page.extract_text(visitor_text=lambda t, cm, tm, *_: texts.append((t, float(tm[5] + cm[5]))))
    at = next(y for words, y in texts if f"{length} mm on this sheet" in words)
    stream = ContentStream(page.get_contents(), reader)
    start, lengths = np.zeros(2), []
    for numbers_of, operator in stream.operations:
        place = np.array(numbers_of[:2], float) if operator in (b"m", b"l") else start
        if operator == b"l" and abs(place[1] - start[1]) < 1e-6 and abs(place[1] - at) < 6:
            lengths.append(abs(place[0] - start[0]))
        start = place
    assert max(lengths) / POINTS_PER_MM == pytest.approx(length, abs=0.01)


def places(svg: ElementTree.Element, name: str) -> np.ndarray:
    """Coordinates (n, 2) [mm] of what has a name in the file."""
    (group,) = [each for each in svg.iter(f"{SVG}g") if each.get("id") == name]
    used = [(each.get("x"), each.get("y")) for each in group.iter(f"{SVG}use")]
    if used:
        return np.array(used, float) / POINTS_PER_MM
    path = next(group.iter(f"{SVG}path")).get("d") or ""
    return np.array(re.findall(r"[ML] (\S+) (\S+)", path), float) / POINTS_PER_MM


def test_drawn_places_are_those_of_the_scene(svg: ElementTree.Element) -> None:
    """Truth: 25 mm a metre from the eyes, which are at 1.2 m; places as in the scene file."""
    assert np.ptp(places(svg, "bar")[:, 0]) == pytest.approx(25.0, abs=0.01)
    for view, axis in (("plan", 0), ("side", 1)):
        eyes = places(svg, f"{view}.eyes")[0]
        for name, place in (("hair", (0.6, 1.9, -0.8)), ("key", (-0.8, 1.6, 0.9))):
            level = 0.0 if axis == 0 else 1.2
            meant = 25.0 * np.array([place[2], -(place[axis] - level)])
            found = places(svg, f"{view}.light.{name}")[0] - eyes
            assert found == pytest.approx(meant, abs=0.02)


def test_legs_are_drawn_inside_the_room_and_as_long_as_they_are(
    svg: ElementTree.Element, card: Card
) -> None:
    eyes = places(svg, "plan.eyes")[0]
    left, right = (eyes[0] + 25 * z for z in (-1.6, 3.0))
    top, bottom = (eyes[1] - 25 * x for x in (1.6, -1.6))
    for light in ("key", "hair"):
        for i in range(3):
            leg = places(svg, f"plan.leg.{light}.{i}")
            assert np.linalg.norm(leg[1] - leg[0]) == pytest.approx(25 * 0.5, abs=0.05)
            assert leg[:, 0].min() > left - 0.05
            assert leg[:, 0].max() < right + 0.05
            assert leg[:, 1].min() > top - 0.05
            assert leg[:, 1].max() < bottom + 0.05

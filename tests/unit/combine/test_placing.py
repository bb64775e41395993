"""An element lies where the recipe says, its light whole, its edge fading to nothing."""

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from render.combine.colour import light_of
from render.combine.placing import covers, faded, frame_of, laid
from render.combine.recipe import Element, Region
from render.combine.regions import outline, shown
from tests.unit.combine.files import combined, flat, png

RNG = np.random.default_rng(2)
LIGHT = RNG.uniform(0, 1, (40, 60, 3)).astype(np.float32)


def placed(light: np.ndarray, size: tuple[int, int], **said: object) -> np.ndarray:
    element = Element.model_validate({"file": "x", **said})
    return laid(light, frame_of(element, (light.shape[1], light.shape[0]), size))


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ({}, LIGHT),
        ({"flip": "sideways"}, LIGHT[:, ::-1]),
        ({"flip": "upside down"}, LIGHT[::-1]),
        ({"flip": "both"}, LIGHT[::-1, ::-1]),
        ({"turn_deg": 180.0}, LIGHT[::-1, ::-1]),
        ({"turn_deg": 360.0}, LIGHT),
    ],
)
def test_whole_pixels_stay_as_they_are(said: dict[str, object], wanted: np.ndarray) -> None:
    assert_array_equal(placed(LIGHT, (60, 40), **said), wanted)


def test_a_quarter_turn_is_clockwise() -> None:
    """Top left goes to top right, as numpy turns it, on a square look of an even size."""
    square = LIGHT[:, :40]
    found = placed(square, (40, 40), turn_deg=90.0)
    assert_allclose(found, np.rot90(square, -1), atol=1e-5)
    mirrored = placed(square, (40, 40), turn_deg=90.0, flip="sideways")
    assert_allclose(mirrored, np.rot90(square[:, ::-1], -1), atol=1e-5)


@pytest.mark.parametrize("scale", [0.23, 0.5, 0.9, 1.7])
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_a_grain_lies_at_its_place_with_its_light(scale: float, turn: float) -> None:
    """Truth: plane geometry for its place, width ratio squared for its light."""
    light = np.zeros((80, 120, 1), np.float32)
    light[16:28, 84:96] = 0.7  # middle at 90, 22
    found = placed(light, (200, 160), scale=scale, turn_deg=turn, at=(0.3, 0.6))[..., 0]
    grow = scale * 200 / 120
    angle = np.radians(turn)
    x, y = (90 - 60) * grow, (22 - 40) * grow
    middle = (
        60 + x * np.cos(angle) - y * np.sin(angle),
        96 + x * np.sin(angle) + y * np.cos(angle),
    )
    down, across = np.mgrid[0:160, 0:200] + 0.5
    assert (found * across).sum() / found.sum() == pytest.approx(middle[0], abs=0.05)
    assert (found * down).sum() / found.sum() == pytest.approx(middle[1], abs=0.05)
    assert found.sum() == pytest.approx(0.7 * 144 * grow**2, rel=0.01)
    assert found.max() <= 0.7 + 1e-6
    assert found.min() >= 0


def test_means_are_of_light_not_of_codes(tmp_path: Path) -> None:
    """Black and white lines half as large are half the light, code 188 (sRGB of 0.5, IEC
    61966-2-1), and not code 128."""
    lines = np.zeros((40, 40, 3), np.uint8)
    lines[:, ::2] = 255
    png(tmp_path / "lines.png", lines)
    png(tmp_path / "look.png", flat(0, (20, 20)))
    made = combined(tmp_path, "look.png", {"file": "lines.png"})
    assert_allclose(made.linear[4:-4, 4:-4], 0.5, atol=1e-3)


def test_a_recipe_holds_for_a_look_of_another_size(tmp_path: Path) -> None:
    """The same shares in a look three times as large: the same picture, looked at from farther."""
    dot = np.zeros((90, 60, 3), np.uint8)
    dot[20:40, 10:30] = 200
    png(tmp_path / "dot.png", dot)
    said = {"file": "dot.png", "at": [0.3, 0.6], "scale": 0.8, "turn_deg": 15.0, "fade": 0.1}
    region = {"points": [[0, 0], [0.5, 0], [0.5, 1], [0, 1]], "feather": 0.1}
    lights = []
    for times in (1, 3):
        png(tmp_path / "look.png", flat(0, (60 * times, 90 * times)))
        made = combined(tmp_path, "look.png", said | {"region": [region]})
        size = (90, times, 60, times, 3)
        lights.append(made.linear.reshape(size).mean((1, 3)))
    assert lights[1].sum() == pytest.approx(lights[0].sum(), rel=0.01)
    assert np.abs(lights[1] - lights[0]).max() < 0.1 * lights[0].max()


@pytest.mark.parametrize("turn", [0.0, 20.0])
def test_the_edge_fades_to_exact_zero(turn: float) -> None:
    element = Element(file="x", turn_deg=turn, scale=0.5)
    frame = frame_of(element, (60, 40), (120, 90))
    weight = faded(frame, 0.2)
    down, across = np.mgrid[0:90, 0:120] + 0.5
    angle = np.radians(turn)
    x, y = across - 60, down - 45
    u = np.abs(x * np.cos(angle) + y * np.sin(angle))
    v = np.abs(y * np.cos(angle) - x * np.sin(angle))
    assert np.all(weight[(u >= 30) | (v >= 20)] == 0)
    assert np.all(weight[(u <= 30 - 8) & (v <= 20 - 8)] == 1)
    assert np.abs(np.diff(weight, axis=1)).max() < 0.25  # no step


def test_the_edge_fades_by_itself_only_where_it_shows() -> None:
    same = frame_of(Element(file="x"), (60, 40), (60, 40))
    assert covers(same)
    assert np.all(faded(same, None) == 1)
    small = frame_of(Element(file="x", scale=0.9), (60, 40), (60, 40))
    assert not covers(small)
    assert faded(small, None)[20, 3] < 0.5
    turned = frame_of(Element(file="x", turn_deg=2.0), (60, 40), (60, 40))
    assert not covers(turned)


def test_a_veil_leaves_no_rectangle(tmp_path: Path) -> None:
    """A dirty frame of code 12 over a dark look: no step of a code between neighbours once its
    edge fades, two codes being where a rectangle is seen (trade notes)."""
    png(tmp_path / "look.png", flat(20, (200, 150)))
    png(tmp_path / "dirty.png", flat(12, (100, 75)))
    steps = {}
    for fade in (0.0, 0.3):
        made = combined(tmp_path, "look.png", {"file": "dirty.png", "scale": 0.5, "fade": fade})
        from render.combine.colour import codes_of

        steps[fade] = np.abs(np.diff(codes_of(made.linear)[75, :, 0])).max()
        edged = any("rectangle" in words for words in made.report.warnings)
        assert edged is (fade == 0.0)
    assert steps[0.0] > 5
    assert steps[0.3] < 1


def test_a_region_is_half_on_its_line_and_exact_beyond_its_feather() -> None:
    """The smooth step 3t² - 2t³ over the feather, by hand, within half a pixel."""
    box = Region(points=((0.25, 0.2), (0.75, 0.2), (0.75, 0.8), (0.25, 0.8)), feather=0.1)
    weight = shown((box,), (200, 100))
    assert weight is not None
    assert np.all(weight[50, 62:138] == 1)
    assert np.all(weight[50, :38] == 0)
    assert weight[50, 49:51].mean() == pytest.approx(0.5, abs=0.08)
    t = 0.5 + 5.5 / 20
    assert weight[50, 55] == pytest.approx(t * t * (3 - 2 * t), abs=0.08)
    other = shown((box.model_copy(update={"keep": "outside"}),), (200, 100))
    assert other is not None
    assert_allclose(other + weight, 1, atol=1e-6)
    both = shown((box, box), (200, 100))
    assert_allclose(both, weight * weight, atol=1e-6)
    assert shown((), (200, 100)) is None


def test_a_free_hand_line_runs_through_its_points() -> None:
    """Eight places on a circle: a smooth line through them stays within 1 % of its radius."""
    angles = np.arange(8) * np.pi / 4
    points = tuple((0.5 + 0.3 * float(np.cos(a)), 0.5 + 0.3 * float(np.sin(a))) for a in angles)
    line = outline(Region(points=points, line="curve"))
    assert_allclose(np.linalg.norm(line - 0.5, axis=1), 0.3, rtol=0.01)
    for point in points:
        assert np.linalg.norm(line - point, axis=1).min() < 1e-9
    assert len(outline(Region(points=points))) == 8
    doubled = Region(points=(*points, points[-1]), line="curve")
    assert np.isfinite(outline(doubled)).all()


def test_light_outside_the_look_and_under_a_region_is_told(tmp_path: Path) -> None:
    """An element moved half out of the frame loses half; a region over half takes half of it."""
    png(tmp_path / "look.png", flat(0, (40, 40)))
    png(tmp_path / "element.png", flat(100, (40, 40)))
    out = combined(tmp_path, "look.png", {"file": "element.png", "at": [1.0, 0.5], "fade": 0.0})
    assert out.report.elements[0].outside_share == pytest.approx(0.5)
    half = {"points": [[0, 0], [0.5, 0], [0.5, 1], [0, 1]], "feather": 0.0}
    found = combined(tmp_path, "look.png", {"file": "element.png", "region": [half]})
    assert found.report.elements[0].masked_share == pytest.approx(0.5, abs=0.02)
    assert_allclose(found.linear[:, :19], light_of(100), rtol=1e-5)
    assert np.all(found.linear[:, 22:] == 0)
    gone = combined(tmp_path, "look.png", {"file": "element.png", "at": [3.0, 0.5]})
    assert "hardly any of its light" in gone.report.warnings[-1]
    assert np.all(gone.linear == 0)

"""The cast must be many, varied, of human measure, and each a different person."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from render.sitter import neutral
from render.sitter.arrays import M_PER_DM, Array, Mask
from render.sitter.cast import CAST, PRESSED_EARS, Morphs, Sitter
from render.sitter.cast.recipes import Ancestry, face, lids, man, woman
from render.sitter.choices import HAIR_STYLES
from render.sitter.face.eyes import fit_ball
from render.sitter.shape.bust import Bust
from render.sitter.shape.head_data import HeadData, data_version
from render.sitter.shape.posing import ARM_DEG, GIRDLE_DEG, posed
from render.sitter.shape.regions import Regions
from render.sitter.wishes import CHOICES

DATA = Path(__file__).resolve().parents[3] / "meshes"
# Lengths of adults of both sexes [mm], 1st percentile of women to 99th of men, widened to the
# next 5 mm. Source: Gordon et al., 1988 Anthropometric Survey of U.S. Army Personnel (ANSUR),
# Natick TR-89/044, head and body tables, and Farkas, Anthropometry of the Head and Face, 1994,
# for the mouth; from memory.
ADULT_MM = {
    "interpupillary": (54, 74),
    "head breadth": (130, 170),
    "head length": (170, 220),
    "menton to crown": (195, 260),
    "menton to sellion": (95, 140),
    "bizygomatic breadth": (120, 160),
    "bigonial breadth": (90, 135),
    "mouth breadth": (40, 65),
    "shoulder breadth": (375, 570),
}
LEAST_DIFFERENCE_MM = 1.5  # root mean square over the face: about 2 % of its half breadth


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    head: HeadData
    bust: Bust
    regions: Regions

    def height(self) -> Array:
        """Height above the eye line on the reference head (n,) [dm]."""
        return np.asarray(self.bust.reference[:, 1] - self.regions.eye_line[1])


@pytest.fixture(scope="module")
def template() -> Template:
    return Template(*neutral.template(DATA, data_version(DATA)))


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    points_mm: Array  # (n, 3) from the middle of the eyes
    eyes_mm: tuple[Array, Array]


def shape_of(template: Template, morphs: Morphs) -> Shape:
    base = posed(template.head, morphs)
    eyes = [fit_ball(base[template.head.eyes[side]])[0] for side in "lr"]
    middle = 0.5 * (eyes[0] + eyes[1])
    mm = 1000 * M_PER_DM
    left, right = ((eye - middle) * mm for eye in eyes)
    return Shape((template.bust.verts(base) - middle) * mm, (left, right))


@pytest.fixture(scope="module")
def shapes(template: Template) -> dict[str, Shape]:
    return {name: shape_of(template, sitter.morphs) for name, sitter in CAST.items()}


def measures(template: Template, shape: Shape) -> dict[str, float]:
    """The measures of ADULT_MM on a sitter, taken on zones of the reference head."""
    points, height, reference = shape.points_mm, template.height(), template.bust.reference
    bare = template.regions.masks["ears"] < 0.02
    middle = np.abs(reference[:, 0]) < 1e-4
    front = reference[:, 2] > template.regions.eye_line[2]

    def breadth(zone: Mask) -> float:
        return float(np.ptp(points[zone, 0]))

    menton = points[middle & front & (height > -1.35) & (height < -0.8), 1].min()
    bridge = points[middle & front & (height > -0.1) & (height < 0.25)]
    skull = points[height > -1.0]
    return {
        "interpupillary": float(np.linalg.norm(shape.eyes_mm[0] - shape.eyes_mm[1])),
        "head breadth": breadth(bare & (height > 0.3)),
        "head length": float(bridge[:, 2].max() - skull[:, 2].min()),
        "menton to crown": float(skull[:, 1].max() - menton),
        "menton to sellion": float(bridge[bridge[:, 2].argmin(), 1] - menton),
        "bizygomatic breadth": breadth(bare & (abs(height + 0.25) < 0.2) & (reference[:, 2] > 0.7)),
        "bigonial breadth": breadth(bare & (abs(height + 0.8) < 0.2) & (reference[:, 2] > 0.35)),
        "mouth breadth": breadth((template.regions.masks["lips"] > 0.5) & front),
        "shoulder breadth": breadth((height > -3.2) & (height < -1.9)),
    }


def test_the_cast_is_large_enough_and_spans_the_adults() -> None:
    # The numbers that were asked for: eight sitters, 20 to 75 years, both sexes, skins from dark
    # to light.
    assert len(CAST) >= 8
    ages = sorted(sitter.age_years for sitter in CAST.values())
    assert ages[0] == 20
    assert ages[-1] == 75
    # No gap in age wider than 15 years: every age has somebody near.
    assert np.diff(ages).max() <= 15
    words = [sitter.about.split()[0] for sitter in CAST.values()]
    assert min(words.count("woman"), words.count("man")) >= 4
    tones = sorted(sitter.skin.reflectance for sitter in CAST.values())
    assert tones[0] <= 0.08
    assert tones[-1] >= 0.40
    # Never more than a stop from one sitter's skin to the next.
    assert np.diff(np.log2(tones)).max() < 1.0


@pytest.mark.parametrize("name", CAST)
def test_what_is_said_about_a_sitter_is_so(name: str) -> None:
    sitter = CAST[name]
    sex, _, years = sitter.about.split()[:3]
    assert int(years.rstrip(",")) == sitter.age_years
    mixed = {part.split("-")[1] for part, _ in sitter.morphs if part.startswith("macro")}
    women = "female" in mixed
    assert women == (sex == "woman")
    for key, accepted in CHOICES.items():
        if key != "model":
            assert getattr(sitter, key) in accepted, key


def test_builds_and_ancestries_are_mixed() -> None:
    # Every sitter's whole-body shapes: the heads of all three ancestries that the data know take
    # part, and so do the thin, the heavy and the muscular body.
    used = {part for sitter in CAST.values() for part, weight in sitter.morphs if weight > 0.1}
    for word in ("caucasian", "african", "asian", "minweight", "maxweight", "maxmuscle"):
        assert any(word in part for part in used), word


def test_hair_colours_and_styles_differ() -> None:
    assert len({sitter.hair for sitter in CAST.values()}) >= 7
    assert len({sitter.hair_colour for sitter in CAST.values()}) >= 5


@pytest.mark.parametrize("name", CAST)
def test_heads_and_shoulders_measure_like_those_of_adults(
    name: str, template: Template, shapes: dict[str, Shape]
) -> None:
    for what, found in measures(template, shapes[name]).items():
        low, high = ADULT_MM[what]
        assert low < found < high, f"{what} {found:.0f} mm"


def test_men_are_larger_than_women_on_average(template: Template, shapes: dict[str, Shape]) -> None:
    # Means of the survey above, men against women [mm]: head breadth 152 and 144, head length
    # 197 and 187, menton to sellion 122 and 113, shoulder breadth 492 and 433; from memory.
    by_sex: dict[str, list[dict[str, float]]] = {"woman": [], "man": []}
    for name, shape in shapes.items():
        by_sex[CAST[name].about.split()[0]].append(measures(template, shape))
    for what in ("head breadth", "head length", "menton to sellion", "shoulder breadth"):
        women, men = (np.mean([m[what] for m in by_sex[sex]]) for sex in ("woman", "man"))
        assert men > women, what


def test_every_two_sitters_have_different_faces(
    template: Template, shapes: dict[str, Shape]
) -> None:
    face_zone = (template.regions.masks["face"] > 0.5) & (template.height() > -1.1)
    for one, other in combinations(shapes, 2):
        apart = shapes[one].points_mm[face_zone] - shapes[other].points_mm[face_zone]
        distance = np.sqrt((apart**2).sum(1).mean())
        assert distance > LEAST_DIFFERENCE_MM, f"{one} and {other}: {distance:.2f} mm"


def test_faces_are_uneven_but_not_crooked(template: Template, shapes: dict[str, Shape]) -> None:
    # A face is never a mirror of itself; healthy adults' halves differ by about 1 mm or less
    # root mean square over the surface (stereophotogrammetry of faces, from memory).
    zone = np.flatnonzero((template.regions.masks["face"] > 0.5) & (template.height() > -1.1))
    flip = np.array([-1.0, 1.0, 1.0])
    reference = template.bust.reference
    gap, other_side = cKDTree(reference).query(reference[zone] * flip)
    assert gap.max() < 1e-4
    for name, shape in shapes.items():
        here, there = shape.points_mm[zone], shape.points_mm[other_side]
        apart = np.linalg.norm(here - there * flip, axis=1)
        assert 0.1 < np.sqrt((apart**2).mean()) < 1.5, name


def test_arms_and_shoulders_hang(template: Template, shapes: dict[str, Shape]) -> None:
    # Upper arms at the side: along each arm the outline leaves the vertical by less than 12
    # degrees (standing at ease; common practice, no source). The base mesh holds them at about 40.
    assert ARM_DEG + GIRDLE_DEG > 30
    head = template.head
    for name, sitter in CAST.items():
        base = posed(head, sitter.morphs)
        whole_arm = (head.arm_weight > 0.99) & (base[:, 0] > 0)
        arm = base[whole_arm]
        low, high = arm[:, 1].min(), arm[:, 1].max()
        ends = [arm[np.abs(arm[:, 1] - y) < 0.15 * (high - low), 0].mean() for y in (low, high)]
        lean = np.degrees(np.arctan2(ends[0] - ends[1], 0.85 * (high - low)))
        assert abs(lean) < 12, f"{name} {lean:.1f}"
        # The point of the shoulder lies lower than the root of the neck.
        shoulder, neck = head.joint(base, "l-shoulder"), head.joint(base, "neck")
        assert neck[1] - shoulder[1] > 0.5, name


def test_pressed_ears_belong_to_styles_that_exist_and_lie_closer(template: Template) -> None:
    assert set(PRESSED_EARS) <= set(HAIR_STYLES)
    ears = template.regions.masks["ears"] > 0.5
    free = CAST["bram"].morphs
    for pressed in PRESSED_EARS.values():
        wide, close = (
            float(np.ptp(shape_of(template, recipe).points_mm[ears, 0]))
            for recipe in (free, (*free, *pressed))
        )
        assert close < wide - 5


def test_recipes_share_out_whole_people() -> None:
    # Shares of ages, ancestries and builds each add up to one body.
    mixed = Ancestry(caucasian=0.5, african=0.3, asian=0.2)
    for recipe in (woman(50, mixed, 0.3, 0.8), man(50, mixed, 0.3, 0.8)):
        heads = [w for part, w in recipe if part.startswith("macrodetails/") and "univ" not in part]
        bodies = [w for part, w in recipe if "universal" in part]
        assert sum(heads) == pytest.approx(1, abs=1e-3)
        assert sum(bodies) == pytest.approx(1, abs=1e-3)
    assert face({"#-eye-bag-incr": 0.5, "nose-hump-incr": 1.0}) == (
        ("eyes/l-eye-bag-incr", 0.5),
        ("eyes/r-eye-bag-incr", 0.5),
        ("nose/nose-hump-incr", 1.0),
    )
    assert [weight for _, weight in lids(0.4)] == [0.4, 0.4]


def test_every_sitter_says_who_it_is() -> None:
    abouts = [sitter.about for sitter in CAST.values()]
    assert len(set(abouts)) == len(abouts)
    assert all(isinstance(sitter, Sitter) for sitter in CAST.values())
    assert len({sitter.seed for sitter in CAST.values()}) == len(CAST)

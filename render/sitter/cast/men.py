"""The men of the cast; shape weights and colours were set by eye on invented faces."""

from __future__ import annotations

from render.sitter.cast.person import Brows, Sitter, SkinTone
from render.sitter.cast.recipes import Ancestry, face, lids, man

BRAM = Sitter(
    about="man of 39, light skin, average build, dark brown crop, stubble",
    age_years=39,
    morphs=(
        *man(39, Ancestry(caucasian=1.0), muscle=0.55, weight=0.50),
        *face(
            {
                "head-rectangular": 0.3,
                "chin-bones-incr": 0.2,
                "chin-width-incr": 0.25,
                "nose-hump-incr": 0.35,
                "nose-scale-vert-incr": 0.2,
                "mouth-upperlip-volume-decr": 0.1,
                "eyebrows-angle-up": 0.25,
                "mouth-angles-up": 0.25,
                "#-eye-trans-out": 0.4,
                "#-eye-scale-incr": 0.35,
                "#-ear-wing-decr": 0.2,
                "asym-brown-2-r": 0.25,
                "asym-jaw-1-l": 0.3,
                "asym-nose-1-r": 0.4,
                "asym-mouth-2-l": 0.3,
                "asym-ear-1-l": 0.5,
            }
        ),
        *lids(0.60),
    ),
    skin=SkinTone(
        0.32, undertone=(0.4, 0.3), redness=0.85, age=0.35, stubble=0.85, flat_brows=True
    ),
    eye_colour="blue",
    hair="crop",
    hair_colour="dark brown",
    top_colour=(0.085, 0.088, 0.05),
    brows=Brows(density=1.25, length=1.05, thickness=1.1, flat=True),
    seed=22,
)

CHIDI = Sitter(
    about="man of 30, very dark skin, muscular, shaved head",
    age_years=30,
    morphs=(
        *man(30, Ancestry(african=1.0), muscle=0.75, weight=0.50),
        *face(
            {
                "head-square": 0.2,
                "chin-prominent-incr": 0.2,
                "nose-width2-incr": 0.15,
                "mouth-angles-up": 0.35,
                "#-cheek-bones-incr": 0.3,
                "#-eye-trans-out": 0.4,
                "#-eye-scale-incr": 0.4,
                "#-ear-wing-decr": 0.3,
                "asym-brown-1-r": 0.35,
                "asym-jaw-2-r": 0.3,
                "asym-mouth-1-l": 0.25,
                "asym-nose-3-l": 0.3,
            }
        ),
        *lids(0.35),
    ),
    skin=SkinTone(0.07, undertone=(-0.3, 0.5), redness=0.9, age=0.15, stubble=0.3, flat_brows=True),
    eye_colour="dark brown",
    hair="bald",
    hair_colour="black",
    top_colour=(0.33, 0.33, 0.33),
    brows=Brows(density=1.2, thickness=1.1, flat=True),
    seed=33,
)

FLORIN = Sitter(
    about="man of 60, light ruddy skin, heavy, receding dark blond hair going grey",
    age_years=60,
    morphs=(
        *man(60, Ancestry(caucasian=0.85, asian=0.15), muscle=0.40, weight=0.78),
        *face(
            {
                "head-round": 0.45,
                "head-age-incr": 0.25,
                "neck-double-incr": 0.3,
                "nose-volume-incr": 0.3,
                "mouth-upperlip-volume-decr": 0.2,
                "mouth-angles-up": 0.4,
                "#-eye-bag-incr": 0.3,
                "#-eye-trans-out": 0.35,
                "#-eye-scale-incr": 0.3,
                "#-ear-scale-incr": 0.25,
                "asym-brown-2-l": 0.4,
                "asym-jaw-3-r": 0.12,
                "asym-mouth-1-l": 0.3,
                "asym-nose-2-r": 0.3,
                "asym-eye-1-l": 0.2,
            }
        ),
        *lids(0.50),
    ),
    skin=SkinTone(0.33, undertone=(0.6, 0.0), redness=1.25, age=0.7, stubble=0.3, flat_brows=True),
    eye_colour="grey",
    hair="receding",
    hair_colour="dark blond",
    top="jacket",
    top_colour=(0.055, 0.058, 0.065),
    greying=0.45,
    brows=Brows(length=1.15, flat=True),
    seed=66,
)

HARU = Sitter(
    about="man of 45, medium light skin, average build, short black hair with a fringe",
    age_years=45,
    morphs=(
        *man(45, Ancestry(asian=1.0), muscle=0.55, weight=0.46),
        *face(
            {
                "head-oval": 0.35,
                "chin-width-incr": 0.2,
                "nose-scale-horiz-incr": 0.1,
                "nose-greek-incr": 0.2,
                "mouth-scale-horiz-incr": 0.25,
                "mouth-angles-up": 0.2,
                "#-cheek-bones-incr": 0.35,
                "#-eye-trans-out": 0.25,
                "#-eye-scale-incr": 0.55,
                "#-ear-wing-decr": 0.3,
                "asym-brown-1-l": 0.35,
                "asym-jaw-1-r": 0.3,
                "asym-nose-3-r": 0.3,
                "asym-mouth-2-r": 0.25,
            }
        ),
        *lids(0.50, "asian"),
    ),
    skin=SkinTone(0.31, undertone=(-0.5, 1.0), redness=0.9, age=0.4, stubble=0.15, flat_brows=True),
    eye_colour="dark brown",
    hair="fringe",
    hair_colour="black",
    top="shirt",
    top_colour=(0.42, 0.46, 0.52),
    greying=0.06,
    glasses="square",
    brows=Brows(density=1.15, thickness=1.1, flat=True),
    seed=88,
)

JUMA = Sitter(
    about="man of 66, dark skin, average build, close-cropped grey hair, full beard",
    age_years=66,
    morphs=(
        *man(66, Ancestry(caucasian=0.15, african=0.85), muscle=0.45, weight=0.45),
        *face(
            {
                "head-rectangular": 0.35,
                "head-age-incr": 0.2,
                "chin-height-incr": 0.2,
                "nose-scale-vert-incr": 0.2,
                "nose-volume-incr": 0.2,
                "mouth-laugh-lines-in": 0.3,
                "mouth-angles-up": 0.4,
                "#-eye-bag-incr": 0.3,
                "#-eye-trans-out": 0.4,
                "#-eye-scale-incr": 0.3,
                "#-ear-scale-incr": 0.2,
                "#-ear-wing-decr": 0.1,
                "asym-brown-1-l": 0.35,
                "asym-jaw-1-r": 0.4,
                "asym-nose-1-l": 0.3,
                "asym-mouth-2-l": 0.3,
            }
        ),
        *lids(0.35),
    ),
    skin=SkinTone(0.11, undertone=(0.0, 0.5), redness=0.9, age=0.75, stubble=0.2, flat_brows=True),
    eye_colour="brown",
    hair="close crop",
    hair_colour="black",
    top="jacket",
    top_colour=(0.030, 0.040, 0.075),
    greying=0.75,
    beard="full",
    brows=Brows(density=1.1, length=1.1, flat=True),
    seed=110,
)

KAVI = Sitter(
    about="man of 33, medium brown skin, thin, black crop, short beard",
    age_years=33,
    morphs=(
        *man(33, Ancestry(caucasian=0.72, african=0.18, asian=0.10), muscle=0.40, weight=0.32),
        *face(
            {
                "head-oval": 0.45,
                "nose-curve-convex": 0.3,
                "nose-scale-vert-incr": 0.25,
                "mouth-lowerlip-volume-incr": 0.3,
                "mouth-angles-up": 0.3,
                "#-eye-trans-out": 0.3,
                "#-eye-scale-incr": 0.5,
                "asym-brown-2-r": 0.3,
                "asym-jaw-2-l": 0.3,
                "asym-nose-4-l": 0.4,
            }
        ),
        *lids(0.35),
    ),
    skin=SkinTone(0.23, undertone=(0.0, 1.0), redness=0.9, age=0.2, stubble=0.4, flat_brows=True),
    eye_colour="brown",
    hair="crop",
    hair_colour="black",
    top_colour=(0.24, 0.17, 0.055),
    beard="short",
    brows=Brows(density=1.3, thickness=1.15, flat=True),
    seed=121,
)

MEN = {
    "bram": BRAM,
    "chidi": CHIDI,
    "florin": FLORIN,
    "haru": HARU,
    "juma": JUMA,
    "kavi": KAVI,
}

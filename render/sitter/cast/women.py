"""The women of the cast; shape weights and colours were set by eye on invented faces."""

from __future__ import annotations

from render.sitter.cast.person import Brows, Sitter, SkinTone
from render.sitter.cast.recipes import Ancestry, face, lids, woman

ALMA = Sitter(
    about="woman of 36, fair skin, average build, dark brown bob",
    age_years=36,
    morphs=(
        *woman(36, Ancestry(caucasian=1.0), muscle=0.45, weight=0.44),
        *face(
            {
                "head-oval": 0.6,
                "forehead-scale-vert-decr": 0.35,
                "nose-scale-vert-incr": 0.25,
                "nose-point-width-decr": 0.2,
                "chin-height-incr": 0.2,
                "chin-width-decr": 0.3,
                "mouth-upperlip-volume-incr": 0.35,
                "mouth-lowerlip-volume-incr": 0.3,
                "mouth-angles-up": 0.45,
                "#-cheek-bones-incr": 0.35,
                "#-eye-trans-out": 0.15,
                "#-eye-scale-incr": 0.55,
                "#-ear-wing-decr": 0.4,
                "asym-brown-1-l": 0.35,
                "asym-mouth-1-r": 0.3,
                "asym-nose-2-l": 0.3,
            }
        ),
        *lids(0.32),
    ),
    skin=SkinTone(0.38, undertone=(0.5, -0.2), redness=1.05, age=0.15, freckles=0.3),
    eye_colour="hazel",
    hair="bob",
    hair_colour="dark brown",
    top_colour=(0.025, 0.085, 0.09),
    brows=Brows(density=0.85),
    seed=11,
)

DALIA = Sitter(
    about="woman of 27, brown skin, slender, black curls",
    age_years=27,
    morphs=(
        *woman(27, Ancestry(caucasian=0.45, african=0.55), muscle=0.45, weight=0.40),
        *face(
            {
                "head-diamond": 0.45,
                "nose-width1-decr": 0.2,
                "mouth-scale-horiz-incr": 0.25,
                "mouth-lowerlip-volume-incr": 0.25,
                "mouth-angles-up": 0.2,
                "#-eye-trans-out": 0.3,
                "#-eye-scale-incr": 0.45,
                "#-ear-wing-decr": 0.4,
                "asym-brown-2-l": 0.3,
                "asym-mouth-2-r": 0.3,
                "asym-eye-2-r": 0.3,
                "asym-cheek-1-l": 0.3,
            }
        ),
        *lids(0.15),
    ),
    skin=SkinTone(0.18, undertone=(0.5, 1.0), redness=0.9, age=0.1),
    eye_colour="dark brown",
    hair="curls",
    hair_colour="black",
    top="wrap",
    top_colour=(0.30, 0.085, 0.030),
    brows=Brows(density=1.1, thickness=1.05),
    seed=44,
)

EMI = Sitter(
    about="woman of 20, light skin, thin, long black hair",
    age_years=20,
    morphs=(
        *woman(20, Ancestry(asian=1.0), muscle=0.45, weight=0.36),
        *face(
            {
                "head-invertedtriangular": 0.35,
                "head-scale-depth-incr": 0.5,
                "head-scale-vert-incr": 0.4,
                "head-scale-horiz-incr": 0.2,
                "chin-height-decr": 0.2,
                "mouth-scale-horiz-incr": 0.25,
                "mouth-scale-depth-decr": 0.2,
                "mouth-lowerlip-volume-decr": 0.2,
                "mouth-angles-up": 0.3,
                "#-eye-trans-out": 0.25,
                "#-eye-scale-incr": 0.55,
                "#-ear-wing-decr": 0.5,
                "asym-brown-1-l": 0.3,
                "asym-nose-4-r": 0.3,
                "asym-mouth-1-r": 0.25,
                "asym-eye-5-l": 0.25,
            }
        ),
        *lids(0.42, "asian"),
        ("torso/measure-shoulder-dist-incr", 0.5),
    ),
    skin=SkinTone(0.42, undertone=(-0.8, 1.2), redness=0.85, age=0.05),
    eye_colour="dark brown",
    hair="long",
    hair_colour="black",
    top_colour=(0.045, 0.045, 0.050),
    brows=Brows(density=0.95),
    seed=55,
)

GERDA = Sitter(
    about="woman of 75, very fair skin, thin, white hair tied back",
    age_years=75,
    morphs=(
        *woman(75, Ancestry(caucasian=1.0), muscle=0.35, weight=0.38),
        *face(
            {
                "head-triangular": 0.25,
                "head-age-incr": 0.5,
                "nose-curve-convex": 0.3,
                "mouth-laugh-lines-in": 0.4,
                "mouth-upperlip-volume-decr": 0.35,
                "mouth-angles-up": 0.2,
                "chin-jaw-drop-incr": 0.2,
                "#-eye-bag-incr": 0.3,
                "#-eye-trans-out": 0.25,
                "#-eye-scale-incr": 0.3,
                "#-ear-wing-decr": 0.3,
                "asym-brown-1-r": 0.35,
                "asym-mouth-2-l": 0.3,
                "asym-cheek-2-r": 0.3,
                "asym-nose-1-l": 0.3,
            }
        ),
        *lids(0.40),
    ),
    skin=SkinTone(0.41, undertone=(0.5, 0.0), redness=1.1, age=0.95),
    eye_colour="green",
    hair="tied back",
    hair_colour="white",
    top_colour=(0.11, 0.012, 0.025),
    glasses="round",
    brows=Brows(density=0.7),
    seed=77,
)

INES = Sitter(
    about="woman of 47, fair freckled skin, heavy, red hair",
    age_years=47,
    morphs=(
        *woman(47, Ancestry(caucasian=0.75, asian=0.25), muscle=0.40, weight=0.80),
        *face(
            {
                "head-round": 0.4,
                "neck-double-incr": 0.35,
                "nose-point-down": 0.2,
                "nose-volume-incr": 0.15,
                "mouth-scale-horiz-incr": 0.2,
                "mouth-upperlip-volume-incr": 0.2,
                "#-cheek-volume-incr": 0.45,
                "nose-scale-vert-decr": 0.3,
                "chin-width-incr": 0.2,
                "mouth-angles-up": 0.35,
                "#-eye-trans-out": 0.35,
                "#-eye-scale-incr": 0.45,
                "#-ear-wing-decr": 0.4,
                "asym-brown-2-r": 0.3,
                "asym-mouth-1-l": 0.3,
                "asym-nose-3-l": 0.3,
            }
        ),
        *lids(0.25),
    ),
    skin=SkinTone(0.37, undertone=(0.6, 0.2), redness=1.15, age=0.4, freckles=0.8),
    eye_colour="green",
    hair="tied back",
    hair_colour="red",
    top="shirt",
    top_colour=(0.020, 0.045, 0.110),
    brows=Brows(density=0.9),
    seed=99,
)

LOTTE = Sitter(
    about="woman of 41, fair skin, athletic, long blond hair",
    age_years=41,
    morphs=(
        *woman(41, Ancestry(caucasian=0.9, asian=0.1), muscle=0.75, weight=0.50),
        *face(
            {
                "head-rectangular": 0.25,
                "chin-height-incr": 0.15,
                "chin-width-decr": 0.15,
                "nose-curve-concave": 0.2,
                "mouth-scale-horiz-incr": 0.2,
                "mouth-upperlip-volume-incr": 0.2,
                "nose-hump-incr": 0.15,
                "head-scale-vert-incr": 0.25,
                "mouth-angles-up": 0.35,
                "#-cheek-bones-incr": 0.3,
                "#-eye-trans-out": 0.35,
                "#-eye-scale-incr": 0.4,
                "#-ear-wing-decr": 0.4,
                "asym-brown-2-l": 0.3,
                "asym-mouth-2-r": 0.3,
                "asym-nose-2-r": 0.3,
            }
        ),
        *lids(0.25),
    ),
    skin=SkinTone(0.36, undertone=(0.4, 0.3), redness=1.0, age=0.3, freckles=0.15),
    eye_colour="blue",
    hair="long",
    hair_colour="blond",
    top_colour=(0.55, 0.53, 0.48),
    brows=Brows(density=0.9),
    seed=132,
)

WOMEN = {
    "alma": ALMA,
    "dalia": DALIA,
    "emi": EMI,
    "gerda": GERDA,
    "ines": INES,
    "lotte": LOTTE,
}

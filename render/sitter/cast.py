"""The cast: invented sitters as mixes of open shape changes; none is a real person."""

from __future__ import annotations

from dataclasses import dataclass, field

Morphs = tuple[tuple[str, float], ...]
Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class SkinTone:
    """What the skin maps need to know about a sitter; amounts are 0..1 unless stated."""

    reflectance: float  # luminous reflectance of plain facial skin
    undertone: tuple[float, float] = (0.0, 0.0)  # added to CIELAB a*, b*
    redness: float = 1.0  # 1 = average
    age: float = 0.3
    stubble: float = 0.0
    freckles: float = 0.0
    flat_brows: bool = False


@dataclass(frozen=True, slots=True)
class Brows:
    """Amount and cut of the eyebrows, 1 = average."""

    density: float = 1.0
    length: float = 1.0
    thickness: float = 1.0
    flat: bool = False


@dataclass(frozen=True, slots=True)
class Sitter:
    """One member of the cast."""

    morphs: Morphs
    skin: SkinTone
    eye_colour: str
    hair: str
    hair_colour: str
    top_colour: Colour  # linear sRGB reflectance
    top: str = "crew neck"
    greying: float = 0.0
    beard: str = "none"
    expression: str = "slight smile"
    glasses: str = "none"
    headwear: str = "none"
    headwear_colour: Colour = (0.05, 0.05, 0.06)  # linear sRGB reflectance
    brows: Brows = field(default_factory=Brows)
    seed: int = 1


def _macro(female: float, age: float, muscle: float, weight: float) -> Morphs:
    """Sex, age (0 = 25 years, 1 = old), muscle and weight as a mix of whole-body shapes."""
    muscles = _ends("minmuscle", "averagemuscle", "maxmuscle", muscle)
    weights = _ends("minweight", "averageweight", "maxweight", weight)
    out: list[tuple[str, float]] = []
    for sex, sex_share in (("female", female), ("male", 1 - female)):
        for years, age_share in (("young", 1 - age), ("old", age)):
            share = sex_share * age_share
            out.append((f"macrodetails/caucasian-{sex}-{years}", share))
            for m, m_share in muscles:
                for w, w_share in weights:
                    name = f"macrodetails/universal-{sex}-{years}-{m}-{w}"
                    out.append((name, share * m_share * w_share))
    return tuple((name, round(share, 4)) for name, share in out if share > 0.004)


def _ends(low: str, middle: str, high: str, x: float) -> tuple[tuple[str, float], ...]:
    return (
        (low, max(0.0, 1 - 2 * x)),
        (middle, 1 - abs(2 * x - 1)),
        (high, max(0.0, 2 * x - 1)),
    )


def _pair(name: str, weight: float) -> Morphs:
    """The same change on both sides; # stands for the side letter."""
    return ((name.replace("#", "l"), weight), (name.replace("#", "r"), weight))


def _open_lids(weight: float) -> Morphs:
    return (
        ("expression/units/caucasian/eye-left-opened-up", weight),
        ("expression/units/caucasian/eye-right-opened-up", weight),
    )


ALMA = Sitter(
    morphs=(
        *_macro(0.93, 0.30, 0.45, 0.44),
        ("head/head-oval", 0.6),
        ("forehead/forehead-scale-vert-decr", 0.35),
        ("nose/nose-scale-vert-incr", 0.25),
        ("nose/nose-point-width-decr", 0.2),
        ("chin/chin-height-incr", 0.2),
        ("chin/chin-width-decr", 0.3),
        ("mouth/mouth-upperlip-volume-incr", 0.35),
        ("mouth/mouth-lowerlip-volume-incr", 0.3),
        *_pair("cheek/#-cheek-bones-incr", 0.35),
        ("asym/asym-brown-1-l", 0.35),
        ("asym/asym-mouth-1-r", 0.3),
        ("asym/asym-nose-2-l", 0.3),
        ("torso/measure-shoulder-dist-decr", 0.4),
        *_open_lids(0.50),
    ),
    skin=SkinTone(0.38, undertone=(0.5, -0.2), redness=1.05, age=0.12, freckles=0.3),
    eye_colour="hazel",
    hair="bob",
    hair_colour="dark brown",
    top_colour=(0.025, 0.085, 0.09),
    brows=Brows(density=0.85),
    seed=11,
)

BRAM = Sitter(
    morphs=(
        *_macro(0.0, 0.30, 0.55, 0.50),
        ("head/head-rectangular", 0.3),
        ("chin/chin-bones-incr", 0.2),
        ("chin/chin-width-incr", 0.25),
        ("nose/nose-hump-incr", 0.35),
        ("nose/nose-scale-vert-incr", 0.2),
        ("mouth/mouth-upperlip-volume-decr", 0.1),
        ("eyebrows/eyebrows-angle-up", 0.25),
        ("asym/asym-brown-2-r", 0.25),
        ("asym/asym-jaw-1-l", 0.3),
        ("asym/asym-nose-1-r", 0.4),
        ("asym/asym-mouth-2-l", 0.3),
        ("asym/asym-ear-1-l", 0.5),
        ("torso/measure-shoulder-dist-decr", 0.4),
        *_open_lids(0.75),
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

# Hair over the ears presses them to the head.
PRESSED_EARS: dict[str, Morphs] = {"bob": _pair("ears/#-ear-wing-decr", 0.8)}

CAST = {"alma": ALMA, "bram": BRAM}

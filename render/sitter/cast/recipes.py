"""Recipes: a sitter's shape as weights of the open head data's shape changes."""

from __future__ import annotations

from typing import NamedTuple

Morphs = tuple[tuple[str, float], ...]

YOUNG_YEARS, OLD_YEARS = 25, 90  # ages that the data's "young" and "old" shapes stand for
_LEAST = 0.004  # shares below this change nothing that can be seen
# Cloth holds the chest up and in and hides its details; set by eye.
_UNDER_CLOTH: Morphs = (
    ("breast/female-young-averagemuscle-averageweight-mincup-maxfirmness", 0.7),
    ("breast/breast-dist-decr", 0.35),
    ("breast/breast-point-decr", 0.9),
    ("breast/breast-trans-up", 0.4),
    ("breast/breast-volume-vert-up", 0.6),
    ("breast/nipple-point-decr", 1.0),
)
# The muscle over the shoulder bulges while an arm is held up, as on the base mesh; the breadth
# then needed between the shoulders is that of adults. By eye.
_ARMS_DOWN: Morphs = (
    ("arms/l-upperarm-shoulder-muscle-decr", 0.9),
    ("arms/r-upperarm-shoulder-muscle-decr", 0.9),
    ("torso/measure-shoulder-dist-incr", 0.3),
    ("torso/torso-scale-horiz-incr", 0.1),
)


class Ancestry(NamedTuple):
    """Shares of the three ancestries that the data know; they add up to 1."""

    caucasian: float = 0.0
    african: float = 0.0
    asian: float = 0.0


def woman(years: float, ancestry: Ancestry, muscle: float = 0.5, weight: float = 0.5) -> Morphs:
    """A woman's head and body; muscle and weight 0..1, 0.5 is average."""
    return (*_body("female", years, ancestry, (muscle, weight)), *_UNDER_CLOTH)


def man(years: float, ancestry: Ancestry, muscle: float = 0.5, weight: float = 0.5) -> Morphs:
    """A man's head and body; muscle and weight 0..1, 0.5 is average."""
    return _body("male", years, ancestry, (muscle, weight))


def _body(sex: str, years: float, ancestry: Ancestry, build: tuple[float, float]) -> Morphs:
    age = min(1.0, max(0.0, (years - YOUNG_YEARS) / (OLD_YEARS - YOUNG_YEARS)))
    out: list[tuple[str, float]] = []
    for when, part in (("young", 1 - age), ("old", age)):
        for people, share in ancestry._asdict().items():
            out.append((f"macrodetails/{people}-{sex}-{when}", part * share))
        for muscle, m in _ends("minmuscle", "averagemuscle", "maxmuscle", build[0]):
            for weight, w in _ends("minweight", "averageweight", "maxweight", build[1]):
                out.append((f"macrodetails/universal-{sex}-{when}-{muscle}-{weight}", part * m * w))
    shape = tuple((name, round(share, 4)) for name, share in out if share > _LEAST)
    return (*shape, *_ARMS_DOWN)


def _ends(low: str, middle: str, high: str, x: float) -> Morphs:
    """Shares of three shapes that stand for 0, 1/2 and 1."""
    return (
        (low, max(0.0, 1 - 2 * x)),
        (middle, 1 - abs(2 * x - 1)),
        (high, max(0.0, 2 * x - 1)),
    )


def face(changes: dict[str, float]) -> Morphs:
    """Shape changes by the data's names without their folder; # stands for both sides.

    "nose-hump-incr" is nose/nose-hump-incr; "#-eye-bag-incr" is eyes/l-eye-bag-incr and
    eyes/r-eye-bag-incr with the same weight.
    """
    out: list[tuple[str, float]] = []
    for name, weight in changes.items():
        sides = ("l", "r") if name.startswith("#") else ("",)
        out += [(f"{_folder(name)}/{side}{name.removeprefix('#')}", weight) for side in sides]
    return tuple(out)


def _folder(name: str) -> str:
    part = name.removeprefix("#-").split("-")[0]
    return {"eye": "eyes", "ear": "ears"}.get(part, part)


def lids(opened: float, ancestry: str = "caucasian") -> Morphs:
    """Upper lids lifted off the eyes: the data's own heads look drowsy."""
    folder = f"expression/units/{ancestry}"
    return tuple((f"{folder}/eye-{side}-opened-up", opened) for side in ("left", "right"))

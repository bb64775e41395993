"""Expressions: what a face does when asked to smile, to laugh or to close its eyes."""

from __future__ import annotations

from dataclasses import dataclass

Morphs = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Expression:
    """One expression as a mix of the open data's face units; weights set by eye."""

    morphs: Morphs = ()
    lids_follow: bool = True  # False where the lids stay shut whatever the eyes do


def _both(name: str, left: float, right: float | None = None) -> Morphs:
    """The same face unit on both sides."""
    right = left if right is None else right
    return ((f"faceunits/{name}Left", left), (f"faceunits/{name}Right", right))


# The open data's lips stand a little apart at the corners.
_LIPS_SHUT: Morphs = (("faceunits/mouthClose", 0.08),)
# A smile also reaches the eyes and is slightly uneven, as smiles are.
_SLIGHT_SMILE = (*_LIPS_SHUT, *_both("mouthSmile", 0.30, 0.265), *_both("cheekSquint", 0.105))
_LAUGH = (
    ("faceunits/jawOpen", 0.30),
    *_both("mouthSmile", 0.74, 0.69),
    *_both("mouthUpperUp", 0.55),
    *_both("mouthLowerDown", 0.15),
    *_both("cheekSquint", 0.42),
    *_both("eyeSquint", 0.40),
    *_both("noseSneer", 0.10),
)
_EYES_CLOSED = (*_LIPS_SHUT, *_both("eyeBlink", 1.0))

EXPRESSIONS: dict[str, Expression] = {
    "neutral": Expression(_LIPS_SHUT),
    "slight smile": Expression(_SLIGHT_SMILE),
    "laugh": Expression(_LAUGH),
    "eyes closed": Expression(_EYES_CLOSED, lids_follow=False),
}

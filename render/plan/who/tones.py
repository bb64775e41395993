"""What a backdrop comes out as: its picture code, and the word black, dark, mid or white."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from render.photometry.srgb import luminance, srgb_decode, srgb_encode

Floats = NDArray[np.float64]
Word = Literal["black", "dark", "mid", "white"]

WHITE_CODE = 255.0
# Codes up to which a backdrop is called by a word. Black and clean: the project's trade notes
# (looks black on a screen; leaves no edge in a composite). White: common practice for detail white.
# Dark ends half way, in stops, between 18 % paper one stop and two stops under the key.
CLEAN_UP_TO, BLACK_UP_TO, DARK_UP_TO, WHITE_FROM = 3.0, 15.0, 71.0, 235.0
WORDS: tuple[Word, ...] = ("black", "dark", "mid", "white")


@dataclass(frozen=True, slots=True)
class Tone:
    """A surface in the picture, lit as predicted; no tone curve, no flare."""

    linear: tuple[float, float, float]  # red, green, blue; an 18 % card at the set f-number is 0.18
    codes: tuple[float, float, float]  # sRGB, 0 to 255
    code: float  # of its luminance
    word: Word
    clean: bool  # dark enough in every channel to be added to another picture


def code_of(linear: float) -> float:
    """sRGB code (0 to 255, not rounded) of linear light, 1 is white; clipped. IEC 61966-2-1."""
    return WHITE_CODE * float(srgb_encode(float(np.clip(linear, 0.0, 1.0))))


def word_of(code: float) -> Word:
    """What a backdrop of a code (0 to 255) is called; whole codes decide."""
    whole = round(code)
    if whole <= BLACK_UP_TO:
        return "black"
    if whole <= DARK_UP_TO:
        return "dark"
    return "mid" if whole < WHITE_FROM else "white"


def range_of(word: Word) -> tuple[float, float]:
    """Least and most linear luminance (1 is white) that go by a word; of white infinite."""
    first = {"black": None, "dark": BLACK_UP_TO, "mid": DARK_UP_TO, "white": WHITE_FROM - 1}
    last = {"black": BLACK_UP_TO, "dark": DARK_UP_TO, "mid": WHITE_FROM - 1, "white": None}
    low, high = first[word], last[word]
    return (
        0.0 if low is None else float(srgb_decode((low + 0.5) / WHITE_CODE)),
        float("inf") if high is None else float(srgb_decode((high + 0.5) / WHITE_CODE)),
    )


def tone_of(linear: Floats) -> Tone:
    """The tone of linear sRGB (3,), unclipped; a channel outside sRGB may be negative."""
    red, green, blue = (float(value) for value in linear)
    codes = (code_of(red), code_of(green), code_of(blue))
    code = code_of(float(luminance(linear)))
    clean = round(max(codes)) <= CLEAN_UP_TO
    return Tone((red, green, blue), codes, code, word_of(code), clean)

"""How every part of a scene is checked: frozen, no unknown keys, no infinities, no guessing."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)

from render.photometry.stops import FIRST_MARK, MARKS


class Part(BaseModel):
    """A frozen table of a scene or kit file; a text or a truth value is no number."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=True)

    @model_validator(mode="before")
    @classmethod
    def lists_are_tuples(cls, found: Any) -> Any:
        """TOML has lists where the frozen models have tuples."""
        if not isinstance(found, dict):
            return found
        return {k: tuple(v) if isinstance(v, list) else v for k, v in found.items()}


LARGEST = 1e12  # longer whole numbers fit no float
MOST_SHIFT_STOPS = 100.0
_POWER = re.compile(r"^\s*(?:1\s*/\s*)?(\d+(?:\.\d+)?)\s*(?:([+-])\s*(\d*\.\d+|\d+))?\s*$")
_SHOWN = re.compile(r"^\s*(?:f\s*/?\s*)?(\d+(?:\.\d+)?)\s*(?:\+\s*(0?\.\d+))?\s*$")
_SECONDS = re.compile(r"^\s*(?:1\s*/\s*)?(\d+(?:\.\d+)?)\s*$")


def share_of_full(found: Any) -> Any:
    """A power as the dial shows it, "1/16" or "1/16 +0.3" (stops) or a number, as share of full."""
    if not isinstance(found, str):
        return _number(found)
    match = _match(_POWER, found)
    value = 1 / float(match[1]) if "/" in found else float(match[1])
    if match[3]:
        # No dial goes further; the rest is refused as too much or too little.
        shift = min(float(match[3]), MOST_SHIFT_STOPS)
        value *= 2 ** (shift if match[2] == "+" else -shift)
    return value


def shown_f_number(found: Any) -> Any:
    """An f-number, or a text as a flash meter shows it: "8 +0.4" is a whole stop and tenths.

    Whole stops are marks of the engraved series, so 11 and "11" are 11.31, as on lens and meter.
    """
    if not isinstance(found, str):
        return _marked(_number(found))
    match = _match(_SHOWN, found)
    return _marked(float(match[1])) * 2 ** (0.5 * float(match[2] or 0))


def _marked(number: float) -> float:
    """What a mark of the engraved series stands for; other numbers as they are."""
    mark = f"{number:g}"
    return 2 ** ((MARKS.index(mark) + FIRST_MARK) / 2) if mark in MARKS else number


def seconds(found: Any) -> Any:
    """A shutter time, "1/125" or a number, in seconds."""
    if not isinstance(found, str):
        return _number(found)
    match = _match(_SECONDS, found)
    return 1 / float(match[1]) if "/" in found else float(match[1])


def _number(found: Any) -> Any:
    if isinstance(found, bool) or not isinstance(found, (int, float)):
        raise ValueError("neither a number nor a marking")
    if abs(found) > LARGEST:
        raise ValueError("beyond any marking")
    return found


def _match(pattern: re.Pattern[str], found: str) -> re.Match[str]:
    """The marking's parts, its first number not 0; raises ValueError."""
    match = pattern.match(found)
    if match is None or float(match[1]) == 0:
        raise ValueError("not a marking")
    return match


POWER_WORDS = 'a dial marking such as "1/16" or "1/16 +0.3" (stops), or a number up to 1'
SHUTTER_WORDS = 'a time such as "1/125", or seconds as a number'
CROP_WORDS = 'short to long side such as "4:5", cut from the sensor'
_SHOWN_WORDS = 'a number from 0.5 to 128, or stop and tenths such as "5.6 +0.3"'
F_NUMBER_WORDS = f"what the meter showed: {_SHOWN_WORDS}"
WISHED_WORDS = f"the wanted reading: {_SHOWN_WORDS}"
APERTURE_WORDS = f"aperture set on the camera: {_SHOWN_WORDS}"
PLACE_WORDS = (
    "a place [across, down] in shares of the look's width and height from its top left corner, "
    "each from -10 to 10"
)
LINE_WORDS = (
    "3 to 10000 places [across, down] in shares of the look's width and height from its top left "
    "corner, each from -10 to 10"
)
OWN_WORDS = (
    PLACE_WORDS,
    LINE_WORDS,
    POWER_WORDS,
    SHUTTER_WORDS,
    CROP_WORDS,
    F_NUMBER_WORDS,
    WISHED_WORDS,
    APERTURE_WORDS,
)  # descriptions that say what is accepted

Power = Annotated[
    float,
    BeforeValidator(share_of_full),
    Field(gt=0, le=1),
    WithJsonSchema({"type": ["number", "string"], "pattern": _POWER.pattern}),
]
ShownFNumber = Annotated[
    float,
    BeforeValidator(shown_f_number),
    Field(ge=0.5, le=128),
    WithJsonSchema({"type": ["number", "string"], "pattern": _SHOWN.pattern}),
]
Shutter = Annotated[
    float,
    BeforeValidator(seconds),
    Field(gt=0, le=60),
    WithJsonSchema({"type": ["number", "string"], "pattern": _SECONDS.pattern}),
]
Reflectance = Annotated[float, Field(ge=0, le=0.95)]
Coordinate = Annotated[float, Field(ge=-1000, le=1000)]  # [m]; no studio is a kilometre long
Vector = tuple[Coordinate, Coordinate, Coordinate]
Side = Annotated[float, Field(ge=1, le=1000)]
Sides = tuple[Side, Side]  # width and height of a front or panel [cm]
Name = Annotated[str, Field(pattern=r"^[\w-]+$")]  # also part of file names

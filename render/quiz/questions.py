"""What a quiz asks: kinds of questions, faults to find, and a question with its answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["ratio", "pattern", "side", "lights", "backdrop", "fault"]
KINDS: tuple[Kind, ...] = ("ratio", "pattern", "side", "lights", "backdrop", "fault")
Fault = Literal["nose", "spill", "frame", "crossed", "high", "clipped"]
# As the class reads them; short, so that two fit side by side.
FAULTS: dict[Fault, str] = {
    "nose": "hair light on the nose",
    "spill": "key spills on backdrop",
    "frame": "lamp in the frame",
    "crossed": "crossed nose shadows",
    "high": "key too high",
    "clipped": "face or cloth clipped",
}
PATTERNS = ("butterfly", "loop", "45-degree", "split", "rim")
SIDES = ("broad", "short", "neither")
MOST_LIGHTS = 4

# What is marked as right. Half a stop: common practice, no source; meters of a class differ by a
# tenth or two, and an eye that tells two pictures half a stop apart is a trained one.
TOLERANCE_STOPS = 0.5
REASON_STOPS = "half a stop (common practice, no source) and the standard error"
EXACT = "none: one answer is right"
SURE_PATTERN = "none: the key moved by 3 degrees any way makes the same"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer; its fields are keys of the JSON output."""

    name: str  # "K:F", "pattern"
    value: float | str
    shown: str
    low: float | None  # from here to `high` is right; None where one answer is
    high: float | None
    accepted: str  # the same in words
    standard_error_stops: float | None
    reason: str  # of the tolerance


@dataclass(frozen=True, slots=True)
class Line:
    """What the class writes on: choices to tick, or a blank between words."""

    before: str
    choices: tuple[str, ...] = ()  # none for a blank
    after: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A question, the set-up behind it as its scene file says it, and the answers."""

    number: int
    kind: Kind
    words: str
    lines: tuple[Line, ...]
    answers: tuple[Answer, ...]
    change: str  # what was done to the given scene, in words
    closer: bool  # the picture is of the face alone
    mark: tuple[float, float] | None  # place in the picture that is asked about, 0..1 from top left
    fault: Fault | None
    attempt: int  # how many set-ups were drawn for it before
    tables: dict[str, Any]

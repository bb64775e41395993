"""What is driven with bad input, by name, and how many of a thousand cases each gets."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.fuzz.asking import requests
from tests.fuzz.files import (
    kept,
    kits,
    lamps,
    lessons,
    pictures,
    quizzes,
    readings,
    recipes,
    scenes,
)
from tests.fuzz.heads import heads, meshes, people
from tests.fuzz.lines import commands, options

TARGETS: dict[str, tuple[Callable[[Path], Callable[[Random], None]], int]] = {
    "scenes": (scenes, 180),
    "people": (people, 4),
    "kits": (kits, 90),
    "readings": (readings, 90),
    "lessons": (lessons, 40),
    "recipes": (recipes, 90),
    "lamps": (lamps, 90),
    "meshes": (meshes, 113),
    "heads": (heads, 3),
    "pictures": (pictures, 110),
    "kept": (kept, 40),
    "quizzes": (quizzes, 20),
    "requests": (requests, 80),
    "commands": (commands, 20),
    "options": (options, 40),
}
HEAVY = ("heads", "people")  # seconds for a case

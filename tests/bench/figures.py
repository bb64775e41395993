"""What a part of the bench is: a command, what it is to show, and figures with their aims."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """One number; with an aim where the project has set one."""

    what: str
    value: float
    unit: str = ""
    at_most: float | None = None
    at_least: float | None = None

    @property
    def aim(self) -> str:
        """In words; empty without one."""
        told = [f"{way} {bound:g}" for way, bound in self._bounds()]
        return " and ".join(told)

    @property
    def met(self) -> bool | None:
        """Whether the aim is met; None without one."""
        if not self._bounds():
            return None
        low = self.at_least is None or self.value >= self.at_least
        return low and (self.at_most is None or self.value <= self.at_most)

    def _bounds(self) -> list[tuple[str, float]]:
        pairs = (("at least", self.at_least), ("at most", self.at_most))
        return [(way, bound) for way, bound in pairs if bound is not None]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the whole bench was asked for."""

    quick: bool
    bpy_python: str | None = None
    engine: str = "llvm"


@dataclass(frozen=True, slots=True)
class Told:
    """Figures of a part, and sentences about them."""

    figures: list[Figure]
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Part:
    """One bench: a module of this folder that prints JSON, and what its numbers mean."""

    name: str
    asks: str  # what it measures, and against what
    arguments: Callable[[Asked], list[str]]  # of `python -m tests.bench.<module>`
    judged: Callable[[Any], Told]
    read: Callable[[str], Any] = json.loads  # what the module prints
    module: str = ""  # the part's name, unless it says otherwise
    lacking: Callable[[Asked], str] = lambda _: ""  # what it needs and is not here

    def command(self, asked: Asked) -> list[str]:
        """Words after `python`."""
        return ["-m", f"tests.bench.{self.module or self.name}", *self.arguments(asked)]

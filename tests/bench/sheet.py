"""The report of a bench as Markdown and as plain data for JSON."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import Any

from tests.bench.figures import Asked, Figure, Part, Told

SAID = {True: "met", False: "missed", None: ""}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a part: its figures, or why there are none."""

    part: Part
    told: Told | None
    why_not: str = ""
    failed: bool = False  # else it was left out
    took_s: float = 0.0
    load: tuple[float, float] = (0.0, 0.0)  # before and after

    @property
    def verdict(self) -> str:
        """In a few words."""
        if self.told is None:
            return "failed" if self.failed else "left out"
        judged = [each.met for each in self.told.figures if each.met is not None]
        return f"{sum(judged)} of {len(judged)} met" if judged else "measured"


def data(asked: Asked, machine: dict[str, Any], date: str, outcomes: list[Outcome]) -> Any:
    """The whole report as plain data."""
    return {
        "date": date,
        "size": "quick" if asked.quick else "full",
        "machine": machine,
        "parts": [_part_data(asked, each) for each in outcomes],
    }


def markdown(asked: Asked, machine: dict[str, Any], date: str, outcomes: list[Outcome]) -> str:
    """The whole report for people."""
    size = "quick" if asked.quick else "full"
    rows = [
        f"| {each.part.name} | {each.verdict} | {_headline(each)} |"
        for each in outcomes  # a line of each, then each in full
    ]
    lines = [
        f"# Speed of tenthstop, {size} size, {date}",
        "",
        *(f"- {name.replace('_', ' ')}: {_plain(value)}" for name, value in machine.items()),
        "",
        *("| part | aims | |", "|---|---|---|", *rows, ""),
        *(line for each in outcomes for line in _section(asked, each)),
    ]
    return "\n".join(lines)


def _section(asked: Asked, outcome: Outcome) -> list[str]:
    part, told = outcome.part, outcome.told
    command = shlex.join(["python", *part.command(asked)])
    lines = [f"## {part.name}", "", part.asks, "", f"    {command}", ""]
    if told is None:
        how = "Failed" if outcome.failed else "Left out"
        return [*lines, f"{how}: {outcome.why_not}", ""]
    before, after = outcome.load
    lines += ["| figure | value | aim | |", "|---|---|---|---|"]
    lines += [
        f"| {each.what} | {_number(each)} | {each.aim} | {SAID[each.met]} |"
        for each in told.figures
    ]
    lines += ["", f"Took {outcome.took_s:.0f} s; load {before:g} before, {after:g} after."]
    return [*lines, *told.notes, ""]


def _headline(outcome: Outcome) -> str:
    """The misses of a part, or its first figure, or why there is none."""
    if outcome.told is None:
        return outcome.why_not.splitlines()[0]
    figures = outcome.told.figures
    missed = [each for each in figures if each.met is False]
    shown = missed or [each for each in figures if each.met] or figures[:1]
    mark = "missed: " if missed else ""
    more = f" and {len(shown) - 1} more" if len(shown) > 1 else ""
    return mark + (f"{shown[0].what} {_number(shown[0])}{more}" if shown else "")


def _number(figure: Figure) -> str:
    value = figure.value
    plain = f"{value:.0f}" if abs(value) >= 1000 or value == int(value) else f"{value:.3g}"
    return f"{plain} {figure.unit}".strip()


def _plain(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} {each}" for name, each in value.items())
    return str(value)


def _part_data(asked: Asked, outcome: Outcome) -> dict[str, Any]:
    told = outcome.told
    return {
        "name": outcome.part.name,
        "asks": outcome.part.asks,
        "command": shlex.join(["python", *outcome.part.command(asked)]),
        "outcome": outcome.verdict,
        "why_not": outcome.why_not or None,
        "took_s": round(outcome.took_s, 1),
        "load_before": outcome.load[0],
        "load_after": outcome.load[1],
        "figures": [
            {
                "what": each.what,
                "value": each.value,
                "unit": each.unit or None,
                "at_most": each.at_most,
                "at_least": each.at_least,
                "met": each.met,
            }
            for each in (told.figures if told else [])
        ],
        "notes": told.notes if told else [],
    }

"""`tenthstop combine`: the result, its recipe, and what was clipped, lifted or lost."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

from render.cli.combine_tables import show_report
from render.cli.pictures import writable
from render.combine.black_picture import write_black
from render.combine.making import Made, make
from render.combine.recipe import Recipe, read_recipe
from render.combine.written import (
    SUFFIXES,
    check_apart,
    check_new,
    inputs_of,
    words_of,
    write_recipe,
    write_result,
)
from render.errors import OutputError, RecipeError
from render.scenefile.parse import as_part

RECIPE_SUFFIX = ".toml"
OPTIONS = {"gain_stops": "--gain", "turn_deg": "--turn"}  # where an option is named otherwise


@dataclass(frozen=True, slots=True)
class Asked:
    """What is written, and how."""

    out: Path | None
    black: bool
    replace: bool
    as_json: bool


@dataclass(frozen=True, slots=True)
class Job:
    """A recipe, the folder that its paths start from, and whether to write it beside the result."""

    recipe: Recipe
    folder: Path
    out: Path
    own: bool  # the result of that very recipe, which may be made again without asking
    keeps: bool  # the recipe is to be written


def from_recipe(name: str, given: Mapping[str, Any], plates: Sequence[Path], asked: Asked) -> Job:
    """The job of a recipe file. Raises RecipeError, OutputError."""
    file = Path(name)
    if file.suffix.lower() != RECIPE_SUFFIX:
        raise OutputError(
            f"{name}: found one picture (accepted: LOOK and an ELEMENT or more, or a RECIPE.toml)"
        )
    for key in [*given, *(["plate"] if plates else [])]:
        raise OutputError(f"{_option(key)}: is for pictures (accepted: with a recipe, in its file)")
    recipe = read_recipe(file)
    named = file.parent / recipe.out
    if named.suffix.lower() not in SUFFIXES:
        accepted = f"a name that ends in {', '.join(SUFFIXES)}"
        raise RecipeError(file, "out", f'found "{recipe.out}"', f"accepted: {accepted}")
    if asked.out is None:
        own = named.with_suffix(RECIPE_SUFFIX).name == file.name and named.parent == file.parent
        return Job(recipe, file.parent, named, own, False)
    moved = recipe.model_copy(update={"out": str(asked.out.absolute())})
    return Job(moved, file.parent.absolute(), asked.out, False, True)


def from_pictures(
    names: Sequence[str], given: Mapping[str, Any], plates: Sequence[Path], asked: Asked
) -> Job:
    """The job of pictures on the command line. Raises OutputError."""
    if asked.out is None:
        raise OutputError("--out: found none (accepted: a name for the result, .png, .tif or .exr)")
    elements = []
    for k, name in enumerate(names[1:]):
        element: dict[str, Any] = {"file": name, "plates": [str(plate) for plate in plates]}
        element |= {key: _own(key, found, k, len(names) - 1) for key, found in given.items()}
        elements.append(element)
    tables = {"look": names[0], "out": str(asked.out), "element": elements}
    try:
        recipe = as_part(asked.out, tables, Recipe, RecipeError)
    except RecipeError as wrong:
        key = wrong.key.rpartition(".")[2]
        raise OutputError(f"{_option(key)}: {wrong.found} ({wrong.accepted})") from None
    return Job(recipe, Path(), asked.out, False, True)


def _option(key: str) -> str:
    return OPTIONS.get(key, f"--{key}")


def _own(key: str, found: Sequence[Any], k: int, count: int) -> Any:
    """An option's value for the element k. Raises OutputError."""
    if len(found) not in (1, count):
        raise OutputError(
            f"{_option(key)}: found {len(found)} of them (accepted: one, or one for each of "
            f"{count} elements)"
        )
    value = found[k] if len(found) > 1 else found[0]
    if key == "at":
        return _place(value)
    return value.value if isinstance(value, Enum) else value


def _place(words: str) -> list[float]:
    """A place from "X,Y". Raises OutputError."""
    try:
        across, down = (float(word) for word in words.split(","))
    except ValueError:
        raise OutputError(
            f'--at: found "{words}" (accepted: two numbers such as 0.5,0.4)'
        ) from None
    return [across, down]


def run_combine(job: Job, asked: Asked) -> None:
    """Make and write a result, its recipe and the pictures of black, and print the report."""
    beside = job.out.with_suffix(RECIPE_SUFFIX)
    dark = [
        job.out.with_name(f"{job.out.stem}.black-{k}.png")
        for k in range(1, len(job.recipe.element) + 1)
    ]
    outs = [job.out, *([beside] if job.keeps else []), *(dark if asked.black else [])]
    writable(job.out, SUFFIXES)
    check_apart(outs, inputs_of(job.recipe, job.folder))
    if not (asked.replace or job.own):
        check_new(outs)
    made = make(job.recipe, job.folder, asked.black)
    written = [write_result(job.out, made.linear, words_of(job.recipe))]
    if job.keeps:
        folder = job.folder.absolute()
        whole = job.recipe.model_copy(update={"out": str(job.out.absolute())})
        write_recipe(beside.absolute(), whole, folder)
        written.append(beside)
    if asked.black:
        written += _write_dark(made, dark)
    report = replace(made.report, out=str(job.out))
    if asked.as_json:
        print(json.dumps(asdict(report), indent=1, ensure_ascii=False))
    else:
        show_report(report, written)


def _write_dark(made: Made, dark: Sequence[Path]) -> list[Path]:
    """The picture of each element's black."""
    return [
        write_black(file, light, laid.black, Path(laid.file).name)
        for file, light, laid in zip(dark, made.lights, made.report.elements, strict=True)
    ]

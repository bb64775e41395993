"""Write a result and its recipe, whole or not at all, never over a picture it is made of."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import imageio.v3 as iio
import numpy as np
import tomlkit
from numpy.typing import NDArray
from PIL import Image

from render.combine.colour import Pixels
from render.combine.joining import BAND
from render.combine.recipe import Element, Recipe, Region
from render.errors import OutputError
from render.photometry.srgb import srgb_encode
from render.picture.files import (
    EXIF_DESCRIPTION,
    EXIF_SOFTWARE,
    WRITTEN_BY,
    srgb_profile,
    write_linear,
    write_whole,
)

SUFFIXES = (".png", ".tif", ".tiff", ".exr")
HEAD = "Made by `tenthstop combine`; change it and run `tenthstop combine` on it again."


def inputs_of(recipe: Recipe, folder: Path) -> list[Path]:
    """Every picture that a recipe reads."""
    names = [recipe.look]
    for element in recipe.element:
        names += [element.file, *element.plates]
    return [folder / name for name in names]


def words_of(recipe: Recipe) -> str:
    """One line that says what a result is made of."""
    parts = [Path(recipe.look).name]
    parts += [f"{Path(e.file).name} ({e.way}, {e.gain_stops:+g} stops)" for e in recipe.element]
    return f"tenthstop combine: {', '.join(parts)}"


def check_apart(outs: Iterable[Path], inputs: Iterable[Path]) -> None:
    """Raise OutputError where a result would be written over a picture it is made of."""
    read = list(inputs)
    for out in outs:
        for file in read:
            if _same(out, file):
                raise OutputError(
                    f"--out: {out} is one of the pictures it is made of (accepted: another name)"
                )


def check_new(outs: Iterable[Path]) -> None:
    """Raise OutputError where a result is there already."""
    for out in outs:
        if out.exists():
            raise OutputError(
                f"--out: {out} is there already (accepted: another name, or --replace)"
            )


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:  # one of them is not there yet
        return one.resolve() == other.resolve()


def write_result(out: Path, linear: Pixels, words: str) -> Path:
    """Write linear light (h, w, 3) by the name's end: 8-bit PNG, 16-bit TIFF, linear EXR.

    words : one line that says what it is made of
    Raises OutputError where it cannot be written.
    """
    suffix = out.suffix.lower()
    if suffix == ".png":
        exif = Image.Exif()
        exif[EXIF_SOFTWARE], exif[EXIF_DESCRIPTION] = WRITTEN_BY, words
        image = Image.fromarray(_levels(linear, np.uint8))
        kept: dict[str, Any] = {"icc_profile": srgb_profile(), "exif": exif}
        return write_whole(out, lambda part: image.save(part, format="PNG", **kept))
    if suffix == ".exr":
        return write_linear(out, linear, {"comments": words})
    if suffix not in SUFFIXES:
        raise OutputError(f"{out}: cannot be written: its name must end in {' or '.join(SUFFIXES)}")
    pixels = _levels(linear, np.uint16)
    said: dict[str, Any] = {
        "description": words.encode("ascii", "replace").decode(),
        "software": WRITTEN_BY,
        "iccprofile": srgb_profile(),
    }
    return write_whole(
        out,
        lambda part: iio.imwrite(
            part,
            pixels,
            plugin="tifffile",
            extension=".tif",
            photometric="rgb",
            compression="zlib",
            metadata=None,
            **said,
        ),
    )


def _levels(linear: Pixels, kind: type[np.uint8] | type[np.uint16]) -> NDArray[Any]:
    """sRGB levels (h, w, 3) of linear light, cut to what shows, a band of rows at a time."""
    top = np.iinfo(kind).max
    levels = np.empty(linear.shape, kind)
    for row in range(0, len(linear), BAND):
        band = linear[row : row + BAND].astype(np.float64)
        levels[row : row + BAND] = np.round(top * srgb_encode(np.clip(band, 0, 1)))
    return levels


def write_recipe(file: Path, recipe: Recipe, folder: Path) -> Path:
    """Write a recipe whose paths start from a folder; in the file they start from its own.

    Raises OutputError where it cannot be written.
    """
    page = tomlkit.document()
    page.add(tomlkit.comment(HEAD))
    page["look"] = _path(recipe.look, folder, file.parent)
    page["out"] = _path(recipe.out, folder, file.parent)
    page["black_code"] = recipe.black_code
    tables = tomlkit.aot()
    for element in recipe.element:
        tables.append(_table(element, folder, file.parent))
    page["element"] = tables
    text = tomlkit.dumps(page)
    return write_whole(file, lambda part: part.write_text(text, encoding="utf-8"))


def _table(element: Element, folder: Path, to: Path) -> tomlkit.items.Table:
    table = tomlkit.table()
    for key in Element.model_fields:
        value = getattr(element, key)
        if key == "file":
            table[key] = _path(value, folder, to)
        elif key == "plates":
            table[key] = [_path(name, folder, to) for name in value]
        elif key == "region":
            table[key] = _regions(value)
        elif value is not None:
            table[key] = list(value) if isinstance(value, tuple) else value
    if not element.region:
        table.remove("region")
    return table


def _regions(regions: tuple[Region, ...]) -> tomlkit.items.AoT:
    tables = tomlkit.aot()
    for region in regions:
        table = tomlkit.table()
        for key in Region.model_fields:
            value = getattr(region, key)
            table[key] = [list(point) for point in value] if key == "points" else value
        tables.append(table)
    return tables


def _path(name: str, folder: Path, to: Path) -> str:
    """A path from one folder as a path from another."""
    try:
        return Path(os.path.relpath(folder / name, to)).as_posix()
    except ValueError:  # on another drive
        return (folder / name).absolute().as_posix()

"""Make a result from its recipe: look, then element by element in their order."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from render.combine.black import Black, black_of, judged_by
from render.combine.colour import Pixels, brightest
from render.combine.joining import behind, difference, hidden, joined, lift
from render.combine.photo import Photo, read_photo
from render.combine.placing import Frame, covers, faded, frame_of, laid
from render.combine.plates import Subtracted, check_same_size, measured_plate, subtracted
from render.combine.raw import refused
from render.combine.recipe import Element, Recipe
from render.combine.regions import shown
from render.combine.report import Laid, Report, minded

DARK_CODE = 30.0  # the darkest tones in which a paler rectangle is seen first; trade notes
ROUNDING = 0.5 / 255 / 12.92  # light under half a code


@dataclass(frozen=True, slots=True)
class Made:
    """A result, the black of each element, and what there is to say."""

    linear: Pixels  # (h, w, 3) unclipped
    lights: tuple[Pixels, ...]  # of each element (h, w, 3), own size, plate and gain applied
    report: Report


@dataclass(frozen=True, slots=True)
class _Lit:
    """An element's picture as it will be added, and how it was found."""

    photo: Photo  # its light with plate and gain applied
    found: Black  # in the file, gain applied
    plate: Subtracted | None
    plate_black: Black | None  # of the plate, gain applied


def make(recipe: Recipe, folder: Path, keep_lights: bool = False) -> Made:
    """The result of a recipe whose paths start from a folder.

    keep_lights : also hand back the elements' own light, for pictures of their black
    Raises PhotoError for a picture that cannot be combined.
    """
    look = read_photo(folder / recipe.look)
    base, reports, lights = look.linear, [], []
    for element in recipe.element:
        lit = _lit(element, folder, recipe.black_code)
        base, report = _over(base, lit, element, recipe.black_code)
        reports.append(report)
        lights += [lit.photo.linear] if keep_lights else []
    return Made(base, tuple(lights), _report(recipe, look, base, tuple(reports)))


def _lit(element: Element, folder: Path, black_code: float) -> _Lit:
    """An element's light as it will be added, and how it was found."""
    photo = read_photo(folder / element.file)
    if element.matte == "alpha" and photo.alpha is None:
        found = "no transparency in it"
        raise refused(photo.file, found, 'a file with alpha, or matte = "light" or "none"')
    gain = np.float32(2**element.gain_stops)
    black = black_of(photo.linear * gain, black_code)
    if not element.plates:
        return _Lit(replace(photo, linear=photo.linear * gain), black, None, None)
    plate = measured_plate(_plates(element, folder, photo))
    light, told = subtracted(photo, plate)
    bare = black_of(plate.light * gain, black_code)
    return _Lit(replace(photo, linear=light * gain), black, told, bare)


def _plates(element: Element, folder: Path, photo: Photo) -> Iterator[Photo]:
    """The plates of an element, which have its size."""
    for name in element.plates:
        plate = read_photo(folder / name)
        check_same_size(plate, photo)
        yield plate


def _over(base: Pixels, lit: _Lit, element: Element, black_code: float) -> tuple[Pixels, Laid]:
    """The look (h, w, 3) with an element over it, and what became of the element."""
    size = (base.shape[1], base.shape[0])
    frame = frame_of(element, lit.photo.size, size)
    own = lit.photo.linear
    hides = _hides(lit.photo, element)
    planes = laid(own if hides is None else np.concatenate([own, hides[..., None]], -1), frame)
    weight = faded(frame, element.fade)
    lies, limits = weight > 0, shown(element.region, size)
    weight = weight if limits is None else weight * limits
    whole, inside = float(own.sum()) * _shrunk(frame), float(planes[..., :3].sum())
    planes *= weight[..., None]
    placed = np.ascontiguousarray(planes[..., :3])
    covered = _by_light(placed, element) if hides is None else planes[..., 3]
    base = behind(base, None if hides is None else covered)
    report = Laid(
        file=element.file,
        width_px=lit.photo.size[0],
        height_px=lit.photo.size[1],
        colour=lit.photo.colour,
        notes=lit.photo.notes,
        way=element.way,
        gain_stops=element.gain_stops,
        matte=element.matte,
        full_share=lit.photo.full,
        found=lit.found,
        plate=lit.plate,
        plate_black=lit.plate_black,
        black=_black(lit, black_code),
        outside_share=max(0.0, 1 - inside / whole) if whole > 0 else 0.0,
        masked_share=1 - float(placed.sum()) / inside if inside > 0 else 0.0,
        coverage=float(covered[lies].mean()) if lies.any() else 0.0,
        screen=difference(base, placed, black_code),
        warnings=(),
    )
    bare_edge = element.fade == 0 and not covers(frame)
    said = minded(report, bare_edge, element.opaque_code)
    return joined(base, placed, element.way), replace(report, warnings=said)


def _black(lit: _Lit, black_code: float) -> Black:
    """Black of an element as it is added; by its plate where it has one."""
    if lit.plate_black is None:
        return lit.found
    return judged_by(black_of(lit.photo.linear, black_code), lit.plate_black)


def _hides(photo: Photo, element: Element) -> Pixels | None:
    """Share (h, w) that an element hides, by its alpha or by its light; None: nothing."""
    if element.matte == "none":
        return None
    return photo.alpha if element.matte == "alpha" else _by_light(photo.linear, element)


def _by_light(light: Pixels, element: Element) -> Pixels:
    """Share (h, w) that light (h, w, 3) hides by the code that counts as opaque in the file."""
    return hidden(light / np.float32(2**element.gain_stops), element.opaque_code)


def _shrunk(frame: Frame) -> float:
    """Pixels of the look for each pixel of the element."""
    return (frame.width / frame.own[0]) ** 2


def _report(recipe: Recipe, look: Photo, result: Pixels, elements: tuple[Laid, ...]) -> Report:
    """What was clipped, lifted or lost in the whole."""
    tops = brightest(result)
    peak = float(tops.max())
    rise = lift(look.linear, result, DARK_CODE)
    said = [f"{each.file}: {words}" for each in elements for words in each.warnings]
    return Report(
        out=recipe.out,
        width_px=look.size[0],
        height_px=look.size[1],
        look=recipe.look,
        look_colour=look.colour,
        look_notes=look.notes,
        clipped_before_share=float((brightest(look.linear) > 1 + ROUNDING).mean()),
        clipped_share=float((tops > 1 + ROUNDING).mean()),
        over_white_stops=math.log2(peak) if peak > 1 + ROUNDING else None,
        outside_share=float((brightest(-result) > ROUNDING).mean()),
        lifted_code=None if rise is None else rise[0],
        lifted_share=None if rise is None else rise[1],
        keeps_all=Path(recipe.out).suffix.lower() == ".exr",
        elements=elements,
        warnings=tuple(said),
    )

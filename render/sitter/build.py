"""From a sitter's name and a few wishes to a whole body, made once and kept."""

from __future__ import annotations

from pathlib import Path

from render.errors import MeshError
from render.sitter.body import Body
from render.sitter.cast import CAST, HAIR_COLOURS, HAIR_STYLES
from render.sitter.gaze import looking_at
from render.sitter.head_data import data_version
from render.sitter.store import cache_file, digest_of, load_body, save_body
from render.sitter.wishes import Wishes

REFLECTANCE_RANGE = (0.05, 0.60)  # luminous reflectance of skin that the tones cover
MAKE = 18  # raise when the same wishes give another body


def sitter_names() -> tuple[str, ...]:
    """Names of the cast."""
    return tuple(CAST)


def hair_styles() -> tuple[str, ...]:
    """Names of the hair styles."""
    return HAIR_STYLES


def hair_colours() -> tuple[str, ...]:
    """Names of the hair colours."""
    return tuple(HAIR_COLOURS)


def _known(what: str, value: str, accepted: tuple[str, ...]) -> str:
    if value not in accepted:
        raise MeshError(f"unknown {what} {value!r} (choose from {', '.join(accepted)})")
    return value


def _reflectance(own: float, asked: float | None) -> float:
    low, high = REFLECTANCE_RANGE
    value = own if asked is None else float(asked)
    if not low <= value <= high:
        raise MeshError(f"skin reflectance {value:g} is outside {low:g} to {high:g}")
    return value


def build_body(
    name: str,
    *,
    data_dir: Path,
    skin_reflectance: float | None = None,
    hair: str | None = None,
    hair_colour: str | None = None,
    head_turn_deg: float = 0.0,
    head_nod_deg: float = 0.0,
    head_tilt_deg: float = 0.0,
    strand_count: int = 30000,
    map_width: int = 2048,
    cache_dir: Path | None = None,
    gaze_m: tuple[float, float, float] | None = (0.0, 0.0, 2.4),
) -> Body:
    """A sitter as plain geometry in metres, origin midway between the eyes, +z forward.

    data_dir         : folder with the head data
    skin_reflectance : luminous reflectance of plain facial skin, 0.05..0.60 (None: the sitter's)
    hair, hair_colour: see hair_styles(), hair_colours() (None: the sitter's)
    head_turn_deg    : + to the sitter's left; nod + down; tilt + crown to the sitter's right
    map_width        : width of the skin maps [texels]
    gaze_m           : point the eyes look at, in sitter space [m] (None: straight ahead)
    cache_dir        : folder that keeps finished bodies (None: do not keep)

    Raises MeshError for an unknown name, style or colour, a reflectance out of range, and missing
    or unreadable head data. The same arguments give the same body.
    """
    sitter = CAST[_known("sitter", name, sitter_names())]
    wishes = Wishes(
        name=name,
        reflectance=_reflectance(sitter.skin.reflectance, skin_reflectance),
        hair=_known("hair style", hair or sitter.hair, hair_styles()),
        hair_colour=_known("hair colour", hair_colour or sitter.hair_colour, hair_colours()),
        turn_deg=float(head_turn_deg),
        nod_deg=float(head_nod_deg),
        tilt_deg=float(head_tilt_deg),
        strand_count=int(strand_count),
        map_width=int(map_width),
    )
    version = digest_of(
        (MAKE, data_version(data_dir), wishes, sitter, HAIR_COLOURS[wishes.hair_colour])
    )
    body = _kept_body(wishes, data_dir, version, cache_dir)
    return body if gaze_m is None else looking_at(body, gaze_m)


def _kept_body(wishes: Wishes, data_dir: Path, version: str, cache_dir: Path | None) -> Body:
    """The body from the cache, or made and kept there; eyes straight ahead."""
    file = None if cache_dir is None else cache_file(cache_dir, version)
    body = None if file is None else load_body(file)
    if body is None or body.version != version:
        # Making a body needs large libraries that a kept one does without.
        from render.sitter.assembly import make_body

        body = make_body(wishes, CAST[wishes.name], data_dir, version)
        if file is not None:
            save_body(file, body)
    return body

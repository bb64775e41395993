"""The kit: what the bundled files list, then the photographer's own, which override by name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from render.errors import KitError
from render.folders import data_folder
from render.scenefile.gear import check_gear
from render.scenefile.gels import check_gels
from render.scenefile.parse import is_file, read_part
from render.studio.kit import Kit, KitReading, Modifier


class ReadingPlace(NamedTuple):
    """Where a reading stands: its file and its key there."""

    file: Path
    key: str


def read_kits(own: Sequence[Path] = ()) -> tuple[Kit, tuple[ReadingPlace, ...]]:
    """Everything that the bundled kit and own kit files list.

    own     : kit files, later ones override earlier ones by name
    returns : Kit, and for each of its readings where it stands
    Raises KitError with file, key, what was found and what would be accepted.
    """
    bundled = sorted(data_folder("scenes").glob("kit/*.toml"))
    files = [*bundled, *own]
    kits = [_kit(file) for file in files]
    kit = Kit(
        flash={name: entry for each in kits for name, entry in each.flash.items()},
        modifier={name: entry for each in kits for name, entry in each.modifier.items()},
        grid={name: entry for each in kits for name, entry in each.grid.items()},
        gel={name: entry for each in kits for name, entry in each.gel.items()},
        surface={name: entry for each in kits for name, entry in each.surface.items()},
        reading=tuple(reading for each in kits for reading in each.reading),
    )
    places = tuple(
        ReadingPlace(file, f"reading[{i}]")
        for file, each in zip(files, kits, strict=True)
        for i in range(len(each.reading))
    )
    for reading, place in zip(kit.reading, places, strict=True):
        _check_names(reading, place, kit)
    return kit, places


def _kit(file: Path) -> Kit:
    kit = read_part(file, Kit, KitError)
    check_gear(file, kit)
    check_gels(file, kit)
    return kit.model_copy(
        update={"modifier": {name: _beside(file, name, kit) for name in kit.modifier}}
    )


def _beside(file: Path, name: str, kit: Kit) -> Modifier:
    """The modifier with the whole path of its measured file, which stands beside the kit file."""
    modifier = kit.modifier[name]
    if modifier.measured_file is None:
        return modifier
    path = file.parent / modifier.measured_file
    if not is_file(path):
        found = f'no file "{modifier.measured_file}"'
        key = f"modifier.{name}.measured_file"
        raise KitError(file, key, found, "a file beside the kit file")
    return modifier.model_copy(update={"measured_file": str(path)})


def _check_names(reading: KitReading, place: ReadingPlace, kit: Kit) -> None:
    """Readings are of heads, modifiers, grids and gels that are in the kit; raises KitError."""
    wanted: list[tuple[str, str, Iterable[str]]] = [
        ("flash", reading.flash, kit.flash),
        ("modifier", reading.modifier, kit.modifier),
    ]
    if reading.grid is not None:
        wanted.append(("grid", reading.grid, kit.grid))
    wanted += [(f"gel[{i}]", gel, kit.gel) for i, gel in enumerate(reading.gel)]
    for key, found, known in wanted:
        if found not in known:
            names = f"accepted: {', '.join(sorted(known)) or 'none, the kit lists no such thing'}"
            raise KitError(place.file, f"{place.key}.{key}", f'found "{found}"', names)

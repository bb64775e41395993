"""What can be put on one flash head: a modifier with or without grid, with more or fewer cloths."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, fields, replace

from render.errors import OutputError, SceneError
from render.layout.lamps import key_index
from render.layout.modifiers import CLOTHED, DISHED, GRIDDED
from render.scenefile import Setup
from render.studio.light import Light

OPTION = "--modifiers"
MOST_CLOTHS = 3
# From the hardest to the softest. Kinds that are left out are whatever their owner has.
ORDER = (
    *("snoot", "bare", "reflector", "dish", "umbrella bounce", "umbrella through", "lantern"),
    *("strip", "round", "octa", "softbox"),
)
USUAL_GRID = {"softbox": "fabric-40", "reflector": "honeycomb-30"}
SHOWN_BARE = ("softbox",)  # kinds that are also shown without their cloths


@dataclass(frozen=True, slots=True)
class Outfit:
    """A modifier as it is put on the head."""

    modifier: str  # a name in the kit
    grid: str | None = None  # a name in the kit
    diffusers: int | None = None  # cloths; None for as many as it comes with

    @property
    def name(self) -> str:
        """As it is written under a picture."""
        words = [self.modifier]
        if self.diffusers is not None:
            many = {0: "no cloth", 1: "one cloth"}
            words.append(many.get(self.diffusers, f"{self.diffusers} cloths"))
        if self.grid is not None:
            words.append(f"grid {self.grid}")
        return ", ".join(words)


def usual_outfits(setup: Setup) -> tuple[Outfit, ...]:
    """One modifier of each kind in the kit, from hard to soft; some also with grid or bare."""
    kit, worn = setup.kit, key_light(setup)[1].modifier
    found: list[Outfit] = []
    for kind in ORDER:
        names = [name for name, entry in kit.modifier.items() if entry.kind == kind]
        if not names:
            continue
        own = worn if worn in names else names[0]
        found.append(Outfit(own))
        if USUAL_GRID.get(kind) in kit.grid:
            found.append(Outfit(own, grid=USUAL_GRID[kind]))
        if kind in SHOWN_BARE:
            found.append(Outfit(own, diffusers=0))
    return tuple(found)


def read_outfits(setup: Setup, words: str) -> tuple[Outfit, ...]:
    """Outfits as written on the command line: "snoot, softbox-60x90 grid=fabric-40 diffusers=1".

    Raises OutputError for an unknown modifier, grid or key.
    """
    found = tuple(_outfit(setup, part.split()) for part in words.split(",") if part.strip())
    if not found:
        raise OutputError(f"{OPTION}: found nothing (accepted: names of the kit, with commas)")
    return found


def _outfit(setup: Setup, words: list[str]) -> Outfit:
    kit = setup.kit
    name = _known(words[0], kit.modifier)
    outfit, kind = Outfit(name), kit.modifier[name].kind
    accepted = [f"diffusers=0 to {MOST_CLOTHS}"] if kind in (*CLOTHED, *DISHED) else []
    accepted += ["grid=NAME"] if kind in GRIDDED else []
    for word in words[1:]:
        key, _, value = word.partition("=")
        if key == "grid" and kind in GRIDDED:
            outfit = replace(outfit, grid=_known(value, kit.grid))
        elif key == "diffusers" and len(accepted) > 1 and value in map(str, range(MOST_CLOTHS + 1)):
            outfit = replace(outfit, diffusers=int(value))
        else:
            wanted = " or ".join(accepted) or "its name alone"
            raise OutputError(f'{OPTION}: found "{word}" on a {kind} (accepted: {wanted})')
    return outfit


def _known(name: str, entries: Collection[str]) -> str:
    if name not in entries:
        raise OutputError(f'{OPTION}: found "{name}" (accepted: {", ".join(sorted(entries))})')
    return name


def key_light(setup: Setup) -> tuple[str, Light]:
    """Name and settings of the key. Raises SceneError where it has no flash head."""
    lights = setup.scene.light
    name = list(lights)[key_index(lights)]
    if lights[name].flash is None:
        raise SceneError(
            setup.file, f"light.{name}.flash", "missing", "a flash of the kit to put modifiers on"
        )
    return name, lights[name]


def with_outfit(setup: Setup, outfit: Outfit, power: float, others: bool = False) -> Setup:
    """The set-up with another modifier on its key, the other lights off unless wanted.

    What went with the key's own modifier (grid, doors, cloths) goes with it; gels stay.
    """
    key, light = key_light(setup)
    changed = {"size_cm": None, "grid_deg": None, "doors": None, "on": True, "power": power}
    changed |= {field.name: getattr(outfit, field.name) for field in fields(outfit)}
    return _with_key(setup, key, light.model_copy(update=changed), others)


def as_it_stands(setup: Setup, others: bool = False) -> Setup:
    """The set-up with its own key, the other lights off unless wanted."""
    return _with_key(setup, *key_light(setup), others)


def _with_key(setup: Setup, key: str, light: Light, others: bool) -> Setup:
    lights = {
        name: each if others else each.model_copy(update={"on": False})
        for name, each in setup.scene.light.items()
    }
    scene = setup.scene.model_copy(update={"light": lights | {key: light}})
    return replace(setup, scene=scene)

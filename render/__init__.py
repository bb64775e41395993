"""tenthstop: predict the light of a portrait set-up before the sitter arrives.

    import render
    scene = render.load_scene("violin-two-lights")
    readings, picture, comparison = render.meter(scene), render.look(scene), render.compare(scene)

Names load on first use, so that `import render` stays light and never loads the tracer.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from render.picture import Look, look
    from render.report import Comparison, Readings, compare, meter
    from render.scenefile import Setup, load_scene

__version__ = "0.1.0"
__all__ = ["Comparison", "Look", "Readings", "Setup", "compare", "load_scene", "look", "meter"]

_HOMES = {
    "Comparison": "report",
    "Look": "picture",
    "Readings": "report",
    "Setup": "scenefile",
    "compare": "report",
    "load_scene": "scenefile",
    "look": "picture",
    "meter": "report",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)

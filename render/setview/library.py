"""The one door to the drawing library; run as a program it tries the machine's GL.

Imports nothing of this package, so that a trial is quick and stands alone.
"""

from __future__ import annotations

import os
import sys
from typing import Any

SIDE_PX = 8  # of the picture that a trial draws
RED = (255, 0, 0)


def load() -> Any:
    """The library, told to open no window; slow the first time.

    Raises whatever a machine without GL makes it raise.
    """
    if sys.platform == "linux":
        os.environ["PYOPENGL_PLATFORM"] = "egl"
        import pyglet

        pyglet.options["headless"] = True  # else it asks for the libraries of a window system
    import pyrender

    return pyrender


def draw_red() -> bool:
    """Whether an empty scene with a red ground comes out red."""
    pyrender = load()
    painter = pyrender.OffscreenRenderer(SIDE_PX, SIDE_PX)
    scene = pyrender.Scene(bg_color=[1.0, 0.0, 0.0, 1.0])
    scene.add(pyrender.PerspectiveCamera(1.0))
    picture, _ = painter.render(scene, pyrender.RenderFlags.FLAT)
    painter.delete()
    return tuple(int(value) for value in picture[SIDE_PX // 2, SIDE_PX // 2, :3]) == RED


if __name__ == "__main__":
    print("drawn" if draw_red() else "wrong")

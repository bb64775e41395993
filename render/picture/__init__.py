"""Pictures: exposure, development and files."""

from render.picture.develop import Exposure, Picture
from render.picture.take import Look, look

__all__ = ["Exposure", "Look", "Picture", "look"]

"""The border between TOML files and the models of the studio."""

from render.scenefile.read import Setup, load_scene

__all__ = ["Setup", "load_scene"]

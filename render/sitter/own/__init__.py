"""The photographer's own head: a scan or model from a file, checked, fitted and made a sitter."""

from render.sitter.own.build import own_body
from render.sitter.own.wish import AXES, MARKS, SUFFIXES, UNITS_M, OwnMesh

__all__ = ["AXES", "MARKS", "SUFFIXES", "UNITS_M", "OwnMesh", "own_body"]

"""The command line, `tenthstop COMMAND`."""

from render.cli.app import main

__all__ = ["main"]

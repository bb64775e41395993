"""The command line: `tenthstop look | meter | compare | doctor | keys`."""

from render.cli.app import main

__all__ = ["main"]

"""The command line, `tenthstop COMMAND`."""

import os

# Linear algebra here is small: a second thread of it only waits, at full speed.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from render.cli.app import main

__all__ = ["main"]

"""Save a scene as the page does, over and over, until somebody kills this process.

`python -m tests.faults.saving FILE` turns the key between two powers and saves each time.
"""

from __future__ import annotations

import sys
from itertools import cycle
from pathlib import Path

from render.page.document import open_document

POWERS = ("1/8", "1/16")


def main() -> None:
    """Never ends by itself."""
    document = open_document(Path(sys.argv[1]), None)
    print("ready", flush=True)
    for power in cycle(POWERS):
        document.take(document.edited({"light.key.power": power}))
        document.save()


if __name__ == "__main__":
    main()

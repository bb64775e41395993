"""The card from the shell, its pages side by side: `python -m tests.bench.drawn` prints JSON."""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

from tests.bench.shell import command, timed

SCENE, REPEATS = "violin-two-lights", 3


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        card = ["card", SCENE, "--out", "card.png"]
        command(card, folder)  # makes the sitter
        drawn = min(command(card, folder)[0] for _ in range(REPEATS))
        beside = [sys.executable, "-m", "tests.bench.pages", "card.png", "card-2.png", "both.png"]
        laid = min(timed(beside, folder)[0] for _ in range(REPEATS))
    print(json.dumps({"card_of_two_pages_s": drawn, "its_pages_side_by_side_s": laid}))


if __name__ == "__main__":
    main()

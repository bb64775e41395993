"""`tenthstop open [SCENE]`: the page, and where it is."""

from __future__ import annotations

import sys

from render.cli.paper import printer
from render.page.guard import Door
from render.page.serve import Opened, is_here, open_page


def run_open(asked: Opened) -> None:
    """Serve the page until Ctrl-C."""
    open_page(asked, _say)
    print("tenthstop: the page is closed; finished light is kept", file=sys.stderr)


def _say(door: Door) -> None:
    console = printer()
    shared = not is_here(door.address)
    if shared:
        console.print(
            f"Caution: everyone in the network of {door.address} who has this address can see and "
            "change the scene, and it travels unencrypted. Use it in a network that you trust.",
            highlight=False,
        )
    console.print("The page is open at", highlight=False)
    print(door.url, flush=True)  # on one line, however long
    if shared:
        _square(door.url)
    console.print("Ctrl-C closes it.", highlight=False)


def _square(url: str) -> None:
    """The address as a QR code, for a tablet's camera."""
    import segno

    segno.make(url, error="m").terminal(compact=True)

"""Arguments of the command that opens the page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import EngineOption

commands = typer.Typer()

SCENE = "violin-two-lights"  # without one


@commands.command("open")
def open_command(
    scene: Annotated[
        str,
        typer.Argument(
            metavar="[SCENE]", help="scene file, or the name of a bundled scene", show_default=True
        ),
    ] = SCENE,
    save_as: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="new file to save to; bundled scenes need one"),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="open it in the browser")
    ] = True,
    host: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="address of this machine to serve on, for a tablet in the same network that you "
            "trust; prints its QR code",
        ),
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes a free one")] = 0,
    engine: EngineOption = "auto",
) -> None:
    """Open a page on this machine: change lights and powers, see look and readings at once.

    It edits the same scene file; nothing is written before you save. For this machine, or a network
    that you trust: whoever has the printed address can change the scene.
    """
    from render.cli.page import run_open
    from render.page.serve import Opened

    run_open(Opened(scene, save_as, host, port, engine, browser))

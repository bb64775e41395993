"""Arguments of the commands that list: the kit, what works on this machine, the keys of files."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import (
    ColumnsOption,
    CsvOption,
    EngineOption,
    JsonOption,
    ListName,
    PictureSizeOption,
    one_form,
    samples,
)
from render.errors import OutputError

commands = typer.Typer()


@commands.command()
def lights(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="to compare modifiers on the key of a scene")
    ] = "",
    modifiers: Annotated[
        str,
        typer.Option(
            metavar="NAME,...",
            help='those to compare, such as "snoot, octa-90 grid=fabric-40 diffusers=1"; default: '
            "one of each kind",
        ),
    ] = "",
    out: Annotated[
        Path | None, typer.Option(help="sheet to write (PNG); default: lights.png beside a table")
    ] = None,
    quality: Annotated[str, samples("of its pictures: ")] = "proof",
    size: PictureSizeOption = 480,
    columns: ColumnsOption = 4,
    close: Annotated[
        bool, typer.Option("--close", help="pictures of the face instead of the scene's frame")
    ] = False,
    all_lights: Annotated[
        bool, typer.Option("--all-lights", help="leave the other lights on in its pictures")
    ] = False,
    engine: EngineOption = "auto",
    kit: Annotated[
        list[Path] | None, typer.Option(metavar="FILE", help="kit file of your own, repeatable")
    ] = None,
    flash: Annotated[
        str, typer.Option(metavar="NAME", help="head that guide numbers are for")
    ] = "monobloc-400",
    only: Annotated[ListName | None, typer.Option(help="one list of them")] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List flash heads, modifiers, grids, gels and surfaces with their numbers.

    With --kit, your own kit as well, and each of its readings beside what was to be expected.
    CSV is one list: the modifiers, or that of --only.

    With a SCENE, compare modifiers instead: one after the other on its key, for one face reading,
    as a table and as a sheet of pictures.
    """
    from render.cli.lights import run_lights

    one_form(as_json, as_csv)
    if scene:
        from render.cli.modifiers import Wanted, run_modifiers

        if kit or only:
            option = "--kit" if kit else "--only"
            raise OutputError(f"{option}: is for the list (accepted: without a SCENE)")
        sheet = out or (None if as_json or as_csv else Path("lights.png"))
        wanted = Wanted(sheet, quality, size, columns, all_lights, close)
        run_modifiers(scene, modifiers, wanted, engine, as_json, as_csv)
        return
    if modifiers or out or all_lights or close:
        raise OutputError("SCENE: found none (accepted: a scene to compare modifiers in)")
    run_lights(kit or [], flash, only or "", as_json, as_csv)


@commands.command()
def doctor(
    clear: Annotated[
        bool, typer.Option("--clear", help="delete the light frames that are kept")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Say what works here: versions, engine, GPU, GL, stored frames, and what to install."""
    from render.cli.examine import run_doctor

    run_doctor(clear, as_json)


@commands.command()
def keys(
    schema: Annotated[
        bool, typer.Option("--schema", help="JSON schema for editors instead of the page")
    ] = False,
) -> None:
    """Print every key of scene and kit files with its unit, range and default."""
    import json

    from render.scenefile import document

    print(json.dumps(document.schema(), indent=1) if schema else document.page())

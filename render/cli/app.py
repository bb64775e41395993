"""Arguments of the commands that look, meter and list; the work is imported when one runs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from render.cli import combining, opening, planning, teaching
from render.cli.options import (
    AimName,
    BounceOption,
    ClusterOption,
    CsvOption,
    EngineName,
    EngineOption,
    JsonOption,
    ListName,
    ReceptorName,
    SceneArgument,
    WorkersOption,
    one_form,
)
from render.errors import OutputError, TenthstopError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Predict the light of a portrait set-up before the sitter arrives.",
)
app.add_typer(planning.commands)
app.add_typer(teaching.commands)
app.add_typer(opening.commands)
app.add_typer(combining.commands)


ReadingPrecision = Annotated[
    float | None,
    typer.Option(
        min=0.0005,
        max=1.0,
        metavar="STOPS",
        help="standard error that every traced reading is to have",
    ),
]

CAST_SCENE = "violin-two-lights"  # for --cast without a scene
INTERRUPTED = 130  # exit code after Ctrl-C, by convention of the shell


@app.command()
def look(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="scene file, or the name of a bundled scene")
    ] = "",
    out: Annotated[Path, typer.Option(help="picture to write (PNG)")] = Path("look.png"),
    quality: Annotated[
        str, typer.Option(help="draft, proof, final, or samples per pixel")
    ] = "proof",
    size: Annotated[
        int, typer.Option(min=16, max=8192, help="longer side of the picture [px]")
    ] = 1200,
    engine: EngineOption = EngineName.auto,
    tiff: Annotated[bool, typer.Option("--tiff", help="also a 16-bit TIFF")] = False,
    exr: Annotated[bool, typer.Option("--exr", help="also a linear EXR")] = False,
    one_light: Annotated[
        bool, typer.Option("--one-light", help="also a picture of every light alone")
    ] = False,
    stops: Annotated[
        bool, typer.Option("--stops", help="also a map of the stops over the face")
    ] = False,
    tables: Annotated[
        bool, typer.Option("--tables", help="also print the meter and comparison tables")
    ] = False,
    cast: Annotated[
        bool, typer.Option("--cast", help="one sheet of all bundled sitters in the scene's light")
    ] = False,
    columns: Annotated[int, typer.Option(min=1, max=20, help="of that sheet")] = 5,
    precision: Annotated[
        float | None,
        typer.Option(
            min=0.001,
            max=1.0,
            metavar="STOPS",
            help="trace until every patch and the median pixel have that standard error",
        ),
    ] = None,
    denoise: Annotated[
        bool, typer.Option("--denoise", help="take the grain off the pictures, not off numbers")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="print how sure it is as JSON instead of sentences")
    ] = False,
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
) -> None:
    """Render the look: one light frame per light, mixed and exposed as on the camera.

    With --stops, also a page that shows how far every place lies over or under the key cheek.
    """
    many = (workers, cluster)
    if cast:
        from render.cli.pictures import run_cast

        others = tiff or exr or one_light or tables or stops or denoise or as_json
        if others or precision is not None:
            raise OutputError("--cast: makes one PNG sheet (accepted: without other outputs)")
        run_cast(scene or CAST_SCENE, out, quality, size, engine.value, columns, many)
        return
    if not scene:
        raise OutputError("SCENE: found none (accepted: a scene, or --cast)")
    from render.cli.looks import Wanted, run_look

    forms = {"tiff": tiff, "exr": exr, "one_light": one_light, "stops": stops, "tables": tables}
    wanted = Wanted(out, quality, size, precision, denoise, as_json=as_json, **forms)
    run_look(scene, wanted, engine.value, many)


@app.command()
def meter(
    scene: SceneArgument,
    receptor: Annotated[ReceptorName | None, typer.Option(help="for every reading")] = None,
    aim: Annotated[AimName | None, typer.Option(help="for every reading")] = None,
    bounce: BounceOption = True,
    detail: Annotated[bool, typer.Option("--detail", help="one line for every reading")] = False,
    bounced_by: Annotated[
        bool, typer.Option("--bounced-by", help="also the surfaces that the bounce comes from")
    ] = False,
    precision: ReadingPrecision = None,
    engine: EngineOption = EngineName.auto,
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Predict what the flash meter shows, each light alone and all together.

    By default a light alone is read with the flat receptor aimed at it, and all together with
    the dome aimed at the camera (backdrop: flat, along its normal).
    """
    from render.cli.tables import run_meter

    one_form(as_json, as_csv)
    chosen = (receptor.value if receptor else None, aim.value if aim else None)
    if precision is not None and not bounce:
        raise OutputError("--precision: found together with --direct (accepted: one of them)")
    many = (workers, cluster)
    forms = (as_json, as_csv, detail, bounced_by)
    run_meter(scene, chosen, bounce, engine.value, *forms, many, precision)


@app.command()
def compare(
    scene: SceneArgument,
    out: Annotated[
        Path | None, typer.Option(help="also write the look with the patches marked (PNG)")
    ] = None,
    quality: Annotated[
        str, typer.Option(help="of that picture: draft, proof, final, or samples per pixel")
    ] = "draft",
    precision: ReadingPrecision = None,
    engine: EngineOption = EngineName.auto,
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 unless every judged row agrees")
    ] = False,
) -> None:
    """Compare predicted and rendered stops: matte direct, matte with room, as seen."""
    from render.cli.tables import run_compare

    one_form(as_json, as_csv)
    many = (workers, cluster)
    agrees = run_compare(scene, out, quality, engine.value, as_json, as_csv, many, precision)
    if strict and not agrees:
        raise typer.Exit(1)


@app.command()
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
    quality: Annotated[
        str, typer.Option(help="of its pictures: draft, proof, final, or samples per pixel")
    ] = "proof",
    size: Annotated[
        int, typer.Option(min=16, max=8192, help="longer side of each picture [px]")
    ] = 480,
    columns: Annotated[int, typer.Option(min=1, max=20, help="of that sheet")] = 4,
    close: Annotated[
        bool, typer.Option("--close", help="pictures of the face instead of the scene's frame")
    ] = False,
    all_lights: Annotated[
        bool, typer.Option("--all-lights", help="leave the other lights on in its pictures")
    ] = False,
    engine: EngineOption = EngineName.auto,
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
        run_modifiers(scene, modifiers, wanted, engine.value, as_json, as_csv)
        return
    if modifiers or out or all_lights or close:
        raise OutputError("SCENE: found none (accepted: a scene to compare modifiers in)")
    run_lights(kit or [], flash, only.value if only else "", as_json, as_csv)


@app.command()
def doctor(
    clear: Annotated[
        bool, typer.Option("--clear", help="delete the light frames that are kept")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Say what works here: versions, engine, GPU, GL, stored frames, and what to install."""
    from render.cli.examine import run_doctor

    run_doctor(clear, as_json)


@app.command()
def keys(
    schema: Annotated[
        bool, typer.Option("--schema", help="JSON schema for editors instead of the page")
    ] = False,
) -> None:
    """Print every key of scene and kit files with its unit, range and default."""
    import json

    from render.scenefile import document

    print(json.dumps(document.schema(), indent=1) if schema else document.page())


def main() -> None:
    """Run the command line; a user's error is one sentence and exit code 2."""
    try:
        app()
    except TenthstopError as problem:
        print(f"tenthstop: {problem}", file=sys.stderr)
        sys.exit(2)
    except SystemExit as ended:
        # The argument reader turns an interrupt into this exit code.
        if ended.code == INTERRUPTED:
            print("tenthstop: stopped; finished light is kept", file=sys.stderr)
        raise
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)

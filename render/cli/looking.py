"""Arguments of the commands that look at a scene: its picture, its readings, both compared."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import (
    AimName,
    BounceOption,
    ClusterOption,
    ColumnsOption,
    CsvOption,
    EngineOption,
    JsonOption,
    QualityOption,
    ReadingPrecision,
    ReceptorName,
    SceneArgument,
    WorkersOption,
    one_form,
    pixels,
    samples,
)
from render.errors import OutputError

commands = typer.Typer()

CAST_SCENE = "violin-two-lights"  # for --cast without a scene


@commands.command()
def look(
    scene: Annotated[
        str, typer.Argument(metavar="SCENE", help="scene file, or the name of a bundled scene")
    ] = "",
    out: Annotated[Path, typer.Option(help="picture to write (PNG)")] = Path("look.png"),
    quality: QualityOption = "proof",
    size: Annotated[int, pixels("longer side of the picture")] = 1200,
    engine: EngineOption = "auto",
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
    columns: ColumnsOption = 5,
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
        run_cast(scene or CAST_SCENE, out, quality, size, engine, columns, many)
        return
    if not scene:
        raise OutputError("SCENE: found none (accepted: a scene, or --cast)")
    from render.cli.looks import Wanted, run_look

    forms = {"tiff": tiff, "exr": exr, "one_light": one_light, "stops": stops, "tables": tables}
    wanted = Wanted(out, quality, size, precision, denoise, as_json=as_json, **forms)
    run_look(scene, wanted, engine, many)


@commands.command()
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
    engine: EngineOption = "auto",
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
    chosen = (receptor, aim)
    if precision is not None and not bounce:
        raise OutputError("--precision: found together with --direct (accepted: one of them)")
    many = (workers, cluster)
    forms = (as_json, as_csv, detail, bounced_by)
    run_meter(scene, chosen, bounce, engine, *forms, many, precision)


@commands.command()
def compare(
    scene: SceneArgument,
    out: Annotated[
        Path | None, typer.Option(help="also write the look with the patches marked (PNG)")
    ] = None,
    quality: Annotated[str, samples("of that picture: ")] = "draft",
    precision: ReadingPrecision = None,
    engine: EngineOption = "auto",
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 unless every judged row agrees")
    ] = False,
) -> None:
    """Compare predicted and rendered stops: matte direct, matte with room, as seen."""
    from render.cli.compared import run_compare

    one_form(as_json, as_csv)
    many = (workers, cluster)
    agrees = run_compare(scene, out, quality, engine, as_json, as_csv, many, precision)
    if strict and not agrees:
        raise typer.Exit(1)

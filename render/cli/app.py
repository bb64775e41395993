"""Arguments of every command; the work itself is imported when a command runs."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from render.errors import OutputError, TenthstopError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Predict the light of a portrait set-up before the sitter arrives.",
)


CAST_SCENE = "violin-two-lights"  # for --cast without a scene
INTERRUPTED = 130  # exit code after Ctrl-C, by convention of the shell


class EngineName(StrEnum):
    """Engines that --engine takes."""

    auto = "auto"
    cuda = "cuda"
    llvm = "llvm"
    scalar = "scalar"


class ReceptorName(StrEnum):
    """Receptors that --receptor takes."""

    flat = "flat"
    dome = "dome"


class AimName(StrEnum):
    """Aims that --aim takes."""

    light = "light"
    camera = "camera"
    normal = "normal"


class WordName(StrEnum):
    """Words for a backdrop that --want takes."""

    black = "black"
    dark = "dark"
    mid = "mid"
    white = "white"


class PaperName(StrEnum):
    """Sizes that --paper takes."""

    a4 = "a4"
    letter = "letter"


class ListName(StrEnum):
    """Lists that --only takes."""

    flashes = "flashes"
    modifiers = "modifiers"
    grids = "grids"
    readings = "readings"
    gels = "gels"
    surfaces = "surfaces"


SceneArgument = Annotated[
    str, typer.Argument(metavar="SCENE", help="scene file, or the name of a bundled scene")
]
EngineOption = Annotated[EngineName, typer.Option(help="which engine traces the light")]
JsonOption = Annotated[bool, typer.Option("--json", help="print JSON instead of a table")]
CsvOption = Annotated[bool, typer.Option("--csv", help="print CSV instead of a table")]


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
    tables: Annotated[
        bool, typer.Option("--tables", help="also print the meter and comparison tables")
    ] = False,
    cast: Annotated[
        bool, typer.Option("--cast", help="one sheet of all bundled sitters in the scene's light")
    ] = False,
    columns: Annotated[int, typer.Option(min=1, max=20, help="of that sheet")] = 5,
) -> None:
    """Render the look: one light frame per light, mixed and exposed as on the camera."""
    from render.cli.pictures import run_cast, run_look

    if cast:
        if tiff or exr or one_light or tables:
            raise OutputError("--cast: makes one PNG sheet (accepted: without other outputs)")
        run_cast(scene or CAST_SCENE, out, quality, size, engine.value, columns)
        return
    if not scene:
        raise OutputError("SCENE: found none (accepted: a scene, or --cast)")
    run_look(scene, out, quality, size, engine.value, (tiff, exr, one_light), tables)


@app.command()
def meter(
    scene: SceneArgument,
    receptor: Annotated[ReceptorName | None, typer.Option(help="for every reading")] = None,
    aim: Annotated[AimName | None, typer.Option(help="for every reading")] = None,
    bounce: Annotated[
        bool, typer.Option("--bounce/--direct", help="with or without the room's bounce")
    ] = True,
    detail: Annotated[bool, typer.Option("--detail", help="one line for every reading")] = False,
    bounced_by: Annotated[
        bool, typer.Option("--bounced-by", help="also the surfaces that the bounce comes from")
    ] = False,
    engine: EngineOption = EngineName.auto,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Predict what the flash meter shows, each light alone and all together.

    By default a light alone is read with the flat receptor aimed at it, and all together with
    the dome aimed at the camera (backdrop: flat, along its normal).
    """
    from render.cli.tables import run_meter

    _one_form(as_json, as_csv)
    chosen = (receptor.value if receptor else None, aim.value if aim else None)
    run_meter(scene, chosen, bounce, engine.value, as_json, as_csv, detail, bounced_by)


@app.command()
def compare(
    scene: SceneArgument,
    out: Annotated[
        Path | None, typer.Option(help="also write the look with the patches marked (PNG)")
    ] = None,
    quality: Annotated[
        str, typer.Option(help="of that picture: draft, proof, final, or samples per pixel")
    ] = "draft",
    engine: EngineOption = EngineName.auto,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 unless every judged row agrees")
    ] = False,
) -> None:
    """Compare predicted and rendered stops: matte direct, matte with room, as seen."""
    from render.cli.tables import run_compare

    _one_form(as_json, as_csv)
    agrees = run_compare(scene, out, quality, engine.value, as_json, as_csv)
    if strict and not agrees:
        raise typer.Exit(1)


@app.command()
def check(
    scene: SceneArgument,
    as_json: JsonOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 if anything is wrong")
    ] = False,
) -> None:
    """Look for what can go wrong in the set, with the number behind every verdict.

    It says what it looked for and what it did not; what it does not find may still be there.
    """
    from render.cli.check import run_check

    fine = run_check(scene, as_json)
    if strict and not fine:
        raise typer.Exit(1)


@app.command()
def balance(
    scene: SceneArgument,
    bounce: Annotated[
        bool, typer.Option("--bounce/--direct", help="with or without the room's bounce")
    ] = True,
    engine: EngineOption = EngineName.auto,
    write: Annotated[
        bool,
        typer.Option("--write", help="put the powers into the scene file, comments kept"),
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 unless every wish is met")
    ] = False,
) -> None:
    """Find the powers, in the heads' own steps, that meet the wanted readings.

    Where no power does, say what each wish hangs on and which cures bring it within reach.
    CSV is the powers.
    """
    from render.cli.balance import run_balance

    _one_form(as_json, as_csv)
    met = run_balance(scene, bounce, engine.value, as_json, as_csv, write)
    if strict and not met:
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

    _one_form(as_json, as_csv)
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


def _one_form(as_json: bool, as_csv: bool) -> None:
    if as_json and as_csv:
        raise OutputError("--csv: found together with --json (accepted: one of them)")


@app.command()
def who(
    scene: SceneArgument,
    points: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[POINT]...",
            help="meter points or landmarks; default: those on the backdrop, then the face",
        ),
    ] = None,
    want: Annotated[
        WordName | None,
        typer.Option(help="how the backdrop is to come out; default: as [wanted] has it"),
    ] = None,
    engine: EngineOption = EngineName.auto,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Say who lights the backdrop, or any point: each light straight and by way of each surface.

    Of a backdrop also its code in the picture. Where it is lighter than wanted, changes are tried
    one by one, for the same face reading: gap, grid, flag, key nearer, darker paper, black cloth.
    """
    from render.cli.who import run_who

    _one_form(as_json, as_csv)
    word = want.value if want else None
    run_who(scene, points or [], word, engine.value, as_json, as_csv)


@app.command()
def calibrate(
    scene: SceneArgument,
    readings: Annotated[
        Path,
        typer.Argument(
            metavar="READINGS", help="what the meter said: TOML with [[read]] tables, or CSV"
        ),
    ],
    bounce: Annotated[
        bool, typer.Option("--bounce/--direct", help="with or without the room's bounce")
    ] = True,
    engine: EngineOption = EngineName.auto,
    write: Annotated[
        Path | None,
        typer.Option(metavar="KIT.toml", help="also write the corrections as a new kit file"),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Learn from the meter: what each flash with its modifier gives more or less than predicted.

    A reading has point, light and f_number, and where they differ from the plan receptor, aim,
    power, iso_speed, date. Where readings of a light disagree, the likely cause. CSV is the
    readings.
    """
    from render.cli.calibrate import run_calibrate

    _one_form(as_json, as_csv)
    run_calibrate(scene, readings, bounce, engine.value, as_json, as_csv, write)


@app.command()
def card(
    scene: SceneArgument,
    out: Annotated[
        Path, typer.Option(help="sheet to write: PDF, or a picture of each page as SVG or PNG")
    ] = Path("card.pdf"),
    paper: Annotated[PaperName, typer.Option(help="size of the sheet")] = PaperName.a4,
    bounce: Annotated[
        bool, typer.Option("--bounce/--direct", help="with or without the room's bounce")
    ] = True,
    engine: EngineOption = EngineName.auto,
) -> None:
    """Print the set: drawn to scale, tape distances, powers, expected readings, cautions.

    Each light has blanks for what the meter really said.
    """
    from render.cli.card import run_card

    run_card(scene, out, paper.value, bounce, engine.value)


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

"""Arguments of the commands that plan: powers, who lights a place, checks, card, readings."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import (
    BounceOption,
    CsvOption,
    EngineOption,
    JsonOption,
    PaperName,
    SceneArgument,
    one_form,
    samples,
)
from render.errors import OutputError

commands = typer.Typer()


@commands.command()
def balance(
    scene: SceneArgument,
    free: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY[=LOW..HIGH]",
            help="also solve for this key of the scene, repeatable: distance_m, azimuth_deg or "
            "elevation_deg of a light, camera.iso_speed, camera.f_number",
        ),
    ] = None,
    bounce: BounceOption = True,
    engine: EngineOption = "auto",
    write: Annotated[
        bool,
        typer.Option("--write", help="put what was found into the scene file, comments kept"),
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 unless every wish is met")
    ] = False,
) -> None:
    """Find the powers, in the heads' own steps, that meet the wanted readings.

    With --free, such as --free light.key.distance_m --free camera.iso_speed=100..400, find other
    settings too. Where nothing does, say what each wish hangs on and which cures bring it within
    reach. CSV is the powers.
    """
    from render.cli.balance import run_balance

    one_form(as_json, as_csv)
    met = run_balance(scene, free or [], bounce, engine, as_json, as_csv, write)
    if strict and not met:
        raise typer.Exit(1)


@commands.command()
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
        str,
        typer.Option(
            metavar="WORD|STOPS",
            help="how the backdrop is to come out (black, dark, mid, white), or stops from the "
            "face, such as -2, for any point; default: the scene's wishes",
        ),
    ] = "",
    bounce: BounceOption = True,
    engine: EngineOption = "auto",
    write: Annotated[
        bool,
        typer.Option("--write", help="put the first cure into the scene file, comments kept"),
    ] = False,
    cure: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="with --write: another, by its number")
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Say who lights the backdrop, or any point: each light straight and by way of each surface.

    Of a backdrop also its code in the picture. Where a point is lighter or darker than wanted,
    changes are tried one by one, for the same face reading: a light's power, aim, grid, flag or
    place, panels, gap, other paper, black cloth.
    """
    from render.cli.who import run_who

    one_form(as_json, as_csv)
    if cure is not None and not write:
        raise OutputError(f"--cure: found {cure} without --write (accepted: both, or neither)")
    number = (cure or 1) if write else 0
    traced = engine if bounce else None
    run_who(scene, points or [], want, traced, (as_json, as_csv), number)


@commands.command()
def check(
    scene: SceneArgument,
    quick: Annotated[
        bool, typer.Option("--quick", help="without the small traced look and what clips in it")
    ] = False,
    portrait: Annotated[
        str,
        typer.Option(
            metavar="SCENE", help="of elements on black: the portrait that they are to be added to"
        ),
    ] = "",
    engine: EngineOption = "auto",
    as_json: JsonOption = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="exit with 1 if anything is wrong")
    ] = False,
) -> None:
    """Look for what can go wrong in the set, with the number behind every verdict.

    It says what it looked for and what it did not; what it does not find may still be there.

    Of elements on black also whether the black is black enough to add, in every dark material of
    the kit, what helps, and with --portrait how light and camera differ from the portrait's.
    """
    from render.cli.check import run_check

    fine = run_check(scene, as_json, None if quick else engine, portrait)
    if strict and not fine:
        raise typer.Exit(1)


@commands.command()
def card(
    scene: SceneArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            help="sheet to write: PDF, or a picture of each page as SVG or PNG; default: card.pdf, "
            "with --json none"
        ),
    ] = None,
    paper: Annotated[PaperName, typer.Option(help="size of the sheet")] = "a4",
    readings: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.toml", help="also write its blanks as a file to fill in for calibrate"
        ),
    ] = None,
    look: Annotated[
        bool, typer.Option("--look/--no-look", help="with or without the predicted look")
    ] = True,
    quality: Annotated[str, samples("of the look: ")] = "draft",
    bounce: BounceOption = True,
    engine: EngineOption = "auto",
    as_json: JsonOption = False,
) -> None:
    """Print the set: drawn to scale, tape distances, powers, expected readings, cautions.

    Each light has blanks for what the meter really said. JSON is every number on the card.
    """
    from render.cli.card import Sheets, run_card

    sheets = Sheets(out, paper, readings, look, quality)
    run_card(scene, sheets, bounce, engine, as_json)


@commands.command()
def calibrate(
    scene: SceneArgument,
    readings: Annotated[
        Path,
        typer.Argument(
            metavar="READINGS", help="what the meter said: TOML, a read table each, or CSV"
        ),
    ],
    bounce: BounceOption = True,
    engine: EngineOption = "auto",
    write: Annotated[
        Path | None,
        typer.Option(metavar="KIT.toml", help="also write the corrections as a new kit file"),
    ] = None,
    replace: Annotated[
        bool,
        typer.Option("--replace", help="with --write: older kit readings become comments"),
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Learn from the meter: what each flash with its modifier gives more or less than predicted.

    A reading has point (or distance_m straight ahead), light and f_number, and where they differ
    from the plan receptor, aim, power, iso_speed, date. Where readings of a light disagree, the
    likely cause; where two are likely, the reading that tells them apart. CSV is the readings.
    """
    from render.cli.calibrate import run_calibrate

    one_form(as_json, as_csv)
    run_calibrate(scene, readings, bounce, engine, as_json, as_csv, write, replace)

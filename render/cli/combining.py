"""Arguments of the command that adds pictures of elements on black to a look."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from render.cli.options import FlipName, JsonOption, MatteName, WayName

commands = typer.Typer()


@commands.command()
def combine(
    pictures: Annotated[
        list[str],
        typer.Argument(
            metavar="LOOK ELEMENT... | RECIPE.toml",
            help="the portrait and pictures shot on black (PNG, JPEG, TIFF, EXR); or a recipe",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            help="result: .png, .tif (16 bits) or .exr (linear); its recipe is beside it, .toml"
        ),
    ] = None,
    plate: Annotated[
        list[Path] | None,
        typer.Option(help="the same black set without the element, to subtract; repeatable"),
    ] = None,
    gain: Annotated[list[float] | None, typer.Option(help="light of the element, in stops")] = None,
    way: Annotated[
        list[WayName] | None,
        typer.Option(help="sum of linear light, or 1 - (1 - a)(1 - b) of encoded values"),
    ] = None,
    matte: Annotated[
        list[MatteName] | None,
        typer.Option(help="what it hides: nothing, as much as it is bright, or by its alpha"),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y", help="its middle, in shares of the look's width and height from top left"
        ),
    ] = None,
    scale: Annotated[
        list[float] | None, typer.Option(help="its width as a share of the look's")
    ] = None,
    turn: Annotated[list[float] | None, typer.Option(help="clockwise, in degrees")] = None,
    flip: Annotated[list[FlipName] | None, typer.Option(help="mirror it first")] = None,
    fade: Annotated[
        list[float] | None,
        typer.Option(help="of its edge to nothing, as a share of its shorter side"),
    ] = None,
    black: Annotated[
        bool, typer.Option("--black", help="also a picture of each element's black, .black-1.png")
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="write over a result that is there")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Add elements shot on black to a portrait, in linear light; says what is clipped or lost.

    An option counts for every ELEMENT, or is given once for each, in their order. Regions are
    written into the recipe; run `tenthstop combine RECIPE.toml` to make the result again.
    """
    from render.cli.combine import Asked, from_pictures, from_recipe, run_combine

    options = {
        "gain_stops": gain,
        "way": way,
        "matte": matte,
        "at": at,
        "scale": scale,
        "turn_deg": turn,
        "flip": flip,
        "fade": fade,
    }
    given = {key: values for key, values in options.items() if values}
    asked = Asked(out, black, replace, as_json)
    if len(pictures) == 1:
        run_combine(from_recipe(pictures[0], given, plate or [], asked), asked)
    else:
        run_combine(from_pictures(pictures, given, plate or [], asked), asked)

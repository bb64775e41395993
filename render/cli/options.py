"""Options that several commands take."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from render.errors import OutputError


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
WorkersOption = Annotated[
    int | None,
    typer.Option(
        min=1, max=1024, metavar="N", help="trace with N processes of one thread; default: one, all"
    ),
]
ClusterOption = Annotated[
    str,
    typer.Option(metavar="ADDRESS", help="trace on the dask.distributed cluster at that address"),
]
QualityOption = Annotated[str, typer.Option(help="draft, proof, final, or samples per pixel")]
PictureSizeOption = Annotated[
    int, typer.Option(min=16, max=8192, help="longer side of each picture [px]")
]
JsonOption = Annotated[bool, typer.Option("--json", help="print JSON instead of a table")]
CsvOption = Annotated[bool, typer.Option("--csv", help="print CSV instead of a table")]
BounceOption = Annotated[
    bool, typer.Option("--bounce/--direct", help="with or without the room's bounce")
]


def one_form(as_json: bool, as_csv: bool) -> None:
    """Raise OutputError where both forms of output are asked for."""
    if as_json and as_csv:
        raise OutputError("--csv: found together with --json (accepted: one of them)")

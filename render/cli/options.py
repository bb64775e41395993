"""Options that several commands take."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, Literal

import typer

from render.errors import OutputError

EngineName = Literal["auto", "cuda", "llvm", "scalar"]
ReceptorName = Literal["flat", "dome"]
AimName = Literal["light", "camera", "normal"]
PaperName = Literal["a4", "letter"]
ListName = Literal["flashes", "modifiers", "grids", "readings", "gels", "surfaces"]
ExposureName = Literal["kept", "re-metered", "both"]
# Of options that may be repeated: lists of literals are nothing that the argument reader takes.
WayName = StrEnum("WayName", {"add": "add", "screen": "screen"})
MatteName = StrEnum("MatteName", {"none": "none", "light": "light", "alpha": "alpha"})
FlipName = StrEnum(
    "FlipName",
    {"none": "none", "sideways": "sideways", "upside_down": "upside down", "both": "both"},
)

LEAST_SIDE_PX, MOST_SIDE_PX = 16, 8192  # of a picture: a thumbnail; more than a screen has
MOST_COLUMNS = 20  # of a sheet: thinner pictures show nothing


def pixels(side: str = "longer side of each picture") -> Any:
    """--size of a picture."""
    return typer.Option(min=LEAST_SIDE_PX, max=MOST_SIDE_PX, help=f"{side} [px]")


def samples(of: str = "") -> Any:
    """--quality of a picture."""
    return typer.Option(help=f"{of}draft, proof, final, or samples per pixel")


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
QualityOption = Annotated[str, samples()]
PictureSizeOption = Annotated[int, pixels()]
ColumnsOption = Annotated[int, typer.Option(min=1, max=MOST_COLUMNS, help="of that sheet")]
ReadingPrecision = Annotated[
    float | None,
    typer.Option(
        min=0.0005,
        max=1.0,
        metavar="STOPS",
        help="standard error that every traced reading is to have",
    ),
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

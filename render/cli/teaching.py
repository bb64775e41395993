"""Arguments of the commands that teach: series, lessons and quizzes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from render.cli.options import (
    BounceOption,
    ClusterOption,
    CsvOption,
    EngineOption,
    ExposureName,
    JsonOption,
    PaperName,
    PictureSizeOption,
    QualityOption,
    SceneArgument,
    WorkersOption,
    one_form,
    pixels,
)

commands = typer.Typer()
DifferenceOption = Annotated[
    bool, typer.Option("--difference", help="also a sheet of stops over the first cell")
]
DetailOption = Annotated[bool, typer.Option("--detail", help="also every meter point")]


def _sheet(usual: str) -> Any:
    """--out of a series or lesson."""
    return typer.Option(
        help="contact sheet to write (PNG or PDF), pictures go into a folder of its name; "
        f"default: {usual} beside a table"
    )


VERSIONS: dict[ExposureName, tuple[Literal["kept", "re-metered"], ...]] = {
    "kept": ("kept",),
    "re-metered": ("re-metered",),
    "both": ("kept", "re-metered"),
}


@commands.command()
def series(
    scene: SceneArgument,
    vary: Annotated[
        list[str],
        typer.Option(
            metavar="KEY=V1,V2,...",
            help="a key of the scene file and its values, such as light.key.distance_m=0.7,1,1.4; "
            "a value - leaves the key out; a second --vary makes a grid",
        ),
    ],
    exposure: Annotated[
        ExposureName,
        typer.Option(help="kept as set, or the key turned for the first cell's face reading"),
    ] = "kept",
    out: Annotated[Path | None, _sheet("series.png")] = None,
    quality: QualityOption = "proof",
    size: PictureSizeOption = 480,
    difference: DifferenceOption = False,
    bounce: BounceOption = True,
    detail: DetailOption = False,
    engine: EngineOption = "auto",
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Change one or two things step by step: a contact sheet, and a table of what they do.

    Only what changed is traced, and finished light is kept: run it again after a stop and it goes
    on. --direct leaves the bounce out of the figures, not of the pictures.
    """
    from render.cli.series import Asked, run_series
    from render.series.cells import read_series

    one_form(as_json, as_csv)
    if difference and out is None and (as_json or as_csv):
        out = Path("series.png")
    asked = Asked(
        exposures=VERSIONS[exposure],
        out=out or (None if as_json or as_csv else Path("series.png")),
        quality=quality,
        size_px=size,
        difference=difference,
        bounce=bounce,
        detail=detail,
        many=(workers, cluster),
    )
    run_series(read_series(scene, vary), asked, engine, as_json, as_csv)


@commands.command()
def lesson(
    name: Annotated[
        str,
        typer.Argument(
            metavar="list|NAME", help="list, the name of a bundled lesson, or a lesson file"
        ),
    ],
    exposure: Annotated[
        ExposureName | None, typer.Option(help="instead of the lesson's: as for series")
    ] = None,
    out: Annotated[Path | None, _sheet("NAME.png")] = None,
    quality: Annotated[
        str | None, typer.Option(help="instead of the lesson's: draft, proof, final, or samples")
    ] = None,
    size: Annotated[int | None, pixels()] = None,
    difference: DifferenceOption = False,
    bounce: BounceOption = True,
    detail: DetailOption = False,
    engine: EngineOption = "auto",
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Make the sheet of a lesson, with what to look for; `lesson list` names them and their cost.

    A lesson is a series with its words in a small file: write your own beside a scene.
    """
    from render.cli.lessons import Options, run_lesson, run_list

    one_form(as_json, as_csv)
    options = Options(
        exposures=None if exposure is None else VERSIONS[exposure],
        out=out,
        quality=quality,
        size_px=size,
        difference=difference,
        bounce=bounce,
        detail=detail,
        many=(workers, cluster),
        as_json=as_json,
        as_csv=as_csv,
    )
    if name == "list":
        run_list(options)
    else:
        run_lesson(name, options, engine)


@commands.command()
def quiz(
    scene: SceneArgument,
    questions: Annotated[int, typer.Option(min=1, max=200, help="how many")] = 12,
    kinds: Annotated[
        str,
        typer.Option(
            metavar="KIND,...",
            help="ratio, pattern, side, lights, backdrop, fault; default: all that the scene has",
        ),
    ] = "",
    seed: Annotated[
        int, typer.Option(min=0, max=10**9, help="number of the sheet; another is another quiz")
    ] = 1,
    out: Annotated[
        Path,
        typer.Option(
            help="sheet for the class (PDF or PNG); the key is beside it, quiz.key.pdf, and the "
            "scene files behind the questions in a folder quiz.key"
        ),
    ] = Path("quiz.pdf"),
    paper: Annotated[PaperName, typer.Option(help="size of both sheets")] = "a4",
    quality: QualityOption = "proof",
    size: PictureSizeOption = 640,
    bounce: BounceOption = True,
    engine: EngineOption = "auto",
    workers: WorkersOption = None,
    cluster: ClusterOption = "",
    as_json: JsonOption = False,
) -> None:
    """Make a sheet of questions about pictures, and a key with computed answers.

    Every question is a set-up made from SCENE by chance; faults are planted and confirmed as by
    `check`. The same seed gives the same quiz. Run it again after a stop and it goes on.
    """
    from render.cli.quiz import Wanted, run_quiz

    wanted = Wanted(out, paper, quality, size, bounce, (workers, cluster))
    run_quiz(scene, questions, kinds, seed, wanted, engine, as_json)

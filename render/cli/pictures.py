"""`tenthstop look`: progress on the way, pictures at the end."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

from render.cli.crews import crew
from render.errors import OutputError
from render.picture import Look, look
from render.picture.files import write_image
from render.picture.take import exposure_of
from render.scenefile import Setup, load_scene
from render.trace import Crew, Engine, Quality
from render.trace import Progress as Traced

QUALITIES: dict[str, Quality] = {"draft": "draft", "proof": "proof", "final": "final"}


def quality_of(words: str) -> Quality | int:
    """Quality as given on the command line. Raises OutputError for anything unknown."""
    if words in QUALITIES:
        return QUALITIES[words]
    if words.isascii() and words.isdigit() and 1 <= int(words) <= 65536:
        return int(words)
    raise OutputError(
        f'--quality: found "{words}" (accepted: draft, proof, final, or 1 to 65536 samples)'
    )


def writable(path: Path, suffixes: tuple[str, ...] = (".png",)) -> None:
    """Refuse an output path before any light is traced. Raises OutputError."""
    if not path.parent.is_dir():
        raise OutputError(f"{path}: cannot be written: there is no folder {path.parent}")
    if path.is_dir():
        raise OutputError(f"{path}: cannot be written: it is a folder")
    try:
        with tempfile.TemporaryFile(dir=path.parent):
            pass
    except OSError as problem:
        reason = (problem.strerror or str(problem)).lower()
        raise OutputError(f"{path}: cannot be written: {reason}") from None
    if path.suffix.lower() not in suffixes:
        wanted = " or ".join(suffixes)
        raise OutputError(f"{path}: cannot be written: the picture's name must end in {wanted}")


@contextmanager
def progress_bar(console: Console) -> Iterator[Callable[[Traced], None]]:
    """A bar with the time left; yields the callback for the tracer."""
    bar = Progress(
        TextColumn("tracing light"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TextColumn("{task.fields[left]}"),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task("", total=None, left="")

        def show(done: Traced) -> None:
            minutes, seconds = divmod(round(done.seconds_left), 60)
            left = f"{minutes}:{seconds:02d} left"
            bar.update(task, completed=done.done_chunks, total=done.all_chunks, left=left)

        yield show


def make_look(setup: Setup, quality: str, size: int, engine: str | Engine | Crew) -> Look:
    """Trace a look with a progress bar on standard error."""
    exposure_of(setup)  # a scene without a camera is refused before anything starts
    console = Console(stderr=True)
    with progress_bar(console) as show:
        return look(
            setup,
            quality=quality_of(quality),
            long_side_px=size,
            engine=engine,
            progress=show,
        )


def run_cast(
    scene: str,
    out: Path,
    quality: str,
    size: int,
    engine: str,
    columns: int,
    many: tuple[int | None, str],
) -> None:
    """Render every sitter of the cast in the scene's light and write them as one sheet."""
    from render.picture.gallery import cast_looks
    from render.picture.sheets import sheet

    setup, asked = load_scene(scene), quality_of(quality)
    exposure = exposure_of(setup)
    writable(out)
    console = Console(stderr=True)
    plates = []
    with crew(engine, *many) as running, progress_bar(console) as show:
        for plate in cast_looks(
            setup, quality=asked, long_side_px=size, engine=running, progress=show
        ):
            plates.append(plate)
            console.print(f"{plate.name} ({len(plates)})", highlight=False)
    title = f"{setup.scene.title}: the cast"
    print(write_image(out, sheet(plates, columns), exposure, title))
    for plate in plates:
        who = ", ".join(plate.caption)
        print(f"{who} (median error of a pixel {plate.look.error_stops:.2f} stop)")

"""`tenthstop look`: the picture and its other forms, how sure it is, and what denoising moved."""

from __future__ import annotations

import json
import math
from collections.abc import Collection
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from rich.console import Console

from render.cli.crews import crew
from render.cli.paper import signed, spoken
from render.cli.pictures import progress_bar, quality_of, writable
from render.errors import OutputError
from render.picture import Look, look
from render.picture.denoise import DRIFT_STOPS, Clean, clean_look, library
from render.picture.files import write_exr, write_png, write_tiff
from render.picture.sure import ALL, MEDIAN, Sure, Sureness, sureness
from render.picture.take import exposure_of
from render.picture.until import Aim
from render.report.sight import in_sight
from render.scenefile import load_scene
from render.trace import Crew, Engine, Quality
from render.trace.frames import MEANT_STOPS

TELLING_STOPS = 2.0  # an error that may be larger says no more than that it is not known


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked of a look."""

    out: Path
    quality: str
    size: int
    precision: float | None = None  # [stops]
    denoise: bool = False
    tiff: bool = False
    exr: bool = False
    one_light: bool = False
    stops: bool = False
    tables: bool = False
    as_json: bool = False


@dataclass(frozen=True, slots=True)
class _Made:
    """A look as traced, as shown, and how sure it is."""

    traced: Look
    shown: Look
    sure: Sureness
    clean: Clean | None


def run_look(scene: str, wanted: Wanted, engine: str, many: tuple[int | None, str]) -> None:
    """Render and write the look, and on request its other forms and the tables.

    many : number of worker processes and address of a cluster (see `crews.crew`)
    """
    setup, asked = load_scene(scene), quality_of(wanted.quality)
    if wanted.precision is not None and isinstance(asked, int):
        raise OutputError(
            f"--quality: found {asked} together with --precision (accepted: draft, proof or final, "
            "which then say how skin and hair are shown)"
        )
    if wanted.as_json and wanted.tables:
        raise OutputError("--json: found together with --tables (accepted: one of them)")
    writable(wanted.out)
    exposure_of(setup)  # a scene without a camera is refused before anything starts
    if wanted.denoise:
        library()
    with crew(engine, *many) as tracing:
        console = Console(stderr=True)
        aim = None
        if wanted.precision is not None:
            aim = Aim(wanted.precision, in_sight, lambda found: _tell(console, found))
        with progress_bar(console) as show:
            traced = look(
                setup,
                quality=asked,
                long_side_px=wanted.size,
                engine=tracing,
                progress=show,
                aim=aim,
            )
        made = _finished(traced, wanted, asked, tracing)
    written = _write(made, wanted, setup.scene.title)
    if wanted.as_json:
        found = _numbers(made, wanted, setup.scene.title, written)
        print(json.dumps(found, indent=1, ensure_ascii=False))
        return
    _say(made, wanted, written)
    if wanted.tables:
        from render.cli.compared import run_compare
        from render.cli.tables import run_meter

        run_meter(scene, (None, None), True, engine, False, False, many=many)
        run_compare(scene, None, wanted.quality, engine, False, False, many)


def _finished(traced: Look, wanted: Wanted, quality: Quality | int, engine: Engine | Crew) -> _Made:
    """How sure the look is, and the look without grain where that is asked for."""
    names: Collection[str] = in_sight(traced.layout)
    exposure = traced.picture.exposure
    sure = traced.sureness or sureness(traced.frames, traced.layout, exposure, names)
    clean = clean_look(traced, quality, engine, names=names) if wanted.denoise else None
    return _Made(traced, clean.look if clean else traced, sure, clean)


def _write(made: _Made, wanted: Wanted, title: str) -> list[Path]:
    """Write all that is asked for. Numbers, as EXR and stops are, stay as traced."""
    out, shown = wanted.out, made.shown
    written = [write_png(out, shown.picture, title)]
    if wanted.stops:
        from render.picture.stops_map import stops_map
        from render.picture.stops_page import write_stops

        found = stops_map(made.traced.picture, made.traced.layout)
        written.append(write_stops(out.with_name(f"{out.stem}.stops.png"), found, title))
    if wanted.tiff:
        written.append(write_tiff(out.with_suffix(".tif"), shown.picture, title))
    if wanted.exr:
        written.append(write_exr(out.with_suffix(".exr"), made.traced.picture, title))
    if wanted.one_light:
        for name in shown.frames:
            alone = out.with_name(f"{out.stem}.{name}.png")
            written.append(write_png(alone, shown.one_light(name), f"{title}, {name} alone"))
    return written


def _tell(console: Console, found: Sureness) -> None:
    """One line after every look at the frames on the way."""
    worst = found.worst
    if worst is not None:
        much = f"sure to {worst.at_most_stops:.2f} stop"
        if worst.at_most_stops > TELLING_STOPS:
            much = "not sure yet"
        console.print(f"{_samples(found)}: {much} ({_where(worst)})", highlight=False)


def _error(row: Sure) -> str:
    """How sure a place is; hair in a draft has too few samples even for that."""
    if row.at_most_stops > TELLING_STOPS:
        return "too few samples to say how sure"
    return f"standard error {row.standard_error_stops:.2f} stop, at most {row.at_most_stops:.2f}"


def _samples(found: Sureness) -> str:
    """Samples per pixel, of each light where they differ."""
    counts = list(dict.fromkeys(found.samples.values()))
    if len(counts) == 1:
        return f"{counts[0]} samples a pixel"
    return ", ".join(f"{n} samples a pixel of {name}" for name, n in found.samples.items())


def _where(row: Sure) -> str:
    if row.place == MEDIAN:
        return "the median pixel"
    return f"{spoken(row.place)}, {'all lights' if row.light == ALL else f'{row.light} alone'}"


def _say(made: _Made, wanted: Wanted, written: list[Path]) -> None:
    """Files, then what there is to know about them, a sentence each."""
    for path in written:
        print(path)
    median, found = made.traced.error_stops, made.sure
    sure = f"median standard error of a pixel {median:.2f} stop"
    if math.isnan(median):
        sure = "the whole picture is black"
    print(f"{made.traced.engine} engine, {_samples(found)}; {sure}")
    quality = quality_of(wanted.quality)
    if wanted.precision is None and isinstance(quality, str) and (need := found.short_of(quality)):
        print(
            f"{quality} is meant for {MEANT_STOPS[quality]:g} stop; this set is noisier and would "
            f"need about {need} samples."
        )
    patches = [row for row in found.rows if row.place != MEDIAN]
    if patches:
        worst = max(patches, key=lambda row: row.at_most_stops)
        print(f"Least sure patch: {_where(worst)}, {_error(worst)}.")
    if wanted.precision is not None and found.above(wanted.precision):
        print(f"That is the most that is traced; {wanted.precision:g} stop is not reached.")
    if made.clean:
        print(_moved(made.clean))


def _moved(clean: Clean) -> str:
    """What denoising did to the patches, in one sentence."""
    if not clean.moved:
        return f"Denoised for the eye; no patch moved by more than {DRIFT_STOPS} stop."
    each = ", ".join(
        f"{spoken(d.place)} {signed(d.drift_stops, 2)} (±{d.standard_error_stops:.2f} before)"
        for d in clean.moved
    )
    return f"Denoised for the eye; by more than {DRIFT_STOPS} stop it moved {each}."


def _numbers(made: _Made, wanted: Wanted, title: str, written: list[Path]) -> dict[str, Any]:
    """What --json prints."""
    high, wide = made.traced.picture.standard_error.shape
    asked, found, clean = quality_of(wanted.quality), made.sure, made.clean
    precision = wanted.precision
    return {
        "scene": title,
        "engine": made.traced.engine,
        "quality": wanted.quality,
        "size_px": [wide, high],
        "meant_stops": MEANT_STOPS[asked] if isinstance(asked, str) else None,
        "samples": dict(found.samples),
        "wanted_stops": precision,
        "reached": None if precision is None else not found.above(precision),
        "sure": [asdict(row) for row in found.rows],
        "dark": list(found.dark),
        "denoised": None if clean is None else [asdict(each) for each in clean.drifts],
        "files": [str(path) for path in written],
    }

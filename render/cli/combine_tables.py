"""The report of `tenthstop combine` as tables on paper."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from render.cli.paper import plain_table, printer, signed
from render.combine.black import ENDS
from render.combine.report import Laid, Report


def show_report(report: Report, written: Sequence[Path]) -> None:
    """Print what became of each element, and what was clipped, lifted or lost."""
    console = printer()
    table = plain_table("Elements, in their order")
    table.add_column("element")
    for heading in ("way", "gain", "backdrop", "rim", "over limit", "outside", "faded", "covers"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("screen", justify="right", no_wrap=True)
    for laid in report.elements:
        table.add_row(
            Path(laid.file).name,
            laid.way,
            signed(laid.gain_stops),
            f"{laid.black.backdrop_code:.1f}",
            f"{laid.black.rim_code:.1f}",
            _share(laid.black.over_share),
            _share(laid.outside_share),
            _share(laid.masked_share),
            _share(laid.coverage),
            signed(laid.screen.median_stops, 2),
        )
    console.print(table)
    console.print(
        "Backdrop and rim: codes of its black as it was added (median of all; lower quartile of "
        f"the rim's palest piece); clean up to code {report.elements[0].black.limit_code:g}; an "
        "element that fills its frame counts in them. Over limit: pixels, grains among them. "
        "Outside, faded: light beyond the look's frame; taken by fade and regions. Covers: by "
        "brightness, mean where it lies. Screen: against adding, in stops, where the element shows "
        "(median)."
    )
    for laid in report.elements:
        console.print(_found(laid), highlight=False)
    for words in _whole(report):
        console.print(words, highlight=False)
    for words in report.warnings:
        console.print(f"Mind: {words}.", highlight=False)
    for path in written:
        print(path)


def _share(part: float) -> str:
    return f"{100 * part:.1f} %"


def _found(laid: Laid) -> str:
    """A line about an element's file, its histogram and its plate."""
    lows = (-1, *ENDS[:-1])
    counts = [
        f"{low + 1}-{high}: {n}" if high > low + 1 else f"{high}: {n}"
        for low, high, n in zip(lows, ENDS, laid.black.histogram, strict=True)
        if n
    ]
    notes = "".join(f"; {note}" for note in laid.notes)
    words = (
        f"\n{Path(laid.file).name}: {laid.width_px} x {laid.height_px}, {laid.colour}{notes}. "
        f"Pixels by code: {', '.join(counts)}."
    )
    if laid.plate is not None:
        plate = laid.plate
        words += (
            f" Plate ({plate.plates}): took out code {plate.veil_code:.1f}; noise is code "
            f"{plate.noise_code:.1f}; {_share(plate.black_share)} of the pixels are black now; "
            f"{_share(plate.lost_share)} of the light over the plate lay within noise."
        )
    if laid.black.clean and laid.black.over:
        words += (
            f" What is left, up to code {laid.black.reach_code:.1f} on backdrop or rim, is the "
            "element itself."
        )
    return words


def _whole(report: Report) -> list[str]:
    """Sentences about the result."""
    notes = "".join(f"; {note}" for note in report.look_notes)
    said = [
        f"\n{Path(report.look).name}: {report.width_px} x {report.height_px}, "
        f"{report.look_colour}{notes}."
    ]
    kept = "kept in an EXR" if report.keeps_all else "cut"
    over = "" if report.over_white_stops is None else f", up to {report.over_white_stops:.1f} stops"
    said.append(
        f"Over white: {_share(report.clipped_share)} of the pixels{over} (before: "
        f"{_share(report.clipped_before_share)}); outside sRGB: {_share(report.outside_share)}; "
        f"both are {kept}."
    )
    if report.lifted_code is not None and report.lifted_share is not None:
        said.append(
            f"Dark pixels of the look (code 30 or less) rise by {report.lifted_code:.1f} codes "
            f"(median); {_share(report.lifted_share)} of them by more than one."
        )
    return said

"""How a series is said: title, captions that state what changed and the readings, and the notes."""

from __future__ import annotations

from collections.abc import Sequence

from render.photometry.stops import f_number_stops, show_f_number
from render.series.cells import Series
from render.series.figures import CellRow, Exposure, PointReading
from render.series.variables import Variable

DASH = "–"
WHOLE_FROM = 30  # ratios without tenths; a choice
RATIOS = (
    "Key to fill: the key's straight light on its cheek to what fills the shadow cheek (fill "
    "lights, and what room and panels give back), flat receptor aimed at the key, then at the "
    "camera; lighting ratio: key plus fill to fill."
)
NOTES = {  # by the figures of a caption that they are about
    "face": "Face: its reading with all lights that it is wanted with.",
    "shadow_side": "Shadow side: shadow cheek against key cheek, all lights, along the skin.",
    "key_to_fill": RATIOS,
    "lighting_ratio": RATIOS,
    "shadow_edge": "Shadow edge: of the nose, from a tenth of the light to nine tenths.",
    "falloff": "Falloff: the key at the far ear against the key cheek, as if the head were not in "
    "its way.",
    "backdrop": "Backdrop: sRGB code of its middle in the picture.",
}
WITHOUT_NOTE = {"key", "pattern"}
ALONE = "Alone: that light by itself where it is wanted, in brackets its stops from the face."
BEYOND = "* beyond the head's dial; the light is shown as if it could."


def title(series: Series, exposure: Exposure, rows: Sequence[CellRow]) -> str:
    """Heading of a sheet or table."""
    what = " and ".join(variable.words for variable in series.variables)
    return f"{series.scene}: {what}, {_exposed(exposure, rows)}"


def _exposed(exposure: Exposure, rows: Sequence[CellRow]) -> str:
    if exposure == "kept":
        return "exposure kept"
    return f"re-metered to {show_f_number(rows[0].face_f_number)} at the face"


def notes(exposure: Exposure, rows: Sequence[CellRow], shown: Sequence[str] = ()) -> str:
    """What the figures mean, for the foot of a sheet or table; of those shown, or of all."""
    said = "All else as in the scene file."
    if exposure == "re-metered":
        said = "The key is turned until the face reads as in the first picture; all else stays."
    beyond = any(row.key_beyond_dial_stops for row in rows)
    meant = dict.fromkeys(NOTES[name] for name in NOTES if name in shown or not shown)
    own = [ALONE] if any(name not in NOTES for name in set(shown) - WITHOUT_NOTE) else []
    return " ".join([said, *meant, *own, *([BEYOND] if beyond else [])])


def row_heads(series: Series) -> tuple[str, ...]:
    """What the second variable is set to, row by row; nothing where one thing changes."""
    return tuple(v.change(value) for v in series.variables[1:] for value in v.values)


def caption(series: Series, row: CellRow, shown: Sequence[str] = ()) -> tuple[str, ...]:
    """What stands under a picture, line by line: what changed, then the readings.

    shown : names of the figures wanted, in that order, and of readings of one light alone;
            default: all figures
    """
    lines = _figures(row)
    alone = {each.wish: _alone(each, row) for each in row.readings if each.wish}
    known = alone | lines
    head = changed(series.variables[0], row.values[0])
    return (head, *(known[name] for name in shown or lines if name in known))


def _figures(row: CellRow) -> dict[str, str]:
    """The figures that a cell has, in words, by their names in a lesson."""
    lines = {"face": f"face {row.face_shown}"}
    if row.exposure == "re-metered":
        lines["key"] = f"key at {key_power(row)}"
    if row.shadow_side_stops is not None:
        lines["shadow_side"] = f"shadow side {stops_words(row.shadow_side_stops)}"
    if row.key_to_fill is not None:
        lines["key_to_fill"] = f"key to fill {ratio_words(row.key_to_fill)}"
        lines["lighting_ratio"] = f"lighting ratio {ratio_words(row.lighting_ratio)}"
    if row.falloff_stops is not None:
        lines["shadow_edge"] = f"shadow edge {edge_words(row.edge_mm)}"
        lines["falloff"] = f"falloff {stops_words(row.falloff_stops)}"
    if row.backdrop_code is not None:
        lines["backdrop"] = f"backdrop {row.backdrop_code:.0f}, {row.backdrop_word}"
    if row.pattern is not None:
        lines["pattern"] = f"{row.pattern} light"
    return lines


def _alone(reading: PointReading, row: CellRow) -> str:
    """A reading of one light alone, with its stops from the face."""
    said = f"{reading.lights} alone {reading.shown}"
    if not reading.f_number or not row.face_f_number:
        return said
    stops = f_number_stops(reading.f_number) - f_number_stops(row.face_f_number)
    return f"{said} ({round(float(stops), 1) + 0.0:+.1f})"


def changed(variable: Variable, text: str) -> str:
    """What a variable is set to in a cell, in words, by the value as it was written."""
    value = next(each for each in variable.values if each.text == text)
    return variable.change(value)


def key_power(row: CellRow) -> str:
    """The key's power, with a mark where its head has none such."""
    return row.key_power_shown + ("*" if row.key_beyond_dial_stops else "")


def ratio_words(ratio: float | None) -> str:
    """A ratio as the trade writes it: "4.1:1", whole numbers where tenths say nothing."""
    if ratio is None:
        return DASH
    return f"{ratio:.1f}:1" if ratio < WHOLE_FROM else f"{ratio:.0f}:1"


def edge_words(edge_mm: float | None) -> str:
    """A shadow's soft edge; without one the shadow of the nose misses the face."""
    if edge_mm is None:
        return "not on the face"
    return f"{edge_mm:.1f} mm" if edge_mm < 10 else f"{edge_mm:.0f} mm"


def stops_words(value: float | None) -> str:
    """Stops with their sign, a dash where there are none."""
    return DASH if value is None else f"{round(value, 1) + 0.0:+.1f} stops"

"""What a series tells: inverse square, one face reading, ratios, and what differs."""

from __future__ import annotations

import csv
import io
import json
import math
import sys
import threading
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from render.cli import main
from render.cli.series_tables import print_series
from render.errors import OutputError
from render.folders import data_folder
from render.picture.develop import Exposure, Picture
from render.report import meter
from render.scenefile import load_scene
from render.series.cells import read_series
from render.series.difference import coloured, scale_stops, stops_apart
from render.series.figures import CellRow, PointReading
from render.series.figures import Exposure as Exposed
from render.series.table import SeriesTable, Varied, metered
from render.trace import Engine, Readers
from render.trace.stage import Stage
from render.trace.surfaces import surfaces_of

DISTANCES = (0.5, 0.7, 1.0, 1.4)
VARY = "light.key.distance_m=" + ",".join(map(str, DISTANCES))
WITHIN_STOPS = 0.02


def rows(scene: Path | str, *asked: str, engine: Readers | None = None) -> list[CellRow]:
    return list(metered(read_series(scene, list(asked)), ("kept",), engine)[0].cells)


@pytest.fixture
def lone(scene: Path, tmp_path: Path) -> Path:
    """The chair in the void, the fill off."""
    text = scene.read_text()
    room = text[text.index("[room]") : text.index("[camera]")]
    file = tmp_path / "lone.toml"
    file.write_text(
        text.replace(room, "").replace("azimuth_deg = 40", "azimuth_deg = 40\non = false")
    )
    return file


def test_a_small_source_falls_with_the_square_of_its_distance(lone: Path) -> None:
    """Truth: 2 log2 of the ratio of the distances, in stops (inverse square law, textbook)."""
    found = rows(lone, VARY)
    for distance, row in zip(DISTANCES, found, strict=True):
        law = -2 * math.log2(distance / DISTANCES[0])
        assert row.face_stops_re_first == pytest.approx(law, abs=WITHIN_STOPS)
        alone = next(r for r in row.readings if r.point == "chair")
        assert alone.stops_re_first == pytest.approx(law, abs=WITHIN_STOPS)


class Hands:
    """Readers who make numbers up from the set; nobody begins before all have something to do."""

    name = "scalar"

    def __init__(self, hands: int) -> None:
        self.hands, self._all_busy = hands, threading.Barrier(hands)
        self._begun: set[int] = set()

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        if threading.get_ident() not in self._begun:
            self._begun.add(threading.get_ident())
            self._all_busy.wait(60)
        chance = np.random.default_rng(int(stage.key, 16))
        lights, surfaces = len(stage.emitting), len(surfaces_of(stage).names)
        found = []
        for each in chunks:
            whole = (len(each["positions"]), lights)
            shapes = [whole] * 4 + [(*whole, surfaces)] * 2
            found.append(tuple(chance.random(shape) for shape in shapes))
        return found


def test_a_crew_reads_several_cells_at_a_time_and_tells_the_same(scene: Path) -> None:
    """Truth: a reading hangs on its set, not on who reads it; rows come in the order of cells."""
    vary = "light.key.distance_m=0.8,1.0,1.2"
    assert rows(scene, vary, engine=Hands(2)) == rows(scene, vary, engine=Hands(1))


def test_re_metered_cells_read_the_same_at_the_face(
    scene: Path, tmp_path: Path, engine: Engine
) -> None:
    """Truth: the powers, written into the scene file, give the first reading in the meter table,
    with what the room gives back traced anew from other paths."""
    series = read_series(scene, ["light.key.distance_m=0.7,1.3"])
    kept, turned = (metered(series, (each,), engine)[0].cells for each in ("kept", "re-metered"))
    first = kept[0].face_f_number
    assert (kept[1].face_stops_re_first or 0) < -0.5
    assert turned[1].face_f_number == pytest.approx(first, rel=1e-9)
    own = tmp_path / "turned.toml"
    text = scene.read_text().replace("distance_m = 1.0", "distance_m = 1.3")
    own.write_text(text.replace('power = "1/16"', f"power = {turned[1].key_power}"))
    again = meter(load_scene(own), samples=4096).readings
    number = next(r.f_number for r in again if (r.point, r.lights) == ("chair", "all"))
    assert abs(2 * math.log2(number / first)) < WITHIN_STOPS


def test_a_key_that_cannot_says_how_much_it_lacks(lone: Path) -> None:
    """Truth: from 1/16, a light four times as far needs 4 stops more, and 1/1 is 4 stops up; at
    six times the distance it lacks 2 log2(6) - 4 = 1.17 stops (inverse square law)."""
    near = lone.with_name("near.toml")
    near.write_text(lone.read_text().replace("size_cm = [10, 10]", "size_cm = [2, 2]"))
    series = read_series(near, ["light.key.distance_m=0.3,0.6,1.8"])
    within, beyond = metered(series, ("re-metered",), None)[0].cells[1:]
    assert within.key_beyond_dial_stops == 0
    assert beyond.key_change_stops == pytest.approx(2 * math.log2(6), abs=WITHIN_STOPS)
    assert beyond.key_beyond_dial_stops == pytest.approx(2 * math.log2(6) - 4, abs=WITHIN_STOPS)


def test_a_face_that_the_rest_lights_more_is_refused_by_its_cell(scene: Path) -> None:
    series = read_series(scene, ["light.fill.distance_m=1.3,0.4"])
    with pytest.raises(OutputError, match=r"cell 2 \(fill distance 0.4 m\): its face cannot be"):
        metered(series, ("re-metered",), None)


def test_another_light_is_not_turned_for_a_key_that_is_off(scene: Path) -> None:
    series = read_series(scene, ["light.key.on=true,false"])
    with pytest.raises(OutputError, match=r"cell 2 .*its key is the fill light"):
        metered(series, ("re-metered",), None)
    assert [row.key for row in metered(series, ("kept",), None)[0].cells] == ["key", "fill"]


def test_ratios_are_those_of_the_meter(tmp_path: Path) -> None:
    """Truth: K and F read apart by the meter; doubling F halves K:F, and (K+F):F is one more."""
    file = tmp_path / "filled.toml"
    file.write_text(
        (data_folder("scenes") / "violin-one-light.toml").read_text()
        + '\n[light.fill]\nflash = "monobloc-400"\nsize_cm = [60, 60]\npower = "1/8"\n'
        "azimuth_deg = -20\ndistance_m = 1.4\n"
        '[point.key_cheek]\nlandmark = "key_cheek"\n'
        '[point.shadow_cheek]\nlandmark = "shadow_cheek"\n'
    )
    first, second = rows(file, "light.fill.power=1/8,1/4")
    assert first.key_to_fill is not None
    assert second.key_to_fill == pytest.approx(first.key_to_fill / 2, rel=1e-6)
    assert first.lighting_ratio == pytest.approx(first.key_to_fill + 1, rel=1e-9)
    setup = load_scene(file)
    key = meter(setup, receptor="flat", aim="light", bounce=False).readings
    fill = meter(setup, receptor="flat", aim="camera", bounce=False).readings
    k = next(r for r in key if (r.point, r.lights) == ("key_cheek", "key"))
    f = next(r for r in fill if (r.point, r.lights) == ("shadow_cheek", "fill"))
    apart = k.luminous_exposure_lx_s / f.luminous_exposure_lx_s
    assert first.key_to_fill == pytest.approx(apart, rel=1e-6)
    assert first.pattern is not None
    assert first.falloff_stops is not None
    assert first.falloff_stops < 0


def picture(light: float, error: float = 1e-5) -> Picture:
    grey = np.full((40, 32, 3), light, np.float32)
    return Picture(grey, np.full((40, 32), error, np.float32), Exposure(100, 8, 1 / 125, 85))


def test_the_difference_is_in_stops_of_linear_light() -> None:
    """Truth: twice the light is one stop, half of it minus one; two black pictures tell nothing."""
    assert stops_apart(picture(0.36), picture(0.18)) == pytest.approx(1, abs=1e-5)
    assert stops_apart(picture(0.09), picture(0.18)) == pytest.approx(-1, abs=1e-5)
    assert np.isnan(stops_apart(picture(0), picture(0))).all()
    assert np.isnan(stops_apart(picture(0.2, error=5), picture(0.1))).all()
    maps = [stops_apart(picture(0.18 * 2**s), picture(0.18)) for s in (-1.6, 0.3)]
    assert scale_stops(maps) == 2
    less, none = coloured(maps[0], 2)[0, 0].astype(int), coloured(0 * maps[0], 2)[0, 0].astype(int)
    more = coloured(-maps[0], 2)[0, 0].astype(int)
    assert less[2] > less[0]  # blue for less
    assert more[0] > more[2]  # red for more
    assert none.sum() < min(less.sum(), more.sum())


@pytest.mark.parametrize("exposure", ["kept", "re-metered"])
def test_no_value_or_figure_of_the_printed_table_is_cut(
    lone: Path, exposure: Exposed, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two long values beside the widest figures that there are, on a page of 110 characters."""
    asked = ["light.key.modifier=umbrella-silver-100", "light.key.aim=[0.123, 1.185, -0.404]"]
    file = lone.with_name("umbrella.toml")
    file.write_text(lone.read_text().replace("size_cm = [10, 10]", 'modifier = "octa-90"'))
    series = read_series(file, asked)
    table = metered(series, (exposure,), None)[0]
    wide = replace(
        table.cells[0],
        shadow_side_stops=-12.3,
        key_to_fill=29.9,
        lighting_ratio=29.9,
        edge_mm=99.0,
        falloff_stops=-12.3,
        backdrop_code=255.0,
        backdrop_word="white",
        pattern="flat front",
    )
    print_series(series, replace(table, cells=(wide,)), False, False, False)
    shown = capsys.readouterr().out
    assert "…" not in shown
    for part in ("umbrella-", "silver-100", "-0.404]", "29.9:1", "255 white", "flat front"):
        assert part in shown


def test_the_tables_keys_are_documented_and_its_csv_has_a_line_a_cell(
    lone: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = (Path(__file__).parents[3] / "docs/json.md").read_text(encoding="utf-8")
    for kind in (SeriesTable, Varied, CellRow, PointReading):
        for field in fields(kind):
            assert f"`{field.name}`" in page, field.name
    for form in ("--csv", "--json"):
        words = ["series", str(lone), "--vary", VARY, "--exposure", "both", "--direct", form]
        monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
        with pytest.raises(SystemExit):
            main()
        text = capsys.readouterr().out
        if form == "--json":
            found = json.loads(text)["cells"]
            assert set(found[0]) == set(asdict(rows(lone, VARY)[0]))
        else:
            found = list(csv.DictReader(io.StringIO(text)))
            assert [line["light.key.distance_m"] for line in found[:4]] == list(map(str, DISTANCES))
            assert float(found[0]["f_number.chair"]) > float(found[3]["f_number.chair"])
        assert len(found) == 2 * len(DISTANCES)

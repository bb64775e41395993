"""Hidden outputs are found from noisy readings, moved lights are named, nonsense is asked about."""

from __future__ import annotations

import csv
import json
import sys
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from render.cli import main
from render.errors import OutputError, ReadingsError
from render.layout import place
from render.layout.lamps import light_alone
from render.photometry.stops import show_f_number
from render.plan.calibrate.beside import beside, open_page
from render.plan.calibrate.calibrate import calibrate
from render.plan.calibrate.causes import find_causes
from render.plan.calibrate.further import AHEAD_M, further
from render.plan.calibrate.kit_entries import check_free, entries, tables
from render.plan.calibrate.kit_replace import write_readings
from render.plan.calibrate.noted import COLUMNS, read_notes
from render.plan.calibrate.offsets import Taken, fit
from render.report import meter
from render.report.held import measure
from render.scenefile import Setup, load_scene
from tests.setups import with_light

# Along the axis of the key and to its sides, all between 0.5 and 2.5 m from it.
PLACES = {
    "near": (0.0, 1.2, 0.6),
    "middle": (0.0, 1.2, 0.1),
    "face": (0.0, 1.2, -0.4),
    "far": (0.0, 1.2, -1.4),
    "left": (-0.5, 1.2, 0.2),
    "right": (0.5, 1.2, 0.2),
    "high": (0.0, 1.6, 0.2),
    "low": (0.0, 0.8, 0.2),
}
LIGHTS = """
[light.key]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/4"
position_m = [0, 1.2, 1.1]
aim = "face"
[light.fill]
flash = "monobloc-200"
modifier = "octa-90"
power = "1/8"
position_m = [1.6, 1.4, 1.4]
aim = "face"
[light.hair]
flash = "monobloc-200"
modifier = "strip-30x90"
grid_deg = 40
power = "1/2"
position_m = [-1.0, 2.0, 1.0]
aim = "middle"
"""
HIDDEN = {"key": 0.42, "fill": -0.35, "hair": 0.18}  # stops from typical
NOISE = 0.1  # of one reading; common practice, no source
SAID = tuple[str, str, float]  # point, light, f-number


def scene(folder: Path, kit: str = "") -> Setup:
    """A black void: what is read comes straight from the lights."""
    points = "".join(
        f"[point.{name}]\nposition_m = {list(at)}\nfacing = [0, 0, 1]\n"
        for name, at in PLACES.items()
    )
    file = folder / "bench.toml"
    named = f'kit = ["{kit}"]\n' if kit else ""
    file.write_text(f'title = "bench"\n{named}{points}{LIGHTS}')
    return load_scene(file)


def said(
    setup: Setup, seed: int, times: int, lights: Sequence[str] = tuple(HIDDEN), **offset: float
) -> list[SAID]:
    """Readings of the set-up as it really is, each with noise, `times` at every point."""
    rng = np.random.default_rng(seed)
    rows = [row for row in meter(setup, bounce=False).readings if row.lights in lights]
    return [
        (
            row.point,
            row.lights,
            # N² goes with the light (ISO 2720), so a stop is half a power of two of N.
            row.f_number * 2 ** (0.5 * (offset.get(row.lights, 0.0) + NOISE * rng.normal())),
        )
        for row in rows
        for _ in range(times)
    ]


def noted(folder: Path, rows: Sequence[SAID], **more: str) -> Path:
    """Readings as a TOML file."""
    keys = "".join(f"{key} = {value}\n" for key, value in more.items())
    file = folder / "read.toml"
    file.write_text(
        "".join(
            f'[[read]]\npoint = "{point}"\nlight = "{light}"\nf_number = {number!r}\n{keys}'
            for point, light, number in rows
        )
    )
    return file


def run_command(monkeypatch: pytest.MonkeyPatch, *options: object) -> int:
    words = ["tenthstop", "calibrate", *options, "--direct"]
    monkeypatch.setattr(sys, "argv", [str(word) for word in words])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0)


def test_hidden_outputs_of_three_lights_are_found(tmp_path: Path) -> None:
    """24 readings of 0.1 stop leave 0.02 stop; 0.05 is 2.5 of these."""
    setup = scene(tmp_path)
    found = calibrate(setup, noted(tmp_path, said(setup, 1, 3, **HIDDEN)), bounce=False)
    assert found.causes == ()
    for row in found.corrections:
        miss = row.correction_stops - HIDDEN[row.lights[0]]
        assert abs(miss) <= 0.05
        assert abs(miss) <= 3 * row.standard_error_stops
        assert row.standard_error_stops == pytest.approx(NOISE / 24**0.5, rel=0.05)


def test_the_stated_error_is_that_of_many_trials() -> None:
    """Of one lamp the answer is the weighted mean: 1/σ² = n/0.1² + 1/prior² (Gauss)."""
    n, prior = 5, 0.5
    ones = np.ones((n, 1))
    rng = np.random.default_rng(5)
    misses, stated = [], 0.0
    for _ in range(400):
        hidden = prior * rng.normal()
        read = np.exp2(hidden + NOISE * rng.normal(size=n))
        taken = Taken(
            ones, 0 * ones, ones, read, np.full(n, NOISE), np.array([0]), np.array([prior])
        )
        best = fit(taken)
        misses.append(best.offsets[0] - hidden)
        stated = float(best.errors[0])
    assert stated == pytest.approx((n / NOISE**2 + 1 / prior**2) ** -0.5, rel=1e-3)
    # The spread of 400 trials is known to 1/sqrt(800) of itself.
    assert np.std(misses) == pytest.approx(stated, rel=4 / 800**0.5)


def test_readings_of_all_lights_tell_of_each(tmp_path: Path) -> None:
    setup = scene(tmp_path)
    true = setup
    for name, stops in HIDDEN.items():
        light = setup.scene.light[name]
        true = with_light(true, name, power=light.power * 2**stops)
    rows = [row for row in meter(true, bounce=False).readings if row.lights == "all"]
    file = noted(tmp_path, [(row.point, row.lights, row.f_number) for row in rows])
    best = {row.lights[0]: row for row in calibrate(setup, file, bounce=False).corrections}
    for name, stops in HIDDEN.items():
        assert abs(best[name].correction_stops - stops) < 2 * best[name].standard_error_stops


@pytest.mark.parametrize("nearer_m", [0.08, -0.08])
def test_a_moved_light_is_called_distance_not_output(tmp_path: Path, nearer_m: float) -> None:
    """0.08 m nearer gives 0.50 stop more at 0.5 m and 0.09 at 2.5 m (inverse square)."""
    setup = with_light(scene(tmp_path), "key", modifier="reflector-standard")
    moved = with_light(setup, "key", position_m=(0.0, 1.2, 1.1 - nearer_m))
    found = calibrate(setup, noted(tmp_path, said(moved, 7, 3, ["key"])), bounce=False)
    (cause,) = found.causes
    assert cause.cause == "distance"
    assert cause.rivals == ()
    assert cause.amount is not None
    assert cause.standard_error is not None
    assert abs(cause.amount - 100 * nearer_m) < 3 * cause.standard_error
    assert cause.standard_error < 2  # cm
    assert ("nearer" if nearer_m > 0 else "farther") in cause.sentence
    (output,) = found.corrections
    assert abs(output.correction_stops) < 3 * output.standard_error_stops


@pytest.mark.parametrize(
    ("aim", "cause", "way"),
    [
        # Who looks along -z with +y up has +x at the right hand.
        ((0.4, 1.2, -0.4), "aim sideways", "to its right"),
        ((-0.4, 1.2, -0.4), "aim sideways", "to its left"),
        ((0.0, 0.8, -0.4), "aim up or down", "further down"),
    ],
)
def test_a_turned_light_is_called_aim(
    tmp_path: Path, aim: tuple[float, float, float], cause: str, way: str
) -> None:
    """0.4 m aside at 1.5 m is 14.9 degrees (arctangent)."""
    setup = with_light(scene(tmp_path), "key", grid_deg=50)
    turned = with_light(setup, "key", aim=aim)
    found = calibrate(setup, noted(tmp_path, said(turned, 3, 3, ["key"])), bounce=False)
    (row,) = found.causes
    assert row.cause == cause
    assert row.amount is not None
    assert row.standard_error is not None
    assert abs(abs(row.amount) - 14.93) < 3 * row.standard_error + 1
    assert f"degrees {way}" in row.sentence


def test_what_only_bounce_explains_is_called_bounce(tmp_path: Path) -> None:
    """Walls that give twice as much add log2((D + 2B)/(D + B)) where B is large, else nothing."""
    setup = scene(tmp_path)
    layout = place(setup)
    book = read_notes(noted(tmp_path, said(setup, 4, 3, ["key"])))
    page = open_page(setup, layout, tmp_path, book)
    taken = beside(page, measure(layout, page.held, None, 1))
    room = np.where(taken.direct > 0, np.median(taken.direct[:, 0]), 0.0)
    room[:, 1:] = 0.0
    noise = taken.read / taken.direct[:, 0]
    read = (taken.direct[:, 0] + 2 * room[:, 0]) * noise
    best, (found,) = find_causes(layout, page.held, replace(taken, bounce=room, read=read))
    assert found.cause.name == "bounce"
    assert abs(best.amounts[0] - 1.0) < 3 * best.amount_errors[0]


def test_noise_alone_is_seldom_given_a_cause(tmp_path: Path) -> None:
    """A cause is taken where noise does as much in 1 % of cases at most: of 12 sets at most one, in
    99 of 100 runs (binomial)."""
    setup = scene(tmp_path)
    named = 0
    for seed in range(12):
        file = noted(tmp_path, said(setup, 100 + seed, 1, ["key"]))
        named += any(row.cause != "none" for row in calibrate(setup, file, bounce=False).causes)
    assert named <= 1


def test_a_reading_three_stops_off_is_asked_about(tmp_path: Path) -> None:
    setup = scene(tmp_path)
    rows = said(setup, 1, 1, ["key"])
    point, light, number = rows[2]
    rows[2] = (point, light, number / 2**1.6)
    with pytest.raises(ReadingsError) as asked:
        calibrate(setup, noted(tmp_path, rows), bounce=False)
    text = str(asked.value)
    assert f"read[2].f_number: {show_f_number(rows[2][2])} at {point} from key" in text
    assert "stops less than predicted" in text
    assert text.count("?") == 1
    for word in ("dial", "ISO 100", "another light", "receptor"):
        assert word in text


@pytest.mark.parametrize(
    ("row", "key", "accepted"),
    [
        ('point = "nose"\nlight = "key"', "point", "near, middle, face"),
        ('point = "face"\nlight = "rim"', "light", "key, fill, hair, all"),
        ('point = "face"\nlight = "key"\naim = "camera"', "aim", "normal"),
        ('point = "face"\nlight = "key"\npower = "1/512"', "power", "from 1/"),
        ('point = "face"\nlight = "all"\npower = "1/4"', "power", "one light alone"),
        ('point = "face"\nlight = "key"\nreceptor = "ball"', "receptor", '"flat", "dome"'),
    ],
)
def test_what_the_scene_has_not_is_one_sentence(
    tmp_path: Path, row: str, key: str, accepted: str
) -> None:
    file = tmp_path / "read.toml"
    file.write_text(f'[[read]]\n{row}\nf_number = "8"\n')
    with pytest.raises(ReadingsError) as told:
        calibrate(scene(tmp_path), file, bounce=False)
    assert f"read[0].{key}: " in str(told.value)
    assert accepted in str(told.value)
    assert "\n" not in str(told.value)


def test_a_dial_or_a_meter_that_stood_elsewhere_is_allowed_for(tmp_path: Path) -> None:
    """A stop less power at twice the ISO speed shows the same (N² = H·S/C, ISO 2720)."""
    setup = scene(tmp_path)
    rows = said(setup, 2, 1, ["key"])
    plain = calibrate(setup, noted(tmp_path, rows), bounce=False)
    file = noted(tmp_path, rows, power='"1/8"', iso_speed="200")
    other = calibrate(setup, file, bounce=False)
    for a, b in zip(plain.corrections, other.corrections, strict=True):
        assert a.correction_stops == pytest.approx(b.correction_stops, abs=1e-9)


def test_toml_and_csv_say_the_same(tmp_path: Path) -> None:
    toml, table = tmp_path / "read.toml", tmp_path / "read.csv"
    toml.write_text(
        '[[read]]\npoint = "face"\nlight = "key"\nf_number = "8 +0.2"\ndate = 2026-11-20\n'
        '[[read]]\npoint = "far"\nlight = "fill"\nf_number = "2.8"\nreceptor = "dome"\n'
        'aim = "normal"\npower = "1/4 +0.5"\niso_speed = 200\n'
    )
    with table.open("w", newline="") as out:
        writer = csv.DictWriter(out, COLUMNS)
        writer.writeheader()
        writer.writerow(
            {"point": "face", "light": "key", "f_number": "f/8 +0.2"} | {"date": "2026-11-20"}
        )
        writer.writerow({"point": "near", "light": "key"})  # not read yet
        last = {"receptor": "dome", "aim": "normal", "power": "1/4 +0.5", "iso_speed": "200"}
        writer.writerow({"point": "far", "light": "fill", "f_number": "2.8"} | last)
    assert read_notes(toml).notes == read_notes(table).notes


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("point,light,stop\nface,key,8\n", 'line 1: found the column "stop"'),
        ("point,light,f_number\nface,key,eight\n", 'line 2: f_number: found "eight"'),
        ("point,light,f_number,date\nface,key,8,today\n", "line 2: date: found"),
        ("point,light,f_number\nface,key,8,9\n", "line 2: more cells"),
        ("point;light;f_number\nface;key;8\n", "parted by commas"),
        ("point,light,light,f_number\nface,key,fill,8\n", 'the column "light" twice'),
        ("point,light,f_number,date\nface,key,8,3.10.2026\n", "such as 2026-10-04"),
        ("point,light,f_number\nface,key,\n", "no reading yet"),
        ("", "no reading yet"),
    ],
)
def test_a_csv_file_that_cannot_be_read_says_where(tmp_path: Path, text: str, told: str) -> None:
    file = tmp_path / "read.csv"
    file.write_text(text)
    with pytest.raises(ReadingsError) as problem:
        read_notes(file)
    assert told in str(problem.value)


def test_a_written_kit_makes_the_meter_show_the_readings(tmp_path: Path) -> None:
    setup = scene(tmp_path)
    file = noted(tmp_path, said(setup, 1, 3, **HIDDEN), date="2026-11-20")
    found = calibrate(setup, file, bounce=False)
    made = entries(setup, found.corrections)
    write_readings(setup, tmp_path / "mine.toml", found.scene, made)
    again = scene(tmp_path, "mine.toml")
    shown = {(r.point, r.lights): r for r in meter(again, bounce=False).readings}
    for row in found.readings:
        now = shown[row.point, row.light]
        assert 2 * np.log2(now.f_number / row.after_f_number) == pytest.approx(0, abs=1e-3)
        assert now.calibration == "metered on 2026-11-20, ±0.1 stop"
    # Calibrated once, the same readings ask for next to nothing more, of either sign.
    more = calibrate(again, file, bounce=False).corrections
    for correction in more:
        assert abs(correction.correction_stops) < 2e-2
    nothing = [replace(each, correction_stops=-0.001) for each in more]
    assert "-0.00" not in tables(found.scene, entries(again, nothing))


def test_every_bundled_modifier_can_be_written(tmp_path: Path) -> None:
    """None of them reaches as far as the place that its reading is worked out for."""
    setup = scene(tmp_path)
    rows = said(setup, 1, 1, ["key"])
    (correction,) = calibrate(setup, noted(tmp_path, rows), bounce=False).corrections
    for name in setup.kit.modifier:
        worn = with_light(setup, "key", modifier=name)
        (made,) = entries(worn, [replace(correction, modifier=name)])
        known = replace(worn, kit=worn.kit.model_copy(update={"reading": (made.reading,)}))
        known = replace(known, reading_places=())
        light = worn.scene.light["key"]
        before, after = (light_alone(s, light)[0].luminous_energy_lm_s for s in (worn, known))
        gain = float(np.log2(after / before))
        assert gain == pytest.approx(correction.correction_stops, abs=1e-3), name


def test_a_kit_file_is_never_written_over(tmp_path: Path) -> None:
    there = tmp_path / "mine.toml"
    there.write_text("# mine\n")
    with pytest.raises(OutputError, match="is there already"):
        check_free(there)
    with pytest.raises(OutputError, match="nothing to write"):
        write_readings(scene(tmp_path), tmp_path / "other.toml", "bench", ())
    assert there.read_text() == "# mine\n"
    assert not (tmp_path / "other.toml").exists()


def test_the_command_prints_writes_and_refuses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    setup = scene(tmp_path)
    file, kit = noted(tmp_path, said(setup, 1, 1, **HIDDEN)), tmp_path / "mine.toml"

    def run(*options: object) -> int:
        return run_command(monkeypatch, setup.file, file, *options)

    assert run("--json", "--write", kit) == 0
    page = json.loads(capsys.readouterr().out)
    assert {row["lights"][0] for row in page["corrections"]} == set(HIDDEN)
    assert kit.exists()
    assert run("--csv") == 0
    assert capsys.readouterr().out.startswith("point,light,receptor,aim,power,iso_speed,date,")
    assert run() == 0
    assert "Corrections" in capsys.readouterr().out
    assert run("--write", kit) == 2
    assert "is there already" in capsys.readouterr().err


# Four small lamps of a kit of their own, so that readings can be worked out by hand: a Lambert
# front has the intensity Q/pi along its axis, and Q = stored energy x efficacy x share x power.
SMALL_KIT = """
[flash.small]
stored_energy_ws = 200
efficacy_lm_per_ws = 35
power_range_stops = 7
[modifier.window-{n}]
kind = "softbox"
size_cm = [4, 4]
edge_falloff_stops = 0
recess_cm = 0
share = 0.5
diffusers = 1
"""
FULL_LM_S = 200 * 35 * 0.5
LAMPS = {  # where it stands [m], power
    "key": ((-0.9, 1.8, 1.2), 0.25),
    "fill": ((1.1, 1.3, 1.6), 0.125),
    "hair": ((0.8, 2.1, -1.3), 0.25),
    "background": ((-1.2, 0.9, -0.6), 0.125),
}
SPOTS = {  # place [m] and the way the receptor looks when all lights fire
    "cheek": ((0.0, 1.2, 0.1), (0.0, 0.0, 1.0)),
    "chin": ((0.0, 1.1, 0.08), (0.0, 0.0, 1.0)),
    "crown": ((0.0, 1.35, -0.05), (0.0, 0.8, 0.6)),
    "collar": ((0.0, 0.95, 0.05), (0.0, 0.6, 0.8)),
    "shoulder": ((0.25, 0.95, -0.05), (0.0, 1.0, 0.0)),
}
ROUNDS = 40


def hand_scene(folder: Path) -> Setup:
    """Nothing but four lamps that hide nothing from one another."""
    kit = SMALL_KIT.split("[modifier")[0] + "".join(
        "[modifier" + SMALL_KIT.split("[modifier")[1].format(n=n) for n in LAMPS
    )
    (folder / "small.toml").write_text(kit)
    text = 'title = "hand"\nkit = ["small.toml"]\n'
    for name, (at, power) in LAMPS.items():
        text += (
            f'[light.{name}]\nflash = "small"\nmodifier = "window-{name}"\npower = {power}\n'
            f"position_m = {list(at)}\naim = [0, 1.2, 0]\n"
        )
    for name, (at, way) in SPOTS.items():
        text += f"[point.{name}]\nposition_m = {list(at)}\nfacing = {list(way)}\n"
    (folder / "hand.toml").write_text(text)
    return load_scene(folder / "hand.toml")


def by_hand(spot: str, lamp: str, towards_lamp: bool) -> float:
    """Inverse square, cosine of the lamp, cosine of a flat receptor [lx·s]."""
    (at, way), (stands, power) = SPOTS[spot], LAMPS[lamp]
    place, source = np.array(at), np.array(stands)
    ray = place - source
    length = np.linalg.norm(ray)
    axis = np.array([0, 1.2, 0]) - source
    leaving = ray @ axis / length / np.linalg.norm(axis)
    arriving = 1.0 if towards_lamp else max(0.0, -(ray @ np.array(way)) / length)
    return FULL_LM_S * power / np.pi * leaving * arriving / length**2


def sheet_by_hand(folder: Path, rng: np.random.Generator, hidden: dict[str, float]) -> Path:
    """A filled-in column: each lamp alone at 3 to 5 spots, all together at 5; N to a tenth."""
    rows = []
    spots = list(SPOTS)
    chosen = [(lamp, spot) for lamp in LAMPS for spot in spots[: rng.integers(3, 6)]]
    for lamp, spot in [*chosen, *(("all", spot) for spot in spots)]:
        lit = LAMPS if lamp == "all" else [lamp]
        light = sum(by_hand(spot, each, lamp != "all") * 2 ** hidden[each] for each in lit)
        light *= 2 ** (NOISE * rng.normal())
        stops = np.log2(light * 100 / 250)  # N² = H·S/C, C = 250 flat: ISO 2720
        row = f'[[read]]\npoint = "{spot}"\nlight = "{lamp}"\n'
        row += f"f_number = {float(2 ** (0.5 * round(stops, 1)))!r}\n"
        rows.append(row + ('receptor = "flat"\naim = "normal"\n' if lamp == "all" else ""))
    (folder / "hand-read.toml").write_text("".join(rows))
    return folder / "hand-read.toml"


def test_a_hidden_kit_is_recovered_from_readings_worked_out_by_hand(tmp_path: Path) -> None:
    """To 0.05 stop rms over 40 sheets, and as surely as stated: squared misses over squared
    standard errors are chi-square with one degree for each of 160 corrections."""
    setup = hand_scene(tmp_path)
    layout = place(setup)
    misses, errors = [], []
    for seed in range(ROUNDS):
        rng = np.random.default_rng(seed)
        hidden = {lamp: float(0.5 * rng.normal()) for lamp in LAMPS}
        file = sheet_by_hand(tmp_path, rng, hidden)
        page = open_page(setup, layout, file, read_notes(file))
        taken = beside(page, measure(page.layout, page.held, None, 1))
        best, _ = find_causes(page.layout, page.held, taken)
        misses += [best.offsets[k] - hidden[lamp] for k, lamp in enumerate(LAMPS)]
        errors += list(best.errors)
    ratios = np.array(misses) / np.array(errors)
    assert np.sqrt(np.mean(np.square(misses))) < 0.05
    low, high = chi2.interval(0.998, len(ratios))
    assert low < np.sum(ratios**2) < high
    inside = np.mean(np.abs(ratios) < 1)
    # 68.3 % of a normal distribution, its count binomial.
    assert inside == pytest.approx(0.683, abs=3 * (0.683 * 0.317 / len(ratios)) ** 0.5)


def test_the_next_reading_is_where_two_causes_differ_most(tmp_path: Path) -> None:
    """Off by 0.3 stop at one spot: more light leaves the lamp, or it stands nearer. At every other
    spot, and straight ahead of the lamp, both are worked out by hand."""
    setup = hand_scene(tmp_path)
    number = float((by_hand("cheek", "key", True) * 2**0.3 * 100 / 250) ** 0.5)
    file = noted(tmp_path, [("cheek", "key", number)])
    page = open_page(setup, place(setup), file, read_notes(file))
    taken = beside(page, measure(page.layout, page.held, None, 1))
    (one,) = further(page, taken, {}, None)
    output, distance = one.reasons
    assert (output.name, distance.name) == ("output", "distance")
    source, middle = np.array(LAMPS["key"][0]), np.array([0, 1.2, 0])
    axis = (middle - source) / np.linalg.norm(middle - source)

    def stops(place_m: np.ndarray, stands: np.ndarray) -> float:
        ray = place_m - stands
        return float(np.log2(ray @ axis / np.linalg.norm(ray) ** 3))

    apart = {
        spot: output.offset
        - distance.offset
        + stops(np.array(at), source)
        - stops(np.array(at), source + distance.amount * axis)
        for spot, (at, _) in SPOTS.items()
        if spot != "cheek"
    }
    apart |= {f"{x:g} m ahead of key": output.offset - distance.offset for x in AHEAD_M}
    best = max(abs(value) for value in apart.values())
    assert one.apart_stops == pytest.approx(best, abs=0.01)
    assert abs(apart[one.place]) == pytest.approx(best, abs=0.01)


def test_no_reading_is_asked_for_where_a_moved_light_would_be_hidden(tmp_path: Path) -> None:
    """A board with its edge on the axis, 5 cm behind the place 1 m ahead: were the lamp nearer,
    that place would lie behind it and read half the light, which is no word on the lamp."""
    setup = hand_scene(tmp_path)
    source, middle = np.array(LAMPS["key"][0]), np.array([0, 1.2, 0])
    axis = (middle - source) / np.linalg.norm(middle - source)
    level = np.array([-axis[2], 0, axis[0]]) / np.hypot(axis[0], axis[2])  # the cheek's side
    board = source + 1.05 * axis - 0.3 * level
    with setup.file.open("a") as file:
        file.write(
            f'[panel.board]\nkind = "black"\nsize_cm = [60, 60]\nposition_m = {board.tolist()}\n'
            f"facing = {(board - axis).tolist()}\n"
        )
    setup = load_scene(setup.file)
    number = float((by_hand("cheek", "key", True) * 2**0.3 * 100 / 250) ** 0.5)
    book = read_notes(noted(tmp_path, [("cheek", "key", number)]))
    page = open_page(setup, place(setup), tmp_path / "read.csv", book)
    taken = beside(page, measure(page.layout, page.held, None, 1))
    (one,) = further(page, taken, {}, None)
    assert one.reasons[1].name == "distance"
    assert one.reasons[1].amount > 0.05
    assert one.place != "1 m ahead of key"
    assert one.apart_stops < 0.5


def test_readings_that_fit_ask_for_no_other(tmp_path: Path) -> None:
    setup = scene(tmp_path)
    found = calibrate(setup, noted(tmp_path, said(setup, 1, 1, ["key"])), bounce=False)
    assert found.next_readings == ()


def test_a_place_of_ones_own_and_one_straight_ahead(tmp_path: Path) -> None:
    """Straight ahead is the kit's own way: inverse square and nothing else, N as 1/d."""
    setup = hand_scene(tmp_path)
    full = FULL_LM_S * 0.25 / np.pi
    ahead = float((full / 0.8**2 * 100 / 250) ** 0.5)
    at = np.array([0.2, 1.4, 0.4])
    ray = at - np.array(LAMPS["key"][0])
    axis = np.array([0, 1.2, 0]) - np.array(LAMPS["key"][0])
    cosine = ray @ axis / np.linalg.norm(ray) / np.linalg.norm(axis)
    own = float((full * cosine / (ray @ ray) * 100 / 250) ** 0.5)
    file = tmp_path / "read.toml"
    file.write_text(
        f'[point.window]\nposition_m = {at.tolist()}\nfacing = "key"\n'
        f'[[read]]\ndistance_m = 0.8\nlight = "key"\nf_number = {ahead!r}\n'
        f'[[read]]\npoint = "window"\nlight = "key"\nf_number = {own!r}\n'
        '[[read]]\npoint = "crown"\nlight = "hair"\nf_number = ""\n'
        '[[read]]\npoint = "chin"\nlight = "all"\n'
    )
    found = calibrate(setup, file, bounce=False)
    assert [row.point for row in found.readings] == ["0.8 m ahead", "window"]
    for row in found.readings:
        assert row.off_before_stops == pytest.approx(0, abs=0.01)
    assert found.not_read == ("hair at crown", "all at chin")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[[read]]\nlight = "key"\nf_number = 8\n', "read[0].point: missing"),
        ('[[read]]\npoint = "chin"\ndistance_m = 1\nlight = "key"\nf_number = 8\n', "beside"),
        ('[[read]]\ndistance_m = 1\nlight = "all"\nf_number = 8\n', "straight ahead of none"),
        ('[[read]]\npoint = "chin"\nlight = "key"\nf_number = ""\n', "no reading yet"),
        ('[[read]]\npoint = "chin"\nlight = "key"\nfnumber = 8\n', "read[0].fnumber: unknown key"),
        ("read = 3\n", "read: found no list of tables ([[read]] tables"),
        ('[[reading]]\npoint = "chin"\n', "read: missing ([[read]] tables with point"),
        (
            '[point.chin]\nlandmark = "chin"\n[[read]]\npoint = "chin"\nlight = "key"\n'
            "f_number = 8\n",
            "point.chin: is a point of the scene already",
        ),
        (
            '[point.sky]\nposition_m = [0, 1, 0]\nfacing = "moon"\n'
            '[[read]]\npoint = "sky"\nlight = "key"\nf_number = 8\n',
            "read.toml: point.sky.facing",
        ),
    ],
)
def test_a_place_that_cannot_be_is_one_sentence(tmp_path: Path, text: str, told: str) -> None:
    file = tmp_path / "read.toml"
    file.write_text(text)
    with pytest.raises(ReadingsError) as problem:
        calibrate(hand_scene(tmp_path), file, bounce=False)
    assert told in str(problem.value)
    assert "\n" not in str(problem.value)


OWN_KIT = """# my kit
[[reading]]
flash = "monobloc-400"
modifier = "softbox-60x90"
power = "1/4"
distance_m = 1.0
f_number = 13.7  # as measured in spring
date = 2026-04-02

# with the deep grid
[[reading]]
flash = "monobloc-400"
modifier = "softbox-60x90"
grid_deg = 30
power = "1/4"
distance_m = 1.0
f_number = 9.6

[flash.mine]  # stays
stored_energy_ws = 100
"""


def test_older_readings_give_way_only_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reading of the same outfit becomes a comment with its date; one with a grid, the other
    entries and the comments stay, and the meter then shows what was read."""
    kit = tmp_path / "mine.toml"
    kit.write_text(OWN_KIT)
    setup = scene(tmp_path, "mine.toml")
    file = noted(tmp_path, said(setup, 1, 1, ["key"], key=0.3), date="2026-11-20")
    new = tmp_path / "new.toml"
    assert run_command(monkeypatch, setup.file, file, "--write", new) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "mine.toml has a reading of monobloc-400 with softbox-60x90 of 2026-04-02" in told
    assert "--replace" in told
    assert not new.exists()
    assert kit.read_text() == OWN_KIT
    found = calibrate(setup, file, bounce=False)
    assert run_command(monkeypatch, setup.file, file, "--write", kit, "--replace") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "comments in mine.toml now (1)" in told
    text = kit.read_text()
    assert "# f_number = 13.7  # as measured in spring" in text
    assert "# date = 2026-04-02" in text
    assert "# with the deep grid\n[[reading]]" in text
    entries_now = tomllib.loads(text)
    assert [each.get("grid_deg") for each in entries_now["reading"]] == [30, None]
    assert "mine" in entries_now["flash"]
    again = scene(tmp_path, "mine.toml")
    shown = {(r.point, r.lights): r for r in meter(again, bounce=False).readings}
    for row in found.readings:
        now = shown[row.point, row.light]
        assert 2 * np.log2(now.f_number / row.after_f_number) == pytest.approx(0, abs=1e-3)


def test_what_cannot_be_replaced_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    kit = tmp_path / "mine.toml"
    inline = (
        'reading = [{ flash = "monobloc-400", modifier = "softbox-60x90", power = "1/4", '
        "distance_m = 1.0, f_number = 13.7 }]\n"
    )
    kit.write_text(inline)
    setup = scene(tmp_path, "mine.toml")
    file = noted(tmp_path, said(setup, 1, 1, ["key"]))
    assert run_command(monkeypatch, setup.file, file, "--write", kit, "--replace") == 2
    assert "cannot be edited" in capsys.readouterr().err
    assert kit.read_text() == inline
    assert run_command(monkeypatch, setup.file, file, "--replace") == 2
    assert "with --write KIT.toml" in capsys.readouterr().err

"""A kit entry that cannot be is one sentence with file, key, what was found and the cure."""

from pathlib import Path

import pytest

from render.errors import KitError
from render.folders import data_folder
from render.scenefile.kits import read_kits
from render.studio.kit import KitReading, Modifier
from render.studio.part import shown_f_number


def read(folder: Path, text: str):
    file = folder / "mine.toml"
    file.write_text(text)
    return read_kits([file])


BOX = 'kind = "softbox"\nsize_cm = [60, 90]\n'
MODIFIERS = [
    ('kind = "softbox"', "size_cm", "missing, a softbox needs it (write size_cm = [60, 90])"),
    ('kind = "softbox"\ndiameter_cm = 90', "diameter_cm", "found on a softbox (only for octa"),
    ('kind = "octa"\nsize_cm = [90, 90]', "size_cm", "found on an octa (only for softbox"),
    ('kind = "octa"', "diameter_cm", "missing, an octa needs it"),
    (BOX + "sides = 8", "sides", "only for octa)"),
    (BOX + "back_share = 0.4", "back_share", "found on a softbox (only for umbrella through)"),
    (BOX + "deflector_cm = 15", "deflector_cm", "only for dish)"),
    (BOX + "head_cm = [12, 30]", "head_cm", "only for umbrella through"),
    ('kind = "reflector"\ndiameter_cm = 18\ndepth_cm = 5', "depth_cm", "only for umbrella"),
    ('kind = "umbrella bounce"\ndiameter_cm = 100', "depth_cm", "missing, an umbrella bounce"),
    (
        'kind = "umbrella bounce"\ndiameter_cm = 100\ndepth_cm = 60',
        "depth_cm",
        "found 60 (at most half its diameter, 50)",
    ),
    (
        'kind = "umbrella bounce"\ndiameter_cm = 100\ndepth_cm = 20\nback_share = 0.2',
        "back_share",
        "found on an umbrella bounce",
    ),
    (
        'kind = "dish"\ndiameter_cm = 55\ndeflector_cm = 55',
        "deflector_cm",
        "found 55 (less than the dish, 55)",
    ),
    ('kind = "snoot"\ndiameter_cm = 6', "recess_cm", "missing, a snoot needs it"),
    ('kind = "snoot"\ndiameter_cm = 6\nrecess_cm = 1', "recess_cm", "at least half its diameter"),
    ('kind = "strip"\nsize_cm = [60, 90]', "size_cm", "at least twice as long as wide"),
    ('kind = "bare"\ndiameter_cm = 8\ndiffusers = 1', "diffusers", "found on a bare"),
    ('kind = "lantern"\ndiameter_cm = 8\nbeam_deg = 60', "beam_deg", "found on a lantern"),
    ('kind = "measured"', "measured_file", "missing, a measured front needs it"),
    ('kind = "measured"\nmeasured_file = "no.ies"', "measured_file", 'no file "no.ies"'),
    (BOX + 'measured_file = "no.ies"', "measured_file", "only for measured"),
    (BOX + "usual_loss_stops = [3, 2]", "usual_loss_stops", "the least first"),
    ('kind = "softbx"\nsize_cm = [60, 90]', "kind", 'found "softbx" (accepted: one of "softbox"'),
    (BOX + "beam_angle = 60", "beam_angle", "did you mean beam_deg?"),
]


@pytest.mark.parametrize(("text", "key", "words"), MODIFIERS)
def test_a_modifier_has_the_keys_of_its_kind_and_no_others(
    tmp_path: Path, text: str, key: str, words: str
) -> None:
    with pytest.raises(KitError) as caught:
        read(tmp_path, f"[modifier.mine]\n{text}\n")
    assert str(caught.value).startswith(f"mine.toml: modifier.mine.{key}: ")
    assert words in str(caught.value)


OTHERS = [
    (
        "[flash.mine]\nstored_energy_ws = 300\ncolour_temperature_k = 3200\n"
        "power_range_stops = 6\ncolour_drift_k_per_stop = -300",
        "flash.mine.colour_drift_k_per_stop: found -300, 1400 K at the least power",
    ),
    ("[flash.mine]\nstored_energy_ws = 3", "flash.mine.stored_energy_ws: found 3"),
    (
        '[grid.mine]\ncells = "square"\ncell_cm = 20\ndepth_cm = 1',
        "grid.mine.cell_cm: found 20 with depth_cm = 1, cells that close at 87.1 degrees",
    ),
    (
        '[[reading]]\nflash = "monobloc-400"\nmodifier = "octa-120"\ndistance_m = 2\n'
        'f_number = 8\ngrid = "fabric-45"',
        'reading[0].grid: found "fabric-45" (accepted: fabric-20, fabric-30',
    ),
    (
        '[[reading]]\nflash = "monobloc-400"\nmodifier = "octa-120"\ndistance_m = 2\n'
        'f_number = 8\ngel = ["nd-1-stop", "rose"]',
        'reading[0].gel[1]: found "rose"',
    ),
    (
        '[[reading]]\nflash = "monobloc-400"\nmodifier = "octa-120"\ndistance_m = 2\n'
        'f_number = "eight"',
        'reading[0].f_number: found "eight" (accepted: what the meter showed: a number from',
    ),
]


@pytest.mark.parametrize(("text", "words"), OTHERS)
def test_heads_grids_and_readings_are_checked(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(KitError) as caught:
        read(tmp_path, text + "\n")
    assert str(caught.value).startswith(f"mine.toml: {words}")


def test_every_kind_can_be_written_down(tmp_path: Path) -> None:
    """The bundled kit holds one of each kind but plain, which stands for size_cm on a light."""
    kit, places = read_kits()
    assert places == ()
    kinds = {entry.kind for entry in kit.modifier.values()}
    assert kinds | {"plain"} == set(Modifier.model_fields["kind"].annotation.__args__)
    assert {"fabric-40", "honeycomb-20"} <= set(kit.grid)
    read(tmp_path, f'[modifier.mine]\nkind = "plain"\n{BOX.splitlines()[1]}\n')


def test_own_entries_override_and_readings_know_their_place(tmp_path: Path) -> None:
    reading = '[[reading]]\nflash = "mine"\nmodifier = "octa-120"\ndistance_m = 2\nf_number = 8\n'
    (tmp_path / "heads.toml").write_text("[flash.mine]\nstored_energy_ws = 250\n")
    (tmp_path / "read.toml").write_text(
        f'{reading}\n{reading}\n[grid.fabric-40]\ncells = "square"\ncell_cm = 4\ndepth_cm = 4\n'
    )
    kit, places = read_kits([tmp_path / "heads.toml", tmp_path / "read.toml"])
    assert kit.flash["mine"].stored_energy_ws == 250
    assert kit.grid["fabric-40"].depth_cm == 4
    assert [(place.file.name, place.key) for place in places] == [
        ("read.toml", "reading[0]"),
        ("read.toml", "reading[1]"),
    ]


def test_a_measured_file_stands_beside_the_kit_file(tmp_path: Path) -> None:
    beam = next((data_folder("scenes") / "kit" / "beams").glob("*.ies"))
    (tmp_path / "lamp.ies").write_bytes(beam.read_bytes())
    kit, _ = read(tmp_path, '[modifier.mine]\nkind = "measured"\nmeasured_file = "lamp.ies"\n')
    assert kit.modifier["mine"].measured_file == str(tmp_path / "lamp.ies")


def test_f_numbers_as_flash_meters_show_them() -> None:
    """Printed in flash-meter manuals: "5.6 and 3/10" is f/6.3, "8 and 4/10" f/9.2, "11 and 7/10"
    f/14.4; whole stops are powers of the square root of two, so the mark 11 is 11.31."""
    for shown, f_number in (("5.6 +0.3", 6.3), ("f/8 +0.4", 9.2), ("11+.7", 14.4)):
        assert shown_f_number(shown) == pytest.approx(f_number, abs=0.05)
    assert shown_f_number("11") == pytest.approx(11.3137, abs=1e-4)
    assert shown_f_number(11) == shown_f_number("11")
    assert shown_f_number(11.3) == 11.3
    taken = {"flash": "a", "modifier": "b", "distance_m": 1.0, "f_number": "f/8 +0.9"}
    assert KitReading.model_validate(taken).f_number == pytest.approx(8 * 2**0.45)

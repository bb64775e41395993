"""A broken or hostile photometric file gives one sentence with its line, and nothing else."""

from __future__ import annotations

import random
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from render.emission.measured import flux, read_measured
from render.errors import KitError, TenthstopError
from tests.unit.emission.lamp_files import STEP_5, cosine, eulumdat, lm63

SMALL = lm63(verticals=STEP_5)
PLANES = np.arange(0, 360, 30)
LDT = eulumdat(cosine, PLANES, PLANES, STEP_5, symmetry=0)
HEAD = "1 -1 1 19 1 1 2 0.3 0.3 0"


def said(folder: Path, data: bytes | str, name: str = "lamp.ies") -> str:
    data = data.encode() if isinstance(data, str) else data
    (folder / name).write_bytes(data)
    with pytest.raises(KitError) as caught:
        read_measured(folder / name)
    sentence = str(caught.value)
    assert sentence.startswith(name)
    assert "\n" not in sentence
    return sentence


def headed(numbers: str) -> str:
    assert HEAD in SMALL
    return SMALL.replace(HEAD, numbers)


BROKEN = {
    "empty": ("", "empty"),
    "blank": (" \n\n", "empty"),
    "binary": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a text file"),
    "no tilt": (SMALL.replace("TILT=NONE\n", ""), "no line with TILT="),
    "prose": ("A letter.\nNo lamp in it.", "no line with TILT="),
    "only tilt": ("TILT=NONE\n", "line 1: the file ends after 0 of the numbers"),
    "cut head": (SMALL[: SMALL.index("19 1 1")], "ends after 3 of the numbers"),
    "cut": (SMALL[:-40], "numbers after the TILT part (accepted: 52, for 19 vertical x 1"),
    "one too many": (SMALL + "7\n", "53 numbers after the TILT part (accepted: 52"),
    "two lamps": (SMALL + SMALL, "numbers after the TILT part"),
    "text": (SMALL.replace("1000", "bright"), 'line 9: found "bright" for an intensity'),
    "nan": (SMALL.replace("1000", "nan"), 'line 9: found "nan" for an intensity'),
    "inf": (SMALL.replace("1000", "inf"), 'line 9: found "inf" for an intensity'),
    "huge": (SMALL.replace("1000", "1e999"), "from 0 to 1e+12"),
    "negative": (SMALL.replace("1000", "-1000"), 'line 9: found "-1000" for an intensity'),
    "other digits": (SMALL.replace("1000", "١٠٠٠"), "for an intensity"),
    "too bright": (headed("1 -1 1e12 19 1 1 2 0.3 0.3 0"), "at most 1e+12 cd"),
    "dark": (lm63(lambda v, h: 0.0, STEP_5), "every intensity is 0"),
    "no multiplier": (headed("1 -1 0 19 1 1 2 0.3 0.3 0"), "found 0 for the candela multiplier"),
    "no ballast": (lm63(ballast=0), "found 0 for the ballast factor"),
    "a billion angles": (headed("1 -1 1 1000000000 1 1 2 0 0 0"), "from 2 to 3601"),
    "many angles": (headed("1 -1 1 3601 3601 1 2 0 0 0"), "accepted: 12974416"),
    "one angle": (headed("1 -1 1 1 1 1 2 0 0 0"), "found 1 for the number of vertical angles"),
    "no planes": (headed("1 -1 1 19 0 1 2 0 0 0"), "found 0 for the number of horizontal"),
    "half an angle": (headed("1 -1 1 19.5 1 1 2 0 0 0"), "found 19.5 for the number"),
    "type": (headed("1 -1 1 19 1 4 2 0 0 0"), "photometric type (accepted: a whole number from 1"),
    "units": (headed("1 -1 1 19 1 1 3 0 0 0"), "found 3 for the units"),
    "vast": (headed("1 -1 1 19 1 1 2 300 300 0"), "a lit opening of 300 m"),
    "falling angles": (SMALL.replace("0 5 10 15", "0 10 5 15"), "5 after 10 (accepted: ascending"),
    "twice an angle": (SMALL.replace("0 5 10 15", "0 5 5 15"), "5 after 5"),
    "angle too far": (SMALL.replace("85 90\n", "85 190\n"), "found 190 for a vertical angle"),
    "not from the axis": (SMALL.replace("\n0 5 10", "\n2 5 10"), "found 2 as first vertical angle"),
    "odd planes": (lm63(horizontals=(0, 30, 60)), "planes from 0 to 60 degrees"),
    "planes beyond": (lm63(horizontals=(0, 180, 400)), "found 400 for a horizontal angle"),
    "one plane of a flood": (lm63(kind=2), "found one horizontal angle"),
    "tilt away": (lm63(tilt="TILT=../other.tlt"), "the name of a file in the same folder"),
    "tilt far away": (lm63(tilt="TILT=/etc/passwd"), "the name of a file in the same folder"),
    "tilt on a disk": (lm63(tilt=r"TILT=C:\lamps\a.tlt"), "the name of a file in the same folder"),
    "tilt of nothing": (lm63(tilt="TILT="), "the name of a file in the same folder"),
    "tilt of dots": (lm63(tilt="TILT=.."), "the name of a file in the same folder"),
    "tilt missing": (lm63(tilt="TILT=gone.tlt"), 'no file "gone.tlt" beside it'),
    "tilt cut": ("TILT=INCLUDE\n1", "the file ends in its tilt part"),
    "tilt short": ("TILT=INCLUDE\n1 3 0 45 90 1", "4 numbers for 3 tilt angles"),
    "tilt lamp": (lm63(tilt="TILT=INCLUDE\n9\n1\n0\n1"), "the position of the lamp"),
    "tilt many": (lm63(tilt="TILT=INCLUDE\n1\n99999999\n0\n1"), "the number of tilt angles"),
}  # fmt: skip


@pytest.mark.parametrize("what", BROKEN)
def test_broken_lm63(what: str, tmp_path: Path) -> None:
    data, sentence = BROKEN[what]
    assert sentence in said(tmp_path, data)


def line(number: int, text: str, of: str = LDT) -> str:
    lines = of.split("\n")
    lines[number - 1] = text
    return "\n".join(lines)


BROKEN_LDT = {
    "empty": ("", "empty"),
    "short": ("a\nb\n", "line 2: the file ends early (accepted: at least 3 lines)"),
    "symmetry": (line(3, "5"), "line 3: found 5 for the symmetry"),
    "planes": (line(4, "many"), 'line 4: found "many" for the number of C planes'),
    "a billion planes": (line(4, "1000000000"), "line 4: found 1e+09 for the number of C planes"),
    "planes by four": (line(3, "4", line(4, "10")), "a number that divides by 4"),
    "one gamma": (line(6, "1"), "line 6: found 1 for the number of gamma angles"),
    "no lamps": (line(26, "0"), "line 26: found 0 for the number of lamp sets"),
    "no flux": (line(29, "0"), "line 29: found 0 for the luminous flux"),
    "conversion": (line(24, "-1"), "line 24: found -1 for the conversion factor"),
    "size": (line(16, "-5"), 'line 16: found "-5" for a size of the lit area'),
    "vast": (line(16, "90000"), "line 16: a lit area of 90000 mm"),
    "cut": (LDT[:-30], "lines (accepted: 301, as symmetry 0, 12 planes and 19 gammas ask)"),
    "more": (LDT + "5\n", "302 lines (accepted: 301"),
    "C angles": (line(45, "0"), "line 45: a C angle: 0 after 30"),
    "gap": (line(43, "5"), "planes from 5 to 360 degrees"),
    "wrong end": (
        eulumdat(cosine, PLANES + 3, PLANES[:4] + 3, STEP_5, symmetry=4),
        "the planes of symmetry 4 run from 3 to 93 (accepted: from 0 to 90 degrees)",
    ),
    "gammas": (line(56, "0"), "line 56: a gamma angle: 0 after 0"),
    "late gamma": (line(55, "1"), "found 1 as first gamma angle"),
    "nan": (line(74, "nan"), 'line 74: found "nan" for an intensity'),
    "negative": (line(74, "-1"), 'line 74: found "-1" for an intensity'),
    "two in a line": (line(74, "1 2"), 'line 74: found "1 2" for an intensity'),
}


@pytest.mark.parametrize("what", BROKEN_LDT)
def test_broken_eulumdat(what: str, tmp_path: Path) -> None:
    data, sentence = BROKEN_LDT[what]
    assert sentence in said(tmp_path, data, "lamp.ldt")


def test_files_that_are_no_photometric_files(tmp_path: Path) -> None:
    assert "not a photometric file" in said(tmp_path, "A letter.\nNo lamp.", "letter.txt")
    assert "too large" in said(tmp_path, b" " * 4_000_001, "blanks.ies")
    with pytest.raises(KitError, match=r"gone\.ies: no such file"):
        read_measured(tmp_path / "gone.ies")
    with pytest.raises(KitError, match="not a file"):
        read_measured(tmp_path)
    with pytest.raises(KitError):
        read_measured("a\0b.ies")


def test_a_tilt_file_is_named_where_it_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "tube.tlt").write_text("1\n3\n0 45 90\n1 bad .95\n")
    (tmp_path / "lamp.ies").write_text(lm63(tilt="TILT=tube.tlt"))
    with pytest.raises(KitError, match=r'tube\.tlt: line 4: found "bad" for a tilt factor'):
        read_measured(tmp_path / "lamp.ies")


def test_a_tilt_link_does_not_lead_out_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "kit").mkdir()
    (tmp_path / "secret").write_text("1\n1\n0\n1\n")
    (tmp_path / "kit" / "in.tlt").symlink_to(tmp_path / "secret")
    assert "in the same folder" in said(tmp_path / "kit", lm63(tilt="TILT=in.tlt"))


SEEDS = (SMALL, LDT, lm63(horizontals=(0, 45, 90), tilt="TILT=INCLUDE\n1\n2\n0 90\n1 1"))
PIECES = ("nan", "-1", "1e308", "1e12", "0", "\n", ",", "99999999999999999999", "TILT=NONE", "²")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz")


def reads_or_says(folder: Path, data: bytes, suffix: str) -> None:
    file = folder / f"fuzz{suffix}"
    file.write_bytes(data)
    said = ""
    try:
        beam = read_measured(file)
    except TenthstopError as error:
        said = str(error)
    if said:
        assert said.startswith("fuzz")
        assert "\n" not in said
        return
    assert np.all(np.isfinite(beam.candela))
    assert np.all(beam.candela >= 0)
    assert beam.candela.shape == (len(beam.planes_deg), len(beam.gammas_deg))
    assert np.all(np.diff(beam.planes_deg) > 0)
    assert np.all(np.diff(beam.gammas_deg) > 0)
    assert 0 <= flux(beam) < np.inf


@settings(max_examples=200, deadline=None)
@given(
    seed=st.sampled_from(SEEDS),
    cuts=st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 60)), min_size=1, max_size=4),
    pieces=st.lists(st.sampled_from(PIECES) | st.text(max_size=6), min_size=4, max_size=4),
    suffix=st.sampled_from([".ies", ".ldt", ""]),
)
def test_mangled_files_are_read_or_refused(
    folder: Path, seed: str, cuts: list[tuple[int, int]], pieces: list[str], suffix: str
) -> None:
    for (at, length), piece in zip(cuts, pieces, strict=False):
        at %= len(seed)
        seed = seed[:at] + piece + seed[at + length :]
    reads_or_says(folder, seed.encode("utf-8", "replace"), suffix)


@settings(max_examples=50, deadline=None)
@given(number=st.integers(0, 2**32), suffix=st.sampled_from([".ies", ".ldt"]))
def test_files_with_swapped_numbers_are_read_or_refused(
    folder: Path, number: int, suffix: str
) -> None:
    dice = random.Random(number)
    seed = dice.choice(SEEDS)
    spans = list(re.finditer(r"[-.\d]+", seed))
    for span in sorted(dice.sample(spans, 2), key=lambda found: -found.start()):
        seed = seed[: span.start()] + dice.choice(PIECES) + seed[span.end() :]
    reads_or_says(folder, seed.encode(), suffix)


@settings(max_examples=50, deadline=None)
@given(data=st.binary(max_size=200), suffix=st.sampled_from([".ies", ".ldt", ".dat"]))
def test_random_bytes_are_refused(folder: Path, data: bytes, suffix: str) -> None:
    reads_or_says(folder, data, suffix)

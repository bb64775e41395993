"""The same lamp written in the many ways that photometric files are written in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from render.emission.measured import MeasuredBeam, flux, intensity, read_measured
from tests.unit.emission.lamp_files import STEP_5, cosine, eulumdat, lm63

PLAIN = lm63()
SPELLINGS = [
    "crlf",
    "cr",
    "ctrl-z",
    "no-end",
    "wrapped",
    "one-a-line",
    "tabs",
    "spaced",
    "utf8",
    "latin1",
    "cp1252",
    "powers",
]


def read(folder: Path, data: bytes, name: str = "lamp.ies") -> MeasuredBeam:
    (folder / name).write_bytes(data)
    return read_measured(folder / name)


def same(one: MeasuredBeam, other: MeasuredBeam) -> None:
    for field in ("gammas_deg", "planes_deg", "candela"):
        np.testing.assert_array_equal(getattr(one, field), getattr(other, field))


def wrapped(text: str, width: int) -> str:
    """The numbers after the TILT line in lines of so many words, records run together."""
    head, numbers = text.split("TILT=NONE\n")
    words = numbers.split()
    lines = [" ".join(words[i : i + width]) for i in range(0, len(words), width)]
    return head + "TILT=NONE\n" + "\n".join(lines)


@pytest.mark.parametrize(
    "data",
    [
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.encode() + b"\r\n\r\n\x1a",
        PLAIN.rstrip("\n").encode(),
        wrapped(PLAIN, 7).encode(),
        wrapped(PLAIN, 1).encode(),
        lm63(sign=",\t ").encode(),
        PLAIN.replace("TILT=NONE", "tilt = none ").encode(),
        PLAIN.replace("computed", "Gerät für Straße").encode("utf-8-sig"),
        PLAIN.replace("computed", "Gerät für Straße").encode("latin-1"),
        PLAIN.replace("computed", "a … line").encode("cp1252"),
        PLAIN.replace("\n1000 ", "\n1.000E+03 ").encode(),
    ],
    ids=SPELLINGS,
)
def test_spelling_does_not_matter(data: bytes, tmp_path: Path) -> None:
    same(read(tmp_path, data), read(tmp_path, PLAIN.encode(), "plain.ies"))


def test_content_decides_where_the_suffix_misleads(tmp_path: Path) -> None:
    other = eulumdat(cosine, lamp_flux=1000).encode()
    same(read(tmp_path, PLAIN.encode(), "lamp.txt"), read(tmp_path, PLAIN.encode()))
    same(read(tmp_path, other, "swapped.txt"), read(tmp_path, other, "lamp.LDT"))


def test_eulumdat_lines_may_be_blank_hold_old_signs_and_end_late(tmp_path: Path) -> None:
    plain = eulumdat(cosine, lamp_flux=1000)
    odd = plain.replace("a company", "").replace("a computed lamp", "Leuchte \x85 f\xfcr")
    data = odd.replace("\n", "\r\n").encode("latin-1") + b"\r\n\r\n\x1a"
    same(read(tmp_path, data, "odd.ldt"), read(tmp_path, plain.encode(), "plain.ldt"))


def test_only_the_first_set_of_lamps_counts(tmp_path: Path) -> None:
    """Further sets are alternatives for the same luminaire."""
    one = eulumdat(cosine, lamp_flux=1000)
    more = "\n1\n1\nflash tube\n1000\n5600\n100\n100\n"
    assert more in one
    second = "1\nother\n9000\n5600\n100\n100\n"
    two = one.replace(more, more.replace("\n1\n1\n", "\n2\n1\n") + second)
    assert flux(read(tmp_path, two.encode(), "two.ldt")) == flux(
        read(tmp_path, one.encode(), "one.ldt")
    )


def test_absolute_photometry_has_no_lamp_flux(tmp_path: Path) -> None:
    assert read(tmp_path, PLAIN.encode()).lamp_flux_lm is None
    assert read(tmp_path, lm63(lumens=4000).encode()).lamp_flux_lm == 4000


def test_an_open_circle_closes_with_its_first_plane(tmp_path: Path) -> None:
    planes = np.arange(0, 346, 15)
    text = lm63(lambda g, c: cosine(g, c) * (1 + c / 720), horizontals=planes)
    beam = read(tmp_path, text.encode())
    assert beam.planes_deg[-1] == 360
    np.testing.assert_array_equal(beam.candela[-1], beam.candela[0])


def test_nothing_shines_beyond_the_angles_of_the_file(tmp_path: Path) -> None:
    beam = read(tmp_path, lm63(verticals=np.arange(0, 61, 5.0)).encode())
    assert intensity(beam, np.array([60.0, 60.1]), np.zeros(2)).tolist() == [500, 0]


@pytest.mark.parametrize(
    ("kind", "sizes", "units", "opening"),
    [
        # Width across, length along photometric horizontal, height upwards. C0 lies along length.
        (1, (0.2, 0.6, 0), 2, (0.6, 0.2, 0, False)),
        (1, (1, 2, 0.5), 1, (0.6096, 0.3048, 0.1524, False)),
        (1, (-0.4, -0.4, 0), 2, (0.4, 0.4, 0, True)),
        (1, (-0.4, 0, 0), 2, (0.4, 0.4, 0, True)),  # the form of 1995
        (1, (0, 0, 0), 2, (0, 0, 0, False)),
        (2, (0.2, 0.6, 0.1), 2, (0.2, 0.6, 0.1, False)),
        (3, (0.2, 0.1, 0.6), 2, (0.2, 0.6, 0.1, False)),
    ],
)
def test_openings(
    kind: int,
    sizes: tuple[float, float, float],
    units: int,
    opening: tuple[float, float, float, bool],
    tmp_path: Path,
) -> None:
    angles = STEP_5 if kind == 1 else np.arange(-90, 91, 10)
    text = lm63(
        verticals=angles, horizontals=(0,) if kind == 1 else angles, kind=kind, sizes=sizes,
        units=units,
    )  # fmt: skip
    beam = read(tmp_path, text.encode())
    found = (beam.width_m, beam.height_m, beam.depth_m, beam.round)
    assert found == pytest.approx(opening)


def test_eulumdat_openings(tmp_path: Path) -> None:
    """Length lies along C90-C270, width across it; width 0 makes length a diameter."""
    disk = read(tmp_path, eulumdat(cosine, sizes_mm=(420, 0)).encode(), "disk.ldt")
    assert (disk.width_m, disk.height_m, disk.round) == (0.42, 0.42, True)
    box = read(tmp_path, eulumdat(cosine, sizes_mm=(900, 200)).encode(), "box.ldt")
    assert (box.width_m, box.height_m, box.round) == (0.2, 0.9, False)


def test_titles(tmp_path: Path) -> None:
    named = PLAIN.replace("[MANUFAC] none", "[LUMINAIRE] a bowl")
    assert read(tmp_path, named.encode()).title == "a bowl"
    assert read(tmp_path, lm63(first=None).encode()).title == "a computed lamp"
    assert read(tmp_path, eulumdat(cosine).encode(), "a.ldt").title == "a computed lamp"


def test_a_tilt_file_beside_it_is_checked(tmp_path: Path) -> None:
    (tmp_path / "tube.tlt").write_text("1\n3\n0 45 90\n1 .98 .95\n")
    same(read(tmp_path, lm63(tilt="TILT=tube.tlt").encode()), read(tmp_path, PLAIN.encode(), "p"))

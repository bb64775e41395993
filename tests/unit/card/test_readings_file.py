"""The blanks of the card go round: written, filled in, read by `calibrate`."""

import math
import os
import re
from pathlib import Path

import pytest

from render.card import Card, blanks, check_out, check_readings, write_readings
from render.card.page import PAPERS
from render.card.second import later_pages
from render.errors import OutputError, ReadingsError
from render.plan.calibrate.calibrate import calibrate


def filled(card: Card, text: str, stops: float) -> str:
    """As a meter would read: every prediction so many stops brighter, in whole tenths."""
    for blank in blanks(card):
        tenths = round(2 * math.log2(blank.expected.f_number) + stops, 1)
        read = f"f_number = {2 ** (tenths / 2):.4f}"
        text = text.replace('f_number = ""', read, 1)
    return text


def test_the_file_has_the_blanks_of_the_page_and_no_others(card: Card, tmp_path: Path) -> None:
    text = write_readings(card, tmp_path / "readings.toml").read_text()
    rows = re.findall(r'point = "(.+)"\nlight = "(.+)"', text)
    lines = [
        str(line.get_gid())
        for page in later_pages(card, PAPERS["a4"])
        for line in page.axes[0].lines
        if str(line.get_gid()).startswith("blank.")
    ]
    assert sorted(lines) == sorted(f"blank.{point}.{light}" for point, light in rows)
    assert len(rows) == len(blanks(card)) == 4
    for blank in blanks(card):
        assert f"# predicted {blank.expected.shown}\n" in text


def test_what_the_meter_shows_is_what_calibrate_finds(card: Card, tmp_path: Path) -> None:
    """Truth: every reading 0.2 stop over the prediction is a kit that gives 0.2 stop more.

    Readings are whole tenths, so up to 0.05 stop is rounding.
    """
    file = write_readings(card, tmp_path / "readings.toml")
    head, rows = file.read_text().split("[[read]]", 1)
    file.write_text(head + "[[read]]" + filled(card, rows, 0.2))
    found = calibrate(card.setup, file, bounce=False)
    assert len(found.readings) == len(blanks(card))
    for row, blank in zip(found.readings, blanks(card), strict=True):
        assert (row.point, row.light) == (blank.expected.point, blank.expected.lights)
        assert row.predicted == blank.expected.shown
    for row in found.corrections:
        assert row.correction_stops == pytest.approx(0.2, abs=0.05)


def test_a_blank_file_is_not_read_yet(card: Card, tmp_path: Path) -> None:
    file = write_readings(card, tmp_path / "readings.toml")
    with pytest.raises(ReadingsError, match="no reading yet"):
        calibrate(card.setup, file, bounce=False)


def test_a_filled_in_file_is_never_written_over(card: Card, tmp_path: Path) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text("filled in")
    with pytest.raises(OutputError, match=r"mine\.toml is there already"):
        write_readings(card, mine)
    assert mine.read_text() == "filled in"
    with pytest.raises(OutputError, match=r"a name that ends in \.toml"):
        check_readings(tmp_path / "readings.csv")
    with pytest.raises(OutputError, match="no folder"):
        check_readings(tmp_path / "missing" / "readings.toml")


def test_a_place_that_cannot_be_written_is_refused_before_anything_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(OutputError, match=r"--out: .*folder\.pdf is a folder"):
        check_out(tmp_path / "folder.pdf")
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # root may write anywhere
    with pytest.raises(OutputError, match=r"--out: .* cannot be written \(accepted: a folder"):
        check_out(tmp_path / "card.pdf")
    with pytest.raises(OutputError, match=r"--readings: .* cannot be written"):
        check_readings(tmp_path / "readings.toml")

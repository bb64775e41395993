"""On the command line a mistake is one sentence and exit code 2, whatever the words in a file."""

import sys
from pathlib import Path

import pytest

from render.cli import main
from render.errors import OutputError
from render.folders import cache_folder

CHAIR = """
title = "[/odd] :smile: [red]title"
[light.key]
luminous_energy_lm_s = 400
size_cm = [60, 90]
azimuth_deg = -45
distance_m = 1.2
[point.chair]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
"""


def run(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["tenthstop", *words])
    with pytest.raises(SystemExit) as ended:
        main()
    return int(ended.value.code or 0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("meter", "empty-room", "--json", "--csv"), "--csv: found together with --json"),
        (("look", "violin-one-light", "--quality", "²"), '--quality: found "²"'),
        (("look", "violin-one-light", "--out", "nowhere/look.png"), "no folder nowhere"),
        (("look", "violin-one-light", "--out", "look.jpg"), "must end in .png"),
        (("look", "empty-room"), "empty-room.toml: camera: missing"),
        (("look", "--cast", "--exr"), "--cast: makes one PNG sheet"),
        (("look", "--cast", "--precision", "0.1"), "--cast: makes one PNG sheet"),
        (
            ("look", "violin-one-light", "--quality", "9", "--precision", "0.1"),
            "--quality: found 9",
        ),
        (
            ("look", "violin-one-light", "--json", "--tables"),
            "--json: found together with --tables",
        ),
        (("meter", "violin-one-light", "--direct", "--precision", "0.1"), "together with --direct"),
        (("look",), "SCENE: found none"),
        (("lights", "--close"), "SCENE: found none"),
        (("lights", "violin-one-light", "--only", "grids"), "--only: is for the list"),
        (("lights", "violin-one-light", "--modifiers", "snot"), '--modifiers: found "snot"'),
        (("lights", "empty-room"), "missing"),
    ],
)
def test_a_mistake_is_one_sentence_and_exit_code_2(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: tuple[str, ...],
    said: str,
) -> None:
    assert run(monkeypatch, *words) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert shown.err.startswith("tenthstop: ")
    assert shown.err.count("\n") == 1
    assert shown.out == ""


def test_a_title_is_printed_as_it_is_written(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "chair.toml"
    file.write_text(CHAIR)
    assert run(monkeypatch, "meter", str(file), "--direct") == 0
    assert "[/odd] :smile: [red]title" in " ".join(capsys.readouterr().out.split())


def test_a_cache_that_is_a_file_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "cache"
    file.write_text("")
    monkeypatch.setenv("TENTHSTOP_CACHE", str(file))
    with pytest.raises(OutputError, match="TENTHSTOP_CACHE"):
        cache_folder("frames")

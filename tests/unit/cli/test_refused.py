"""A wrong option, value or command is one sentence that names it, and exit code 2."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from render.cli.app import app
from tests.fuzz.lines import typed

ODD = ("", "-1", "nan", "1e400", "٣x", "\u202e", "x" * 3000, "/dev/zero", "a\nb")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("look x --size 0", '--size: found "0" (accepted: a whole number from 16 to 8192)'),
        ("look x --size=1.5", '--size: found "1.5" (accepted: a whole number from 16 to 8192)'),
        ("look x --precision 0", '--precision: found "0" (accepted: a number from 0.001 to 1)'),
        ("meter x --precision nan", '--precision: found "nan" (accepted: a number from 0.0005'),
        ("meter x --aim lihgt --json", "accepted: light, camera, normal; did you mean light?)"),
        ("look x --precison 1", "--precison: unknown option of look (did you mean --precision?)"),
        ("keys --zzz", "--zzz: unknown option of keys (known options: --schema, --help)"),
        ("look -json", "-json: unknown option of look (did you mean --json?)"),
        ("look x --size", "--size: found no value (accepted: a whole number from 16 to 8192)"),
        ("look x --json=1", '--json: found "1" (accepted: the option without a value)'),
        ("open x --no-browser=2", '--no-browser: found "2" (accepted: the option without'),
        ("look --help=3", '--help: found "3" (accepted: the option without a value)'),
        ("lok x", "lok: unknown command (did you mean look?)"),
        ("-x", "-x: unknown option (known options: --help)"),
        ("meter", "SCENE: found none (accepted: scene file, or the name of a bundled scene)"),
        ("meter a b", 'meter: found "b" too many (accepted: SCENE, and options)'),
        ("doctor a", 'doctor: found "a" too many (accepted: options alone)'),
        ("series x", "--vary: found none (accepted: a key of the scene file and its values"),
        ("combine a b --flip none --flip upsidedown", '--flip: found "upsidedown" (accepted: none'),
        ("combine a b --gain x", '--gain: found "x" (accepted: a number)'),
    ],
)
def test_the_sentence_names_option_found_and_accepted(
    tmp_path: Path, words: str, said: str
) -> None:
    code, out, err = typed(tmp_path, words.split())
    assert (code, out) == (2, "")
    assert said in err
    assert err.startswith("tenthstop: ")
    assert err.count("\n") == 1


def options() -> list[tuple[str, str]]:
    """Every option of every command that takes a number or one of some names."""
    commands = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    return [
        (name, each.opts[0])
        for name, command in commands.items()
        for each in command.params
        if each.param_type_name == "option"
        and re.search(r"int|float|\|", each.type_descriptor and each.display_type(None))
    ]


def test_no_number_or_name_is_taken_that_is_none(tmp_path: Path) -> None:
    found = options()
    assert ("look", "--size") in found
    assert ("combine", "--way") in found
    for k, (command, option) in enumerate(found):
        value = ODD[k % len(ODD)]
        if value == "-1" and option in ("--gain", "--turn", "--scale"):
            continue  # numbers without bounds are checked with the pictures
        code, out, err = typed(tmp_path, (command, "x", "y", f"{option}={value}"))
        assert (code, out) == (2, ""), (command, option, value)
        assert err.count("\n") == 1


def test_an_output_that_takes_nothing(tmp_path: Path) -> None:
    """A full disk under standard output, and none at all."""
    words = [sys.executable, "-m", "render", "keys"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "tenthstop: standard output: cannot be written: no space left on device\n"
    line = f"'{sys.executable}' -m render keys >&-"
    assert subprocess.run(line, shell=True, check=False).returncode == 0

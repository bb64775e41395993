"""Commands load only what they need, so that help and the light ones answer at once."""

import json
import subprocess
import sys
from pathlib import Path

COMMANDS = (
    *("look", "meter", "compare", "lights", "doctor", "keys", "balance", "who", "check", "card"),
    *("calibrate", "series", "lesson", "quiz", "open", "combine"),
)
TRACER = {"mitsuba", "drjit"}
LARGE = {"scipy", "trimesh", "networkx", "matplotlib", "PIL", "pyrender", "OpenGL", "tomlkit"}
# Runs command lines one after the other, then says which libraries that loaded.
PROBE = """
import contextlib, io, json, sys
from render.cli import main
with contextlib.redirect_stdout(io.StringIO()) as said:
    for line in json.loads(sys.argv[1]):
        sys.argv[1:] = line
        try:
            main()
        except SystemExit as ended:
            assert not ended.code, line
assert said.getvalue().count("\\n") > len(line), "nothing was printed"
print(json.dumps(sorted(sys.modules)))
"""
CHAIR = """
title = "no sitter"
[light.key]
luminous_energy_lm_s = 400
size_cm = [60, 90]
azimuth_deg = -45
distance_m = 1.2
[point.chair]
position_m = [0, 1.2, 0]
facing = [0, 0, 1]
"""


def loaded(*lines: list[str]) -> set[str]:
    """Names of the modules that a fresh process has after these command lines."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE, json.dumps(lines)], capture_output=True, text=True, check=True
    )
    return set(json.loads(done.stdout))


def test_help_loads_nothing_but_the_argument_reader() -> None:
    modules = loaded(["--help"])
    assert not modules & (TRACER | LARGE | {"numpy", "pydantic", "rich"})


def test_the_help_of_no_command_loads_what_the_command_works_with() -> None:
    modules = loaded(*([name, "--help"] for name in COMMANDS))
    assert not modules & (TRACER | LARGE | {"numpy", "rich", "embreex"})
    ours = {name.split(".")[1] for name in modules if name.startswith("render.")}
    assert ours <= {"cli", "errors", "folders", "writing"}


def test_closed_form_readings_and_lists_load_no_large_library(tmp_path: Path) -> None:
    """A set without a sitter; bodies are made by large libraries, and kept for the next time."""
    scene = tmp_path / "chair.toml"
    scene.write_text(CHAIR)
    modules = loaded(["meter", str(scene), "--direct"], ["keys"])
    assert not modules & (TRACER | LARGE)


def test_lists_load_neither_tracer_nor_what_draws() -> None:
    modules = loaded(["lights"], ["lesson", "list"])
    assert not modules & (TRACER | LARGE - {"scipy", "PIL"})

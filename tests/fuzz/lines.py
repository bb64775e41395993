"""Command lines as users, scripts and hostile folders type them."""

from __future__ import annotations

import contextlib
import io
import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from random import Random
from typing import Any
from unittest.mock import patch

import typer

from render.errors import EngineError, TenthstopError
from tests.fuzz import seeds
from tests.fuzz.mutate import LINES, NUMBERS, VARIED, changed
from tests.fuzz.right import finite
from tests.unit.page.scenes import STOOL

LIVE = 80  # one case of so many is a process of its own, with a bound on its memory and time
MOST_BYTES, MOST_S = 3 << 30, 60
MOST_KEPT = 1 << 20  # bytes of a result that may stay in the folder
LINE = "stool.toml"
BASES: dict[str, tuple[str, ...]] = {  # of every command, with what makes it quick
    "look": (LINE, "--size", "16", "--quality", "1"),
    "meter": (LINE, "--direct", "--json"),
    "compare": (LINE,),
    "lights": ("--json",),
    "doctor": ("--json",),
    "keys": (),
    "balance": (LINE, "--direct", "--json"),
    "who": (LINE, "--direct", "--json"),
    "check": (LINE, "--quick", "--json"),
    "card": (LINE, "--direct", "--no-look", "--json"),
    "calibrate": (LINE, "read.toml", "--direct", "--json"),
    "series": (LINE, "--direct", "--json", "--vary", "light.key.distance_m=0.7,1"),
    "lesson": ("near.toml", "--direct", "--json"),
    "quiz": (LINE, "--direct", "--json", "--questions", "1"),
    "open": (LINE, "--no-browser"),
    "combine": ("look.png", "dust.png", "--out", "made.png", "--replace", "--json"),
}
FILES = ("look.png", "dust.png", "read.toml", "made.toml", "near.toml", LINE)


def laid(folder: Path) -> None:
    """The files that command lines name."""
    (folder / LINE).write_text(STOOL)
    (folder / "read.toml").write_bytes(seeds.TOML_READINGS)
    (folder / "near.toml").write_bytes(seeds.lessons()[0])
    (folder / "made.toml").write_bytes(seeds.PLAIN_RECIPE)
    for name in ("look.png", "dust.png", "e\u0301.png"):
        (folder / name).write_bytes(seeds.encoded("PNG"))


def trapped(folder: Path) -> None:
    """Odd things that bear a file's name."""
    (folder / "folder.png").mkdir()
    for name, target in (("loop.png", "loop.png"), ("full.png", "/dev/full"), ("gone.toml", "no")):
        (folder / name).symlink_to(target)
    os.mkfifo(folder / "pipe.toml")
    os.mkfifo(folder / "pipe.png")


def options(folder: Path) -> Callable[[Random], None]:
    """Every option of every command with odd values, misspelt, doubled, without a value."""
    from render.cli.app import app

    reader: Any = typer.main.get_command(app)
    known = {
        name: [
            (opt, each.is_flag) for each in command.params for opt in each.opts if opt[:1] == "-"
        ]
        for name, command in reader.commands.items()
    }

    def case(rng: Random) -> None:
        laid(folder)
        if not (folder / "pipe.png").exists():
            trapped(folder)
        command = rng.choice(list(BASES))
        words = _words(rng, command, known[command])
        known_engine = ("--engine", False) in known[command]
        if rng.randrange(LIVE) == 0 and command != "open":
            code, out, err = lived(folder, [*words, "--engine=cuda"] if known_engine else words)
        else:
            with unplugged():
                code, out, err = typed(folder, words)
        assert code in (0, 1, 2), (words, code, err[-300:])
        for made in folder.glob("*"):
            if made.is_file() and made.stat().st_size > MOST_KEPT:
                made.unlink()
        if code == 2:
            last = err.splitlines()[-1] if err.strip() else ""
            assert last.startswith("tenthstop: "), (words, err[-300:])
            assert "Traceback" not in err, (words, err[-300:])
            raise TenthstopError(last)
        if "--json" in words and out.strip() and "--help" not in words:
            finite(json.loads(out))

    return case


def _words(rng: Random, command: str, known: Sequence[tuple[str, bool]]) -> list[str]:
    """A command line that is right but for one to three of its words."""
    words = list(BASES[command])
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        option, flag = rng.choice(known) if known else ("--help", True)
        value = rng.choice(VARIED if option == "--vary" else (*LINES, *NUMBERS, *FILES))
        match rng.randrange(10):
            case 0:
                at = rng.randrange(len(option))
                words.append(option[:at] + rng.choice(("", "x", "-", "=")) + option[at + 1 :])
            case 1:
                words.insert(rng.randrange(len(words) + 1), value)
            case 2 if words:
                words[rng.randrange(len(words))] = value
            case 3 if words:
                del words[rng.randrange(len(words))]
            case 4:
                words.append(option)
            case _ if flag:
                words.append(option)
            case 5 | 6:
                words.append(f"{option}={value}")
            case _:
                words += [option, value]
    if rng.random() < 0.03:
        command = rng.choice((command[1:], f"{command}s", "", "-", "--", command.upper(), "東"))
    # No argument of a process holds a zero byte, and none is longer than 128 KiB.
    return [word.replace("\0", " ")[:100_000] for word in (command, *words)]


@contextlib.contextmanager
def unplugged() -> Any:
    """No engine starts and no page is served: all before that is what these cases are about."""
    nothing = EngineError("no engine in this case")
    with (
        patch("render.trace.engine.Engine.__init__", side_effect=nothing),
        patch("render.workers.local.choose_engine", side_effect=nothing),
        patch("render.workers.cluster.ClusterWorkers.__init__", side_effect=nothing),
        patch("render.page.serve._serve"),
        patch("render.cli.examine.run_doctor"),
    ):
        yield


def commands(folder: Path) -> Callable[[Random], None]:
    """The command line over changed files: one sentence and exit code 2, or JSON that holds."""
    (folder / "stool.toml").write_text(STOOL)
    (folder / "look.png").write_bytes(seeds.encoded("PNG"))
    (folder / "dust.png").write_bytes(seeds.encoded("PNG"))
    ways = (
        ("set.toml", seeds.scenes()[:1], ("meter", "set.toml", "--direct", "--json")),
        ("set.toml", seeds.scenes()[:1], ("balance", "set.toml", "--direct", "--json")),
        ("set.toml", seeds.scenes()[:1], ("who", "set.toml", "--direct", "--json")),
        ("set.toml", seeds.scenes()[:1], ("check", "set.toml", "--quick", "--json")),
        ("own.toml", seeds.kits(), ("lights", "--kit", "own.toml", "--json")),
        ("near.toml", seeds.lessons()[:1], ("lesson", "near.toml", "--direct", "--json")),
        (
            "read.toml",
            (seeds.TOML_READINGS,),
            ("calibrate", "stool.toml", "read.toml", "--direct", "--json"),
        ),
        ("made.toml", (seeds.PLAIN_RECIPE,), ("combine", "made.toml", "--json")),
    )

    def case(rng: Random) -> None:
        name, texts, words = rng.choice(ways)
        (folder / name).write_bytes(changed(rng, texts))
        code, said, complaint = typed(folder, words)
        if code == 0:
            finite(json.loads(said))
            return
        assert code == 2, (code, complaint)
        assert complaint.startswith("tenthstop: "), complaint
        raise TenthstopError(complaint.strip())

    return case


def typed(folder: Path, words: Sequence[str]) -> tuple[int, str, str]:
    """Exit code and both outputs of a command line that is run in a folder."""
    from render.cli import main

    out, err, code = io.StringIO(), io.StringIO(), 0
    before, argv = Path.cwd(), sys.argv
    os.chdir(folder)
    sys.argv = ["tenthstop", *words]
    try:
        with redirect_stdout(out), redirect_stderr(err):
            main()
    except SystemExit as ended:
        code = int(ended.code or 0)
    finally:
        os.chdir(before)
        sys.argv = argv
    return code, out.getvalue(), err.getvalue()


def lived(folder: Path, words: Sequence[str]) -> tuple[int, str, str]:
    """The same as a process of its own, with bounded memory and time and nothing to read."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))

    done = subprocess.run(
        [sys.executable, "-m", "render", *(os.fsencode(each) for each in words)],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        timeout=MOST_S,
        preexec_fn=bound,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr

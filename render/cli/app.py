"""The commands, gathered; a user's error is one sentence."""

from __future__ import annotations

import contextlib
import errno
import inspect
import io
import os
import sys
from pathlib import Path
from typing import Any, NoReturn

import typer

from render.cli import combining, listing, looking, opening, planning, teaching
from render.cli.refused import Refusal, refused
from render.errors import TenthstopError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # plain help: boxes take longer to load than all the rest
    help="Predict the light of a portrait set-up before the sitter arrives.",
)
for topic in (looking, listing, planning, teaching, opening, combining):
    for command in topic.commands.registered_commands:
        command.short_help = inspect.cleandoc(command.callback.__doc__ or "").split("\n\n")[0]
    app.add_typer(topic.commands)

WRONG = 2  # exit code after a user's error
INTERRUPTED = 130  # exit code after Ctrl-C, by convention of the shell
UNWRITABLE = (errno.ENOSPC, errno.EIO, errno.EBADF, errno.EDQUOT, errno.EFBIG)  # of an output


def main() -> None:
    """Run the command line; a user's error is one sentence and exit code 2."""
    _speakable()
    words = sys.argv[1:]
    reader: Any = typer.main.get_command(app)
    try:
        code = reader(standalone_mode=False)
        sys.stdout.flush()
    except Refusal as refusal:
        if words:
            _end(str(refused(refusal, words, reader.commands)))
        print(refusal.format_message(), end="")  # the page of help, where it is not out yet
        sys.exit(WRONG)
    except TenthstopError as problem:
        _end(str(problem))
    except BrokenPipeError:
        _mute()
        sys.exit(0)
    except MemoryError:
        _end("not enough memory (accepted: a smaller picture or fewer pieces at once)")
    except OSError as problem:
        if problem.filename is None and problem.errno == errno.ENOENT:  # as `tempfile` says it
            _end("no room for temporary files (accepted: room in /tmp, or elsewhere by TMPDIR)")
        if problem.filename is not None or problem.errno not in UNWRITABLE:
            raise
        _mute()
        _end(f"standard output: cannot be written: {str(problem.strerror).lower()}")
    if code == INTERRUPTED:
        _end("stopped; finished light is kept", INTERRUPTED)
    sys.exit(code or 0)


def _end(words: str, code: int = WRONG) -> NoReturn:
    print(f"tenthstop: {words}", file=sys.stderr)
    sys.exit(code)


def _speakable() -> None:
    """Let any name be printed, and print nowhere where an output is closed."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, Path(os.devnull).open("w"))  # noqa: SIM115
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _mute() -> None:
    """Drop what could not be printed, so that the end of the program does not try again."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    with contextlib.suppress(OSError):  # a stream of a test has no file
        os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)

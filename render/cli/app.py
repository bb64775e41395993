"""The commands, gathered; a user's error is one sentence."""

from __future__ import annotations

import sys

import typer

from render.cli import combining, listing, looking, opening, planning, teaching
from render.errors import TenthstopError

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Predict the light of a portrait set-up before the sitter arrives.",
)
for topic in (looking, listing, planning, teaching, opening, combining):
    app.add_typer(topic.commands)

INTERRUPTED = 130  # exit code after Ctrl-C, by convention of the shell


def main() -> None:
    """Run the command line; a user's error is one sentence and exit code 2."""
    try:
        app()
    except TenthstopError as problem:
        print(f"tenthstop: {problem}", file=sys.stderr)
        sys.exit(2)
    except SystemExit as ended:
        # The argument reader turns an interrupt into this exit code.
        if ended.code == INTERRUPTED:
            print("tenthstop: stopped; finished light is kept", file=sys.stderr)
        raise
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)

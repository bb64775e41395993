"""The worker process: takes jobs from the engine one by one, traces, and sends back numbers."""

from __future__ import annotations

import os
import pickle
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import IO, Any

from render.sitter.body import Body
from render.trace.stage import Stage

KEPT_BODIES = 2  # sitters held in memory, newest first


def serve(jobs: IO[bytes], answers: IO[bytes], variant: str, threads: int | None = None) -> None:
    """Do jobs until the engine closes its end."""
    work = _load(variant, threads)
    bodies: dict[str, Body | None] = {}
    while True:
        try:
            job, stage, stage_key, body_key, arguments = pickle.load(jobs)
            if body_key not in bodies:
                _answer(answers, ("body?", None))
                bodies[body_key] = pickle.load(jobs)
                while len(bodies) > KEPT_BODIES:
                    bodies.pop(next(iter(bodies)))
        except EOFError:
            return
        _answer(
            answers, _do(work, job, replace(stage, body=bodies[body_key]), stage_key, arguments)
        )


def _do(
    work: dict[str, Callable[..., Any]], job: str, stage: Stage, key: str, arguments: dict[str, Any]
) -> tuple[str, Any]:
    try:
        return "done", work[job](stage, key, **arguments)
    except MemoryError as error:
        return "short", str(error) or "no memory is left"
    except Exception as error:
        if os.environ.get("TENTHSTOP_TRACEBACK"):
            raise
        return "failed", f"{type(error).__name__}: {error}"


def _answer(answers: IO[bytes], message: tuple[str, Any]) -> None:
    pickle.dump(message, answers, pickle.HIGHEST_PROTOCOL)
    answers.flush()


def _load(variant: str, threads: int | None) -> dict[str, Callable[..., Any]]:
    """Load the tracer; its variant must be set before anything else of it is named."""
    import drjit as dr
    import mitsuba as mi

    if threads is not None:
        dr.set_thread_count(threads)
    mi.set_variant(variant)
    mi.set_log_level(mi.LogLevel.Error)
    if variant.startswith("scalar"):
        from render.trace import plain_jobs

        return plain_jobs.JOBS
    from render.trace import jobs

    return jobs.JOBS


def main() -> None:
    """Answers leave by the standard output; whatever else is printed goes to the error log."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the engine decides when to leave
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    try:
        serve(sys.stdin.buffer, answers, sys.argv[1], *(int(count) for count in sys.argv[2:3]))
    except BrokenPipeError:
        os._exit(1)  # the engine is gone: nobody is left to be told


if __name__ == "__main__":
    main()

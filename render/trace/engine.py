"""The engine: one supervised process that traces light, so that its crash is never ours."""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import IO, Any, cast

from render.errors import EngineError
from render.trace.choice import EngineChoice, choose_engine, worker_environment
from render.trace.digest import digest
from render.trace.process import LESS, give_way, last_words, log_file
from render.trace.stage import Stage

REPEATS = 2  # a job whose worker dies is tried this often again
DYING_S = 1.0  # from closed pipes to the end of a process
PATIENCE_S = 5.0  # for a worker to leave by itself before it is ended


_Job = tuple[str, Stage, Mapping[str, Any]]
_Answer = tuple[str, Any]  # how it went, and the result or a reason


class _WorkerDiedError(Exception):
    """The worker process is gone; its job was not finished."""


class Engine:
    """Context manager around the worker process.

    `with Engine() as engine:` starts it; leaving the block, an interrupt or the death of this
    process ends it. The tracer is loaded by the worker alone.

    threads : that it traces with; None = one for each core
    nice    : steps by which others come first where cores are short
    """

    def __init__(
        self,
        choice: EngineChoice | str = "auto",
        cache_dir: Path | None = None,
        threads: int | None = None,
        nice: int = 0,
    ) -> None:
        self.choice = choose_engine(choice, cache_dir) if isinstance(choice, str) else choice
        self.threads, self.nice = threads, nice
        self._cache_dir = cache_dir
        self._process: subprocess.Popen[bytes] | None = None
        self._log: IO[bytes] | None = None
        self._begun: _Job | None = None  # that somebody will ask the result of
        self._result: _Answer | None = None  # of it, where it came when another job was asked for
        self._owed = False  # whether the worker has yet to answer
        self._abandoned = False
        self._starting = threading.Lock()

    @property
    def name(self) -> str:
        """ "cuda", "llvm" or "scalar"."""
        return self.choice.name

    hands = 1  # of those who read side by side

    @property
    def process_id(self) -> int | None:
        """Of the worker; None while none runs."""
        return self._process.pid if self._process else None

    def __enter__(self) -> Engine:
        self._start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop(gently=kind is None)

    def abandon(self) -> None:
        """End the worker from another thread, whatever it does; that job raises EngineError."""
        with self._starting:
            self._abandoned = True
            process = self._process
            if process:
                process.kill()

    def call(self, job: str, stage: Stage, arguments: Mapping[str, Any]) -> Any:
        """Have the worker do one job on a stage and return its result.

        A job lost to the worker's death is repeated in a new worker, `REPEATS` times at most.
        raises : EngineError if the job fails or the worker keeps dying
        """
        self._settle()
        for _ in range(1 + REPEATS):
            try:
                kind, content = self._attempt(job, stage, arguments)
            except _WorkerDiedError:
                self._last_words = self._heard()
                self._stop(gently=False)
            except BaseException:
                # An interrupt leaves an answer under way: this worker's pipe is out of step.
                self._stop(gently=False)
                raise
            else:
                return self._content(kind, content)
        raise EngineError(f"the {self.name} engine stopped {1 + REPEATS} times: {self._last_words}")

    def _content(self, kind: str, content: Any) -> Any:
        if kind == "failed":
            raise EngineError(f"the {self.name} engine refused a job: {content}")
        if kind == "short":
            raise EngineError(f"the {self.name} engine ran short: {content} ({LESS})")
        return content

    def begin(self, job: str, stage: Stage, arguments: Mapping[str, Any]) -> None:
        """Have the worker begin a job, and go on; `finish` waits for it. One at a time."""
        self._begun = (job, stage, arguments)
        try:
            self._ask(*self._begun)
            self._owed = True
        except _WorkerDiedError:
            pass  # `finish` has it done anew
        except BaseException:
            self._stop(gently=False)  # half of a job may be under way, or an answer nobody expects
            raise

    def finish(self) -> Any:
        """The result of the job that was begun, as of `call`; others may have been asked for."""
        self._settle()
        (begun, self._begun), (result, self._result) = (self._begun, None), (self._result, None)
        assert begun is not None  # nobody asks for what was not begun
        return self.call(*begun) if result is None else self._content(*result)

    def drop(self) -> None:
        """Nobody wants the job that was begun: it ends with its worker."""
        if self._owed:
            self._stop(gently=False)
        self._begun = self._result = None

    def _settle(self) -> None:
        """Wait for the answer that the worker owes; none comes where it dies."""
        if self._owed and self._begun is not None:
            try:
                self._result = self._hear(self._begun[1])
                self._owed = False
            except _WorkerDiedError:
                self._last_words = self._heard()
                self._stop(gently=False)
            except BaseException:
                self._stop(gently=False)
                raise

    def read(self, job: str, stage: Stage, chunks: Sequence[Mapping[str, Any]]) -> list[Any]:
        """Do a job on a stage with each of the arguments, one after the other (see `call`)."""
        return [self.call(job, stage, each) for each in chunks]

    def _attempt(self, job: str, stage: Stage, arguments: Mapping[str, Any]) -> _Answer:
        self._ask(job, stage, arguments)
        return self._hear(stage)

    def _ask(self, job: str, stage: Stage, arguments: Mapping[str, Any]) -> None:
        if self._process is None:
            self._start()
        # The sitter is heavy and rarely changes: it travels only if the worker asks for it.
        body_key = digest(stage.body)
        self._send((job, replace(stage, body=None), stage.key, body_key, dict(arguments)))

    def _hear(self, stage: Stage) -> _Answer:
        kind, content = self._receive()
        if kind == "body?":
            self._send(stage.body)
            kind, content = self._receive()
        return kind, content

    def _start(self) -> None:
        threads = [] if self.threads is None else [str(self.threads)]
        with self._starting:
            if self._abandoned:
                raise EngineError(f"the {self.name} engine was abandoned")
            self._log = log_file()
            self._process = subprocess.Popen(
                [sys.executable, "-m", "render.trace.worker", self.choice.variant, *threads],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._log or subprocess.DEVNULL,
                env=worker_environment(self.choice, self._cache_dir),
            )
            give_way(self._process.pid, self.nice)

    def _stop(self, gently: bool) -> None:
        """End the worker: closing its input is the signal to leave."""
        process, self._process, self._owed = self._process, None, False
        if process is None:
            return
        if not gently:
            process.kill()
        for pipe in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):  # a broken pipe: the worker is gone already
                cast(IO[bytes], pipe).close()
        try:
            process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        if self._log:
            self._log.close()

    _last_words = ""

    def _heard(self) -> str:
        """Why the worker died, as far as it can be told."""
        if self._process is None:
            return ""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(DYING_S)
        return last_words(self._log, self._process.returncode)

    def _send(self, message: object) -> None:
        pipe = cast(IO[bytes], cast("subprocess.Popen[bytes]", self._process).stdin)
        try:
            pickle.dump(message, pipe, pickle.HIGHEST_PROTOCOL)
            pipe.flush()
        except OSError as error:
            raise _WorkerDiedError from error

    def _receive(self) -> _Answer:
        pipe = cast(IO[bytes], cast("subprocess.Popen[bytes]", self._process).stdout)
        try:
            return cast(_Answer, pickle.load(pipe))
        except (EOFError, OSError, pickle.UnpicklingError) as error:
            raise _WorkerDiedError from error

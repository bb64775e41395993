"""A sitter who was never made is made in a process of their own; all else goes on meanwhile."""

from __future__ import annotations

import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.errors import TenthstopError
from render.folders import cache_folder, data_folder
from render.layout import View
from render.layout.geometry import turn
from render.layout.people import eyes_of, in_room, is_made, seat, wishes_of
from render.scenefile import Setup
from render.sitter import Wishes, build_body
from render.sitter.body import Body
from render.studio.sitter import Sitter

Floats = NDArray[np.float64]

PATIENCE_S = 5.0  # for the process to end
LOOK_EVERY_S = 0.2  # whether a body is still waited for
COMMAND = [sys.executable, "-m", "render.page.making"]
SITTERS = "sitters"  # folder of the cache that keeps them
WORDS = "The sitter is being made, which takes some 15 seconds once; until then another sits there."
FIRST = "The sitter is being made, which takes some 15 seconds once."


class UnmadeError(TenthstopError):
    """The sitter was never made, and nobody can sit there meanwhile."""

    def __init__(self, wishes: Wishes) -> None:
        super().__init__(FIRST)
        self.wishes = wishes


@dataclass(frozen=True, slots=True)
class Seated:
    """Who sits there."""

    body: Body | None  # None without a sitter, or to be seated from what is kept
    whose: Sitter | None  # as the scene asked for the one who sits there
    making: Wishes | None = None  # of the one who will sit there
    # How the body has turned (3, 3) and then moved (3,) [m] since it was seated.
    moved: tuple[Floats, Floats] | None = None


def seated(setup: Setup, before: Seated | None, view: View | None) -> Seated:
    """Who can sit at once: the sitter, or until they are made the one who sat there before.

    view : the camera, which they may look at
    Raises UnmadeError where nobody sat there, MeshError for an unknown name.
    """
    sitter = setup.scene.sitter
    if sitter is None or is_made(sitter):
        return Seated(None, sitter)
    wishes = wishes_of(sitter)
    if before is None or before.whose is None:
        raise UnmadeError(wishes)
    placed = {"turn_deg": sitter.turn_deg, "eyes_height_m": sitter.eyes_height_m}
    other = before.whose.model_copy(update=placed)
    if other == before.whose and before.body is not None:
        return Seated(before.body, other, wishes)
    lens = None if view is None else view.position_m
    return Seated(seat(setup.file, other, lens), other, wishes)


def turned(who: Seated, sitter: Sitter) -> Seated | None:
    """The same body without hair turned and raised as asked; None where another is asked for."""
    was = who.whose
    if was is None or who.body is None:
        return None
    placed = {"turn_deg": sitter.turn_deg, "eyes_height_m": sitter.eyes_height_m}
    if was.model_copy(update=placed) != sitter:
        return None
    if was == sitter:
        return Seated(who.body, sitter)
    rotation = turn(sitter.turn_deg) @ turn(was.turn_deg).T
    shift = eyes_of(sitter) - rotation @ eyes_of(was)
    bald = replace(who.body, strands=())  # meters take no notice of hair
    return Seated(in_room(bald, rotation, shift), sitter, moved=(rotation, shift))


class Maker:
    """Makes the newest sitter asked for; an older one that is not finished is given up.

    made, failed : called from a thread of its own
    """

    def __init__(self, made: Callable[[], None], failed: Callable[[str], None]) -> None:
        self._made, self._failed = made, failed
        self._lock = threading.Lock()
        self._wishes: Wishes | None = None
        self._process: subprocess.Popen[bytes] | None = None

    def want(self, wishes: Wishes | None) -> None:
        """This sitter is to be made; None for nobody."""
        with self._lock:
            if wishes == self._wishes:
                return
            self._give_up()
            self._wishes = wishes
            if wishes is None:
                return
            self._process = _begun()
            watched = (self._process, pickle.dumps(wishes))
        threading.Thread(target=self._watch, args=watched, daemon=True).start()

    def end(self) -> None:
        """Give up whoever is being made."""
        self.want(None)

    def _give_up(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()

    def _watch(self, process: subprocess.Popen[bytes], wishes: bytes) -> None:
        _, said = process.communicate(wishes)
        with self._lock:
            if self._process is not process:
                return  # somebody else is wanted by now
            self._process, self._wishes = None, None
        if process.returncode == 0:
            self._made()
        else:
            self._failed(_failure(said))


def make_apart(wishes: Wishes, given_up: Callable[[], bool]) -> None:
    """Make a body in a process of its own, and wait for it; raises TenthstopError.

    given_up : whether nobody waits for it any more; then it ends unmade
    """
    process = _begun()
    told: bytes | None = pickle.dumps(wishes)
    while True:
        try:
            _, said = process.communicate(told, LOOK_EVERY_S)
            break
        except subprocess.TimeoutExpired:
            told = None  # it is on its way
            if given_up():
                process.kill()
    if process.returncode and not given_up():
        raise TenthstopError(_failure(said))


def _begun() -> subprocess.Popen[bytes]:
    """The process that makes whom it is told."""
    return subprocess.Popen(COMMAND, stdin=subprocess.PIPE, stderr=subprocess.PIPE)


def _failure(said: bytes) -> str:
    lines = said.decode(errors="replace").strip().splitlines() or ["it said nothing"]
    return f"The sitter could not be made: {lines[-1]}"


def main() -> None:
    """Make the body of the wishes that come by the standard input, and keep it."""
    wishes = pickle.load(sys.stdin.buffer)
    try:
        build_body(wishes, data_dir=data_folder("meshes"), cache_dir=cache_folder(SITTERS))
    except (TenthstopError, OSError) as problem:
        sys.exit(str(problem))


if __name__ == "__main__":
    main()

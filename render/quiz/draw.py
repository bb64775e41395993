"""Questions drawn one by one: a set-up by chance, confirmed by computation, or drawn again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

import numpy as np

from render.errors import EngineError, OutputError, TenthstopError
from render.photometry.srgb import luminance
from render.plan.who.taken import tone_at
from render.quiz.drafts import (
    Draft,
    backdrop_draft,
    lights_draft,
    pattern_draft,
    pattern_targets,
    ratio_draft,
    side_draft,
)
from render.quiz.planted import fault_draft, fault_names
from render.quiz.powers import read, room_share
from render.quiz.questions import KINDS, MOST_LIGHTS, Kind, Question
from render.quiz.scenes import DrawAgainError, Given
from render.quiz.settle import Source, settled
from render.trace import Readers

TRIES = 30  # set-ups for one question; a choice
AGAIN = 5  # of them before another pattern or fault is tried


@dataclass(frozen=True, slots=True)
class Asked:
    """What a quiz is to be."""

    count: int
    kinds: tuple[Kind, ...]
    seed: int


def source_of(given: Given, engine: Readers | None) -> Source:
    """Meter the given scene once; raises SceneError, EngineError."""
    run = read(given.stands[0], engine)
    row = run.rows.backdrop
    tone = None if row is None else tone_at(run.taken, row)
    word = None if tone is None else tone.word
    paper = 0.0 if tone is None else float(luminance(np.array(tone.linear)))
    faults = tuple(
        each for each in fault_names(given) if each != "spill" or word in ("black", "dark")
    )
    return Source(given, faults, word, paper, room_share(run))


def kinds_of(given: Given, asked: tuple[str, ...]) -> tuple[Kind, ...]:
    """Kinds to draw, all that the scene allows by default; raises OutputError."""
    able = tuple(k for k in KINDS if k != "backdrop" or given.setup.scene.backdrop is not None)
    known = {str(each): each for each in able}
    for name in asked:
        if name not in KINDS:
            words = ", ".join(KINDS)
            raise OutputError(f'--kinds: found "{name}" (accepted: {words}, with commas)')
        if name not in known:
            raise OutputError(
                f"--kinds: found backdrop, but {given.file.name} has none (accepted: "
                f"{', '.join(able)})"
            )
    return tuple(known[name] for name in dict.fromkeys(asked)) or able


def kind_of(asked: Asked, number: int) -> Kind:
    """The kind of a question (1 and on): all in turn, those of one kind together on the sheet."""
    turns = sorted(k % len(asked.kinds) for k in range(asked.count))
    return asked.kinds[turns[number - 1]]


def drawn(
    source: Source,
    asked: Asked,
    number: int,
    engine: Readers | None,
    first_try: int = 0,
    told: Callable[[str], None] | None = None,
) -> Question:
    """One question; the same seed, scene and number give the same one.

    first_try : set-ups that were drawn and refused before
    told      : called with why a set-up was refused
    Raises OutputError where none of TRIES set-ups is a question, EngineError.
    """
    kind = kind_of(asked, number)
    why = ""
    for attempt in range(first_try, TRIES):
        try:
            draft = _draft(source, asked, kind, number, attempt)
            return settled(source, kind, number, attempt, draft, engine)
        except DrawAgainError as problem:
            why = str(problem)
        except EngineError:
            raise
        except TenthstopError as problem:
            why = str(problem)
        if told:
            told(f"question {number}, try {attempt + 1}: {why}")
    raise no_question(source, number, kind, why)


class NoQuestionError(OutputError):
    """No set-up was found for a kind of question."""

    def __init__(self, words: str, kind: Kind, why: str) -> None:
        super().__init__(words)
        self.kind = kind
        self.why = why


def no_question(source: Source, number: int, kind: Kind, why: str) -> NoQuestionError:
    """The error that no set-up was found."""
    why = why or "it does not show in the picture"
    words = (
        f"{source.given.file.name}: no set-up for question {number} ({kind}) in {TRIES} tries; the "
        f"last: {why} (accepted: other --kinds, another --seed, or a scene with more room)"
    )
    return NoQuestionError(words, kind, why)


def _draft(source: Source, asked: Asked, kind: Kind, number: int, attempt: int) -> Draft:
    """A set-up by chance; seed, number and try alone decide it."""
    chance = Random(f"{asked.seed}/{kind}/{number}/{attempt}")
    order = Random(f"{asked.seed}/{kind}")
    turn = number + attempt // AGAIN
    given = source.given
    if kind == "pattern":
        names = pattern_targets(order)
        return pattern_draft(given, chance, names[turn % len(names)])
    if kind == "lights":
        counts = order.sample(range(1, MOST_LIGHTS + 1), MOST_LIGHTS)
        return lights_draft(given, chance, counts[turn % MOST_LIGHTS])
    if kind == "fault":
        faults = order.sample(source.faults, len(source.faults))
        return fault_draft(given, chance, faults[turn % len(faults)])
    make = {"ratio": ratio_draft, "side": side_draft, "backdrop": backdrop_draft}[kind]
    return make(given, chance)

"""Questions drawn one by one: a set-up by chance, confirmed by computation, or drawn again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

import numpy as np

from render.errors import EngineError, OutputError, TenthstopError
from render.photometry.srgb import luminance
from render.plan.checks.finding import Context
from render.plan.who.taken import tone_at
from render.plan.who.tones import Word
from render.quiz.answers import (
    backdrop_answers,
    lights_answers,
    pattern_answers,
    ratio_answers,
    side_answers,
)
from render.quiz.confirm import DARK, SHOWS, context_of, faults_in, in_the_frame
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
from render.quiz.powers import dials, face_off_stops, read, relit, room_share
from render.quiz.questions import (
    EXACT,
    FAULTS,
    KINDS,
    MOST_LIGHTS,
    PATTERNS,
    SIDES,
    Answer,
    Fault,
    Kind,
    Line,
    Question,
)
from render.quiz.scenes import DrawAgainError, Given, Stood, Tables, of_light, stood, with_keys
from render.trace import Readers

TRIES = 30  # set-ups for one question; a choice
AGAIN = 5  # of them before another pattern or fault is tried
METERED: tuple[Kind, ...] = ("ratio", "backdrop", "fault")  # the others take the room's share
# of the face reading from the given scene: their pictures are exposed to some tenths of a stop.
FACE_STOPS = 0.1  # the dial's tenths keep the face nearer than this to what the camera is set for

WORDS: dict[Kind, str] = {
    "ratio": "How much stronger is the key than the fill?",
    "pattern": "Which pattern does the key make, broad or short?",
    "side": "On which side of the camera does the key stand?",
    "lights": "How many lights were fired?",
    "backdrop": "Backdrop of {paper} % reflectance: a flat meter in the ring, how many stops from "
    "the face reading?",
    "fault": "One thing went wrong. Which?",
}
LINES: dict[Kind, tuple[Line, ...]] = {
    "ratio": (Line("Key to fill, K:F", (), ": 1"), Line("Lighting ratio, (K+F):F", (), ": 1")),
    "pattern": (Line("", PATTERNS), Line("", SIDES)),
    "side": (Line("", ("camera left", "camera right")),),
    "lights": (Line("", tuple(str(k) for k in range(1, MOST_LIGHTS + 1))),),
    "backdrop": (Line("", (), "stops (+ is brighter)"),),
    "fault": (),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What a quiz is to be."""

    count: int
    kinds: tuple[Kind, ...]
    seed: int


@dataclass(frozen=True, slots=True)
class Source:
    """The given scene with what every question needs to know of it."""

    given: Given
    faults: tuple[Fault, ...]  # that can be planted
    backdrop: Word | None  # what its backdrop comes out as
    paper: float  # linear luminance of its middle, 1 is white
    room: float  # share of its face reading that the room gives


def source_of(given: Given, engine: Readers | None) -> Source:
    """Meter the given scene once; raises SceneError, EngineError."""
    run = read(Stood(given.setup, given.layout), engine)
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
            return _confirmed(source, kind, number, attempt, draft, engine)
        except DrawAgainError as problem:
            why = str(problem)
        except EngineError:
            raise
        except TenthstopError as problem:
            why = str(problem)
        if told:
            told(f"question {number}, try {attempt + 1}: {why}")
    raise no_question(source, number, kind, why)


def no_question(source: Source, number: int, kind: Kind, why: str) -> OutputError:
    """The error that no set-up was found."""
    return OutputError(
        f"{source.given.file.name}: no set-up for question {number} ({kind}) in {TRIES} tries; the "
        f"last: {why or 'it does not show in the picture'} (accepted: other --kinds, another "
        "--seed, or a scene with more room)"
    )


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


def _confirmed(
    source: Source, kind: Kind, number: int, attempt: int, draft: Draft, engine: Readers | None
) -> Question:
    """The question that a draft makes; raises DrawAgainError where it makes none."""
    given = source.given
    made = stood(given.file, draft.tables, Stood(given.setup, given.layout))
    context = context_of(made)
    early = _early(kind, context, draft)
    whole = kind in METERED
    run = read(made, engine if whole else None)
    powers = dials(run, draft, 0.0 if whole else source.room)
    tables = with_keys(
        draft.tables, {k: v for n, p in powers.items() for k, v in of_light(n, power=p).items()}
    )
    made = stood(given.file, tables, made)
    run = relit(run, made)
    if whole and abs(face_off_stops(run) - draft.over_stops) > FACE_STOPS:
        raise DrawAgainError("its face is not read as the camera is set")
    context = replace(context, setup=made.setup)
    vars(context)["layout"] = made.layout
    answers, mark = early, None
    if kind == "ratio":
        answers = ratio_answers(run)
    elif kind == "backdrop":
        answers, mark = backdrop_answers(context, run)
    elif kind == "fault":
        answers = _fault_answers(
            draft, faults_in(context, run, draft.over_stops, _dark(source, draft))
        )
    if kind != "fault" and in_the_frame(context) > 0:
        raise DrawAgainError("a lamp stands in its frame")
    return Question(
        number=number,
        kind=kind,
        words=_words(source, kind, tables),
        lines=LINES[kind] or (Line("", tuple(FAULTS[each] for each in source.faults)),),
        answers=answers,
        change=draft.change,
        closer=kind in ("ratio", "pattern"),
        mark=mark,
        fault=draft.fault,
        attempt=attempt,
        tables=tables,
    )


def _dark(source: Source, draft: Draft) -> float:
    """How bright a backdrop may be; a spilled one is a stop brighter than it was meant to be."""
    return min(DARK, 2.0 * source.paper) if draft.fault == "spill" else DARK


def _early(kind: Kind, context: Context, draft: Draft) -> tuple[Answer, ...]:
    """Answers that hang on places alone, so that nothing is metered for a set-up without one."""
    if kind == "pattern":
        found = pattern_answers(context)
        if found[0].value != draft.pattern:
            raise DrawAgainError(f"its pattern is {found[0].value}, not {draft.pattern}")
        return found
    if kind == "side":
        return side_answers(context)
    return lights_answers(context) if kind == "lights" else ()


def _fault_answers(draft: Draft, found: dict[Fault, float]) -> tuple[Answer, ...]:
    """The planted fault, if it is there, shows, and is alone; clipping is seen in the picture."""
    fault = draft.fault
    assert fault is not None
    others = [FAULTS[each] for each in found if each != fault]
    if others:
        raise DrawAgainError(f"it has another fault: {', '.join(others)}")
    if fault != "clipped" and found.get(fault, SHOWS[fault] - 1) < SHOWS[fault]:
        raise DrawAgainError(f"its fault does not show: {FAULTS[fault]}")
    words = FAULTS[fault]
    return (Answer("fault", fault, words, None, None, words, None, EXACT),)


def _words(source: Source, kind: Kind, tables: Tables) -> str:
    if kind == "backdrop":
        paper = 100 * tables["backdrop"]["reflectance"]
        return WORDS[kind].format(paper=f"{paper:.0f}")
    if kind == "fault" and source.backdrop is not None:
        return f"{WORDS[kind]} (The backdrop was meant to be {source.backdrop}.)"
    return WORDS[kind]

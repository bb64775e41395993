"""A set-up that was drawn, settled: powers found, faults and answers computed, or refused."""

from __future__ import annotations

from dataclasses import dataclass, replace

from render.photometry.stops import show_f_number
from render.plan.checks.finding import Context
from render.plan.who.tones import Word
from render.quiz.answers import (
    backdrop_answers,
    lights_answers,
    pattern_answers,
    ratio_answers,
    side_answers,
)
from render.quiz.confirm import DARK, SHOWS, context_of, faults_in, in_the_frame
from render.quiz.drafts import Draft
from render.quiz.powers import dials, face_off_stops, read, read_face, relit
from render.quiz.questions import (
    EXACT,
    FAULTS,
    MOST_LIGHTS,
    PATTERNS,
    SIDES,
    Answer,
    Fault,
    Kind,
    Line,
    Question,
)
from render.quiz.scenes import (
    DrawAgainError,
    Given,
    Tables,
    of_light,
    stood,
    with_keys,
)
from render.series.run import Run
from render.trace import Readers

# Of the others only the picture's exposure hangs on what the room gives back: they take its share
# of the face reading from the given scene, which is right to some tenths of a stop.
METERED: tuple[Kind, ...] = ("ratio", "backdrop")
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
class Source:
    """The given scene with what every question needs to know of it."""

    given: Given
    faults: tuple[Fault, ...]  # that can be planted
    backdrop: Word | None  # what its backdrop comes out as
    paper: float  # linear luminance of its middle, 1 is white
    room: float  # share of its face reading that the room gives


def settled(
    source: Source, kind: Kind, number: int, attempt: int, draft: Draft, engine: Readers | None
) -> Question:
    """The question that a draft makes; raises DrawAgainError where it makes none.

    What places alone decide comes first, then closed forms; a bounce is traced once, for numbers
    that hang on it.
    """
    given = source.given
    made = stood(given.file, draft.tables, given.stands)
    context = context_of(made)
    if kind != "fault" and in_the_frame(context) > 0:
        raise DrawAgainError("a lamp stands in its frame")
    answers, mark = _early(kind, context, draft), None
    whole = kind in METERED or draft.fault == "spill"
    run = read(made, engine if whole else None) if whole or kind == "fault" else read_face(made)
    tables, change = _powered(run, draft, 0.0 if whole else source.room)
    made = stood(given.file, tables, (made,))
    run, context = relit(run, made), context_of(made)
    if whole and abs(face_off_stops(run) - draft.over_stops) > FACE_STOPS:
        raise DrawAgainError("its face is not read as the camera is set")
    if kind == "ratio":
        answers = ratio_answers(run)
    elif kind == "backdrop":
        answers, mark = backdrop_answers(context, run)
    elif kind == "fault":
        found = faults_in(context, run, draft.over_stops, _dark(source, draft))
        answers = _fault_answers(draft, found)
    return Question(
        number=number,
        kind=kind,
        words=_words(source, kind, tables),
        lines=LINES[kind] or (Line("", tuple(FAULTS[each] for each in source.faults)),),
        answers=answers,
        change=change,
        closer=kind in ("ratio", "pattern"),
        mark=mark,
        fault=draft.fault,
        attempt=attempt,
        tables=tables,
    )


def _powered(run: Run, draft: Draft, by_room: float) -> tuple[Tables, str]:
    """The draft's tables with the powers found, and what was changed.

    A key that has not the power for an overexposure leaves it to the camera's aperture.
    """
    opened: Tables = {}
    change = draft.change
    try:
        powers = dials(run, draft, by_room)
    except DrawAgainError:
        if not draft.over_stops:
            raise
        powers = dials(run, replace(draft, over_stops=0.0), by_room)
        camera = run.taken.setup.scene.camera
        assert camera is not None
        number = camera.f_number / 2.0 ** (draft.over_stops / 2)
        opened["camera.f_number"] = round(number, 2)
        change = f"aperture left {draft.over_stops:.1f} stops too wide, at {show_f_number(number)}"
    keys = {key: v for name, p in powers.items() for key, v in of_light(name, power=p).items()}
    return with_keys(draft.tables, keys | opened), change


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

"""The pictures of a quiz, each with what only a picture shows: clipping, and lights that do not."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from render.layout import Layout
from render.picture.closer import face_layout
from render.picture.develop import Exposure
from render.picture.sheets import pixels_of
from render.picture.take import Look, exposure_of, order_of, takes
from render.quiz.confirm import SHOWS, clipped, context_of, lights_seen
from render.quiz.questions import FAULTS, Question
from render.quiz.scenes import Given, Stood, stood
from render.series.frames import BYTES_PER_PIXEL, Due
from render.trace import Crew, Engine, FrameStore, Progress, Quality
from render.trace.desk import wanted

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Pictured:
    """A question with its picture."""

    question: Question
    pixels: Pixels  # (h, w, 3) 8-bit sRGB
    error_stops: float  # median standard error of a pixel
    refused: str  # why it is no question after all; "" where it is one


def frames_due(
    given: Given,
    questions: Sequence[Question],
    quality: Quality | int,
    long_side_px: int,
    store: FrameStore,
    engine_name: str,
) -> Due:
    """The light frames of all questions and what of them is missing; nothing is traced."""
    lacking: dict[str, int] = {}
    size_bytes = all_chunks = 0
    for _, layout, _ in _sets(given, questions):
        order = order_of(layout, quality, long_side_px)
        _, _, names, chunks = wanted(order, engine_name)
        new = {n: max(0, chunks - store.chunks(n)) for n in names.values() if n not in lacking}
        missing = sum(count > 0 for count in new.values())
        size_bytes += missing * BYTES_PER_PIXEL * order.size_px[0] * order.size_px[1]
        all_chunks += max(new.values(), default=0)
        lacking |= new
    missing = sum(count > 0 for count in lacking.values())
    return Due(len(lacking), missing, size_bytes, all_chunks)


def pictured(
    given: Given,
    questions: Sequence[Question],
    *,
    quality: Quality | int,
    long_side_px: int,
    engine: Engine | Crew,
    store: FrameStore,
    expected_chunks: int = 0,
    progress: Callable[[Progress], None] | None = None,
) -> Iterator[Pictured]:
    """Trace what is missing; finished light is kept, and a stopped run goes on. Raises EngineError.

    expected_chunks : as of `frames_due`, for the time left
    """
    looks = takes(
        ((layout, exposure) for _, layout, exposure in _sets(given, questions)),
        quality=quality,
        long_side_px=long_side_px,
        engine=engine,
        store=store,
        progress=progress,
        expected_chunks=expected_chunks,
    )
    for question, look in zip(questions, looks, strict=True):
        refused = _refused(given, question, look)
        yield Pictured(question, pixels_of(look.picture), look.error_stops, refused)


def _sets(given: Given, questions: Sequence[Question]) -> Iterator[tuple[Stood, Layout, Exposure]]:
    """Every set-up as it stands, and as its picture is framed."""
    made = given.stands[0]
    for question in questions:
        made = stood(given.file, question.tables, (made, *given.stands))
        layout = face_layout(made.layout) if question.closer else made.layout
        yield made, layout, exposure_of(made.setup)


def _refused(given: Given, question: Question, look: Look) -> str:
    """What the picture says against a question."""
    if question.kind == "lights":
        fired, shown = int(question.answers[0].value), lights_seen(look)
        return "" if shown == fired else f"{shown} of {fired} lights show in its picture"
    if question.kind != "fault":
        return ""
    made = stood(given.file, question.tables, given.stands)
    context = context_of(replace(made, layout=look.layout))
    share = clipped(context, look)
    if question.fault != "clipped":
        return f"it has another fault: {FAULTS['clipped']}" if share > 0 else ""
    return "" if share >= SHOWS["clipped"] else f"its fault does not show: {FAULTS['clipped']}"

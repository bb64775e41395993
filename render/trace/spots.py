"""Traced spot readings: the luminance that an eye sees on a patch, light by light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Layout
from render.trace.readings import added, chunks, mean_and_error
from render.trace.stage import CARD_REFLECTANCE, Dress, SkinModel, Stage, stage_of
from render.trace.tasks import Readers

Floats = NDArray[np.float64]
# A light that gives less than this share of a spot's light is measured well enough when its
# error is small against that share; chasing 0.005 stop of next to nothing never ends.
SHARE_THAT_COUNTS = 1 / 32


@dataclass(frozen=True, slots=True)
class Spot:
    """An eye and what it looks at: points of a patch, or a card that is not in the scene."""

    eye_m: Floats  # (3,)
    targets_m: Floats  # (k, 3) points of the surface; k = 0 for a card
    card: tuple[Floats, Floats] | None = None  # position (3,) and normal (3,) of a grey card


@dataclass(frozen=True, slots=True)
class SpotReading:
    """Luminance·time per light and lumen second [cd·s/m² per lm·s], lights as in the layout."""

    mean: Floats  # (n, lights)
    standard_error: Floats  # (n, lights)
    samples: int  # per spot


def spots(
    layout: Layout,
    targets: Sequence[Spot],
    dress: Dress,
    *,
    room: bool,
    bounces: int | None,
    samples: int,
    engine: Readers,
    seed: int = 0,
    target_se_stops: float | None = None,
    skin: SkinModel = "surface",
) -> SpotReading:
    """Read spots, all in one traversal.

    room            : whether walls, ceiling and floor stand
    bounces         : 1 = direct light only; None = enough for this room
    samples         : per spot; with a target the most that may be spent
    target_se_stops : stop early when every light that counts at every spot is this sure
    engine          : one that runs, or a crew of workers: the same numbers bit for bit
    skin            : "under" lets light go under the skin, on the `llvm` engine only
    raises          : EngineError if the engine fails
    """
    stage = replace(stage_of(layout, dress, room=room, bounces=bounces), skin=skin)
    weights = np.array([front.luminous_energy_lm_s for front in layout.fronts])
    parts: list[tuple[Any, ...]] = []
    done = 0
    for counts in _plan(len(targets), samples, target_se_stops):
        parts += _look(stage, targets, counts, seed + len(parts), engine)
        done += sum(counts)
        sums, squares = added(parts)
        reading = SpotReading(*mean_and_error(sums, squares, done), done)
        if target_se_stops is not None and is_sure(reading, weights, target_se_stops):
            break
    return reading


def is_sure(reading: SpotReading, weights: Floats, target_se_stops: float) -> bool:
    """True if no light that counts at a spot is less sure than the target [stops].

    weights : (lights,) float  luminous energy of each light [lm·s]
    """
    return worst_error(reading, weights) <= target_se_stops


def worst_error(reading: SpotReading, weights: Floats) -> float:
    """Largest standard error of a light that counts at a spot [stops]; 0 where no light is.

    weights : (lights,) float  luminous energy of each light [lm·s]
    """
    light, error = reading.mean * weights, reading.standard_error * weights
    scale = np.maximum(light, SHARE_THAT_COUNTS * light.sum(1, keepdims=True))
    share = np.divide(error, scale, out=np.zeros_like(error), where=scale > 0)
    return float(share.max(initial=0.0) / np.log(2.0))


def _plan(readings: int, samples: int, target: float | None) -> list[list[int]]:
    """Rounds, and the samples of the chunks in each: one round, but with a target they grow from
    a small one, so that easy spots end soon."""
    if target is None:
        return [chunks(readings, samples)]
    rounds: list[int] = []
    while sum(rounds) < samples:
        size = max(sum(rounds), min(4096, samples))
        rounds.append(min(size, samples - sum(rounds)))
    return [chunks(readings, each) for each in rounds]


def _look(
    stage: Stage, targets: Sequence[Spot], counts: Sequence[int], seed: int, engine: Readers
) -> list[tuple[Floats, Floats]]:
    """Sums and sums of squares of each chunk, patches and cards together: two (n, lights)."""
    shape = (len(targets), len(stage.emitting))
    found = [(np.zeros(shape), np.zeros(shape)) for _ in counts]
    seen = [i for i, spot in enumerate(targets) if spot.card is None]
    cards = [i for i, spot in enumerate(targets) if spot.card is not None]
    parts = [{"samples": count, "seed": seed + k} for k, count in enumerate(counts)]
    if seen and stage.emitting:
        told = _patches([targets[i] for i in seen])
        read = engine.read("spots", stage, [told | part for part in parts])
        for (sums, squares), more in zip(found, read, strict=True):
            sums[seen], squares[seen] = more
    if cards and stage.emitting:
        # The card itself is one reflection of the path that the eye follows.
        nearer = replace(stage, max_depth=stage.max_depth - 1)
        told = _cards([targets[i] for i in cards])
        read = engine.read("receptors", nearer, [told | part for part in parts])
        shows = CARD_REFLECTANCE / np.pi  # a matte card shows L = rho / pi · E
        for (sums, squares), more in zip(found, read, strict=True):
            sums[cards], squares[cards] = shows * more[2], shows**2 * more[3]
    return found


def _patches(targets: Sequence[Spot]) -> dict[str, Any]:
    """What the job "spots" is told of the eyes and the points that they look at."""
    patches = [np.asarray(spot.targets_m, float).reshape(-1, 3) for spot in targets]
    counts = np.array([len(patch) for patch in patches])
    if not counts.all():
        raise ValueError("a spot without a card needs at least one target point")
    return {
        "eyes": np.stack([spot.eye_m for spot in targets]),
        "first": np.cumsum(counts) - counts,
        "counts": counts,
        "targets": np.concatenate(patches),
    }


def _cards(targets: Sequence[Spot]) -> dict[str, Any]:
    """Cards as receptors; each faces its normal and stands in nobody's light."""
    placed = [spot.card for spot in targets if spot.card is not None]
    return {
        "positions": np.stack([position for position, _ in placed]),
        "axes": np.stack([normal / np.linalg.norm(normal) for _, normal in placed]),
        "receptor": "flat",
    }

"""Traced spot readings: the luminance that an eye sees on a patch, light by light."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.layout.placed import Layout
from render.trace.engine import Engine
from render.trace.readings import added, batches, mean_and_error
from render.trace.stage import CARD_REFLECTANCE, Dress, SkinModel, Stage, stage_of

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
    engine: Engine,
    seed: int = 0,
    target_se_stops: float | None = None,
    skin: SkinModel = "surface",
) -> SpotReading:
    """Read spots, all in one traversal.

    room            : whether walls, ceiling and floor stand
    bounces         : 1 = direct light only; None = enough for this room
    samples         : per spot; with a target the most that may be spent
    target_se_stops : stop early when every light that counts at every spot is this sure
    skin            : "under" lets light go under the skin, on the `llvm` engine only
    raises          : EngineError if the engine fails
    """
    stage = replace(stage_of(layout, dress, room=room, bounces=bounces), skin=skin)
    weights = np.array([front.luminous_energy_lm_s for front in layout.fronts])
    sums: tuple[Any, ...] | None = None
    done = 0
    for k, count in enumerate(_plan(len(targets), samples, target_se_stops)):
        sums = added(sums, _look(stage, targets, count, seed + k, engine))
        done += count
        reading = SpotReading(*mean_and_error(sums[0], sums[1], done), done)
        if target_se_stops is not None and is_sure(reading, weights, target_se_stops):
            break
    return reading


def is_sure(reading: SpotReading, weights: Floats, target_se_stops: float) -> bool:
    """True if no light that counts at a spot is less sure than the target [stops].

    weights : (lights,) float  luminous energy of each light [lm·s]
    """
    light, error = reading.mean * weights, reading.standard_error * weights
    scale = np.maximum(light, SHARE_THAT_COUNTS * light.sum(1, keepdims=True))
    return bool(np.all(error <= target_se_stops * np.log(2.0) * scale))


def _plan(readings: int, samples: int, target: float | None) -> list[int]:
    """With a target the batches grow from a small one, so that easy spots end soon."""
    if target is None:
        return batches(readings, samples)
    plan: list[int] = []
    while sum(plan) < samples:
        largest = batches(readings, samples)[0]
        size = max(sum(plan), min(4096, samples))
        plan.append(min(size, largest, samples - sum(plan)))
    return plan


def _look(
    stage: Stage, targets: Sequence[Spot], samples: int, seed: int, engine: Engine
) -> tuple[Floats, Floats]:
    """Sums and sums of squares of one batch, patches and cards together: two (n, lights)."""
    shape = (len(targets), len(stage.emitting))
    sums, squares = np.zeros(shape), np.zeros(shape)
    seen = [i for i, spot in enumerate(targets) if spot.card is None]
    cards = [i for i, spot in enumerate(targets) if spot.card is not None]
    if seen and stage.emitting:
        patches = [np.asarray(targets[i].targets_m, float).reshape(-1, 3) for i in seen]
        counts = np.array([len(patch) for patch in patches])
        if not counts.all():
            raise ValueError("a spot without a card needs at least one target point")
        arguments = {
            "eyes": np.stack([targets[i].eye_m for i in seen]),
            "first": np.cumsum(counts) - counts,
            "counts": counts,
            "targets": np.concatenate(patches),
            "samples": samples,
            "seed": seed,
        }
        sums[seen], squares[seen] = engine.call("spots", stage, arguments)
    if cards and stage.emitting:
        sums[cards], squares[cards] = _card_sums(
            stage, [targets[i] for i in cards], samples, seed, engine
        )
    return sums, squares


def _card_sums(
    stage: Stage, targets: Sequence[Spot], samples: int, seed: int, engine: Engine
) -> tuple[Floats, Floats]:
    """A matte card shows L = rho / pi · E; it faces its normal and stands in nobody's light."""
    # The card itself is one reflection of the path that the eye follows.
    stage = replace(stage, max_depth=stage.max_depth - 1)
    placed = [spot.card for spot in targets if spot.card is not None]
    arguments = {
        "positions": np.stack([position for position, _ in placed]),
        "axes": np.stack([normal / np.linalg.norm(normal) for _, normal in placed]),
        "receptor": "flat",
        "samples": samples,
        "seed": seed,
    }
    _, _, sums, squares, *_ = engine.call("receptors", stage, arguments)
    shows = CARD_REFLECTANCE / np.pi
    return shows * sums, shows**2 * squares

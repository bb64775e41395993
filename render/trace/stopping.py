"""When to stop tracing: looking again and again, and still right about how sure a picture is."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from render.trace.tally import FIRST_CHUNKS, FIRST_SAMPLES

# Who stops when an estimated error looks small stops too often where the estimate is low by
# chance. So one may stop at these samples per pixel only (every octave in two steps), and the
# estimate counts as what it might really be: its upper bound, so far out that all looks together
# miss with a chance of DOUBT. Where noise is Gaussian, the mean knows nothing of the spread, so
# that whatever the spreads decide the mean stays unbiased (Basu's theorem; the fixed widths of
# Stein 1945 rest on the same).
LEAST_SAMPLES = FIRST_CHUNKS * FIRST_SAMPLES
MOST_SAMPLES = 65536
LOOKS = tuple(
    LEAST_SAMPLES * step << octave
    for octave in range(13)
    for step in ((1, 2, 3) if octave == 0 else (2, 3))
    if LEAST_SAMPLES * step << octave <= MOST_SAMPLES
)
DOUBT = 0.05
# Hair, cloth and paper have specks that a small patch has not met yet. In violin-two-lights at
# 240 px the bound of patches of 7 to 28 pixels was missed in 9 % of looks at 16 to 32 samples, with
# this in 3 to 7 %, against 96 samples that are themselves off by 15 %.
PATHS_PER_DEGREE = 32
SPARE = 1.2  # a pilot of some thousand paths knows its variance to a tenth
MOST_PROBES = 1 << 22  # paths of one reading; 13 points take ten minutes of a core
LEAP = 4  # times the samples so far, at most, before the next look: early estimates are poor


def freedom(variance: ArrayLike, chunks: int, paths: float = math.inf) -> float:
    """Degrees of freedom of the summed variance of independent pixels.

    variance : (n,) float  estimated variance of each pixel's mean, from so many chunks
    paths    : of all these pixels together, where specks may be rarer than they can tell
    returns  : 2 n / c² with c the relative scatter of the estimates: at least that of Gaussian
               noise, 2 / (chunks - 1), and as much more as heavy tails and unevenness make it;
               not less than the freedom of one pixel, chunks - 1, but at most one for
               PATHS_PER_DEGREE paths, 1 at least
    """
    each = np.asarray(variance, float).ravel()
    alone, total = float(chunks - 1), float(each.sum())
    most = max(1.0, paths / PATHS_PER_DEGREE)
    if len(each) < 2 or total <= 0 or not math.isfinite(total):
        return min(alone, most)
    scatter = len(each) ** 2 * float(each.var(ddof=1)) / total**2
    return min(max(alone, 2 * len(each) / max(scatter, 2 / alone)), most)


def bound(degrees: float) -> float:
    """Factor on an estimated standard error that makes it an upper bound, over all looks.

    degrees : float > 0  degrees of freedom of the estimate
    returns : sqrt(d / chi²_d at DOUBT shared by the looks)
    """
    from scipy.special import gammaincinv  # a large library, needed nowhere else here

    share = DOUBT / len(LOOKS)
    return math.sqrt(degrees / (2 * float(gammaincinv(degrees / 2, share))))


def next_look(samples: int, times: float) -> int:
    """Samples per pixel at which to look next.

    samples : per pixel so far, 0 for none
    times   : the error's upper bound over the one wanted, > 1
    returns : the first of LOOKS where the bound should be met, but not too far; MOST_SAMPLES at
              last
    """
    wanted = min(samples * times * times, LEAP * samples)
    return next((n for n in LOOKS if n > samples and n >= wanted), MOST_SAMPLES)


def second_stage(samples: int, times: float) -> int:
    """Samples of a fresh second stage after a pilot whose error was so many times too large.

    Nobody looks again, so the stage's own mean and error are those of a fixed number of samples,
    however its size was found (Stein 1945, here with the pilot left out of the mean).
    samples : of the pilot
    times   : the pilot's standard error over the one wanted
    """
    return min(MOST_PROBES, math.ceil(samples * times * times * SPARE))

"""Stopping when it looks sure enough must not make results look surer than they are."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chi2

from render.trace.stopping import (
    DOUBT,
    LEAP,
    LOOKS,
    MOST_PROBES,
    bound,
    freedom,
    next_look,
    second_stage,
)
from render.trace.tally import Tally, chunk_samples, chunks_for, samples_in

Floats = NDArray[np.float64]
Noise = Callable[[np.random.Generator, int, int], Floats]
RUNS = 1500
# Coverage of a Gaussian error by one, two and three of its standard errors.
WITHIN = {times: math.erf(times / math.sqrt(2)) for times in (1, 2, 3)}


def gaussian(generator: np.random.Generator, pixels: int, samples: int) -> Floats:
    """Mean of so many samples of light 1 in each pixel, each off by 0.8."""
    return 1 + 0.8 * generator.standard_normal(pixels) / math.sqrt(samples)


def skewed(generator: np.random.Generator, pixels: int, samples: int) -> Floats:
    """The same with gamma noise of relative variance 4: few bright paths among dark ones."""
    return generator.gamma(samples / 4, 4 / samples, pixels)


def speckled(generator: np.random.Generator, pixels: int, samples: int) -> Floats:
    """Even light and, in one path of 500, a flash of 20 times that; 1.04 in all."""
    base = generator.gamma(4 * samples, 1 / (4 * samples), pixels)
    return base + 20 * generator.binomial(samples, 0.002, pixels) / samples


def stopped(noise: Noise, pixels: int, wanted: float, generator: np.random.Generator) -> Floats:
    """Mean light and samples where a patch is first sure to `wanted` stops."""
    tally, samples = Tally.empty((pixels, 1)), LOOKS[0]
    while True:
        while tally.chunks < chunks_for(samples):
            drawn = noise(generator, pixels, chunk_samples(tally.chunks))
            tally = tally.plus(np.repeat(drawn[None, :, None], 3, -1).astype(np.float32))
        variance, light = tally.variance(), float(tally.mean()[..., 1].mean())
        error = math.sqrt(variance.sum()) / pixels / light / math.log(2)
        most = error * bound(freedom(variance, tally.chunks, pixels * tally.samples))
        if most <= wanted:
            return np.array([light, tally.samples])
        samples = next_look(tally.samples, most / wanted)


def covered(noise: Noise, light: float, pixels: int, wanted: float) -> dict[int, float]:
    """Share of runs whose light is off by at most one, two and three times the wanted error."""
    generator = np.random.default_rng(20261126)
    found = np.array([stopped(noise, pixels, wanted, generator) for _ in range(RUNS)])
    off = np.abs(np.log2(found[:, 0] / light))
    return {times: float((off <= times * wanted).mean()) for times in WITHIN}


@pytest.mark.parametrize(
    ("noise", "light", "pixels", "wanted"),
    [
        (gaussian, 1.0, 1, 0.15),  # three degrees of freedom at the first look
        (gaussian, 1.0, 100, 0.02),
        (skewed, 1.0, 12, 0.15),
        (speckled, 1.04, 100, 0.03),
    ],
)
def test_the_true_error_is_covered_at_the_nominal_rate(
    noise: Noise, light: float, pixels: int, wanted: float
) -> None:
    """Truth: the light that the noise was made with. Allowed: 4 standard errors of the count."""
    for times, share in covered(noise, light, pixels, wanted).items():
        nominal = WITHIN[times]
        assert share > nominal - 4 * math.sqrt(nominal * (1 - nominal) / RUNS), times


def test_without_the_bound_it_would_not_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the tests above would find if one stopped at the bare estimate."""
    monkeypatch.setattr(sys.modules[__name__], "bound", lambda degrees: 1.0)
    share, nominal = covered(gaussian, 1.0, 1, 0.15)[3], WITHIN[3]
    assert share < nominal - 4 * math.sqrt(nominal * (1 - nominal) / RUNS)


def test_the_bound_is_missed_less_often_than_stated() -> None:
    """Truth: chi-square. Errors estimated at every look, from 3 to 60 degrees: the smallest bound
    of a run lies under the true error in at most DOUBT of all runs."""
    generator = np.random.default_rng(7)
    missed = 0
    for _ in range(2000):
        normal = generator.standard_normal(64) ** 2
        looks = (3, 4, 6, 8, 12, 18, 26, 42, 60)
        missed += any(math.sqrt(normal[:d].mean()) * bound(float(d)) < 1 for d in looks)
    assert missed / 2000 < DOUBT


@pytest.mark.parametrize("degrees", [1.0, 3.0, 40.0, 5000.0])
def test_the_bound_is_the_quantile_of_chi_square(degrees: float) -> None:
    """Truth: the independent quantile function of SciPy's distributions."""
    quantile = chi2.ppf(DOUBT / len(LOOKS), degrees)
    assert bound(degrees) == pytest.approx(math.sqrt(degrees / quantile), rel=1e-9)


def test_even_gaussian_pixels_count_each() -> None:
    """Truth: n pixels of c chunks have n (c - 1) degrees of freedom."""
    generator = np.random.default_rng(3)
    chunks, pixels = 8, 4000
    variance = generator.chisquare(chunks - 1, pixels)
    assert freedom(variance, chunks) == pytest.approx(pixels * (chunks - 1), rel=0.1)
    assert freedom([1.0], chunks) == chunks - 1


def test_one_pixel_that_carries_all_noise_counts_alone() -> None:
    spiked = np.full(100, 1e-6)
    spiked[7] = 1.0
    assert freedom(spiked, 4) == pytest.approx(3.0, rel=0.01)
    assert freedom(np.zeros(100), 4) == 3
    assert freedom(np.ones(100), 4, paths=160) == 5


def test_looks_are_whole_chunks_and_leaps_are_short() -> None:
    assert all(samples_in(chunks_for(n)) == n for n in LOOKS)
    assert list(LOOKS) == sorted(set(LOOKS))
    assert next_look(16, 1.01) == 32
    assert next_look(64, 1.4) == 128
    assert next_look(16, 1e6) == LEAP * 16
    assert next_look(LOOKS[-1], 2.0) == LOOKS[-1]


def test_a_second_stage_reaches_what_its_pilot_did_not() -> None:
    """Truth: light 1 of gamma noise, variance 5. The fresh stage is as sure as asked, and its
    true error is the one it states: chi-square of 200 over 200 lies within 0.66 to 1.4."""
    generator = np.random.default_rng(11)
    wanted, shares, stated = 0.02, [], []
    for _ in range(200):
        pilot = generator.gamma(0.2, 5.0, 4096)
        samples = second_stage(len(pilot), pilot.std(ddof=1) / math.sqrt(len(pilot)) / wanted)
        fresh = generator.gamma(0.2, 5.0, samples)
        stated.append(fresh.std(ddof=1) / math.sqrt(samples))
        shares.append((fresh.mean() - 1) / stated[-1])
    assert max(stated) < 1.1 * wanted
    assert sum(each <= wanted for each in stated) > 190
    assert 0.66 < float(np.square(shares).mean()) < 1.4
    assert second_stage(4096, 1e6) == MOST_PROBES

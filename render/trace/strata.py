"""Random numbers that are spread evenly over the samples of a pixel: a few samples show less grain.

The samples of a pixel are points of Sobol's sequence (1967) in its first two dimensions: of 2^k
samples, each of the 2^k equal strips and boxes of the unit square that halving makes holds one.
Every pixel and every pair of numbers has its own order and its own digital shift, and below its
strip each sample falls where it likes, so each number by itself is uniform and all are unbiased.
"""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

MOST_BITS = 12  # 4096 samples of a pixel at a time
# Odd and near 2^32 over the golden ratio: its multiples lie far apart (Knuth, vol. 3, 6.4).
STEP = 0x9E3779B9
ROUNDS = 8  # of mixing; after 4, the tracer's usual number, neighbours still resemble (measured)
FLOAT_BITS = 24  # of a random number in [0, 1); all that single precision can hold


def _directions() -> list[int]:
    """Sobol's second dimension: rows of Pascal's triangle modulo 2, from the top bit down."""
    found = [1 << 31]
    while len(found) < MOST_BITS:
        found.append(found[-1] ^ found[-1] >> 1)
    return found


def _words(one: Any, other: Any) -> tuple[Any, Any]:
    """Two random words from two, by the Tiny Encryption Algorithm (Zafar et al. 2010)."""
    found: tuple[Any, Any] = mi.sample_tea_32(one, other, ROUNDS)
    return found


class Strata:
    """Numbers for the samples of many pixels at once, asked for in a fixed order.

    pixel, number : of every lane: which pixel it belongs to, which of its samples it is
    bits          : k, where a pixel has at most 2^k samples
    seed          : other numbers for the same lanes
    Whole numbers, all opaque to the compiler: other counts need no new kernel.
    """

    def __init__(self, pixel: Any, number: Any, bits: Any, seed: Any) -> None:
        self._pixel, self._number, self._seed = pixel, number, seed
        self._lane = dr.arange(mi.UInt32, dr.width(pixel))
        self._last = (mi.UInt32(1) << bits) - 1  # of the numbers
        self._half = (bits + 1) >> 1
        self._below = mi.UInt32(0xFFFFFFFF) >> bits  # bits of a place within its strip
        self._asked = 0

    def next_1d(self, _: Any = True) -> Any:
        """One number of each sample in [0, 1)."""
        shift, _, order = self._of_pixel()
        return self._placed(dr.brev(self._turn(order)), shift, self._of_sample()[0])

    def next_2d(self, _: Any = True) -> Any:
        """A point of the unit square for each sample."""
        across, upward, order = self._of_pixel()
        point, (aside, above) = self._turn(order), self._of_sample()
        second = mi.UInt32(0)
        for bit, direction in enumerate(_directions()):
            second ^= dr.select((point >> bit) & 1 == 1, direction, mi.UInt32(0))
        return mi.Point2f(
            self._placed(dr.brev(point), across, aside), self._placed(second, upward, above)
        )

    def _of_pixel(self) -> tuple[Any, Any, tuple[Any, Any]]:
        """Two digital shifts and what an order is made of: the same for all samples of a pixel."""
        self._asked += 1
        own = self._seed + (2 * self._asked * STEP & 0xFFFFFFFF)
        one, other = _words(self._pixel, own)
        return one, other, _words(one, other)

    def _of_sample(self) -> tuple[Any, Any]:
        """Two random words of each sample."""
        own = self._seed + ((2 * self._asked + 1) * STEP & 0xFFFFFFFF)
        return _words(self._lane, own)

    def _turn(self, order: tuple[Any, Any]) -> Any:
        """The sample's number in another order; every step can be undone, so none comes twice."""
        found = self._number ^ (order[0] & self._last)
        for word in (order[0] >> 16, order[1], order[1] >> 16):
            found = (found * (word | 1) + (word >> 8)) & self._last
            found ^= found >> self._half
        return found

    def _placed(self, point: Any, shift: Any, within: Any) -> Any:
        """A number in [0, 1): the shifted strip of a point, and a place within it."""
        strip = (point ^ shift) & ~self._below
        whole = (strip | (within & self._below)) >> (32 - FLOAT_BITS)
        return mi.Float(whole) * 2.0**-FLOAT_BITS

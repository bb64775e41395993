"""The running sum of one light's film: chunk after chunk, with its noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from render.trace.stage import LUMINANCE

Floats = NDArray[np.float32]

# Samples per pixel of the first chunks and of all later ones. Four chunks are the least that
# give a usable spread; larger ones spread their samples more evenly.
FIRST_CHUNKS, FIRST_SAMPLES, LATER_SAMPLES = 4, 4, 16

PATHS_AT_ONCE = 1 << 24  # traced together; about 0.5 GB of memory with two lights


def chunk_samples(chunk: int) -> int:
    """Samples per pixel of the chunk with this number (0 is the first)."""
    return FIRST_SAMPLES if chunk < FIRST_CHUNKS else LATER_SAMPLES


def chunks_for(samples: int) -> int:
    """Chunks that reach at least this many samples per pixel; four at least."""
    first = FIRST_CHUNKS * FIRST_SAMPLES
    later = max(0, samples - first)
    return FIRST_CHUNKS + -(-later // LATER_SAMPLES)


def samples_in(chunks: int) -> int:
    """Samples per pixel in the first so many chunks."""
    return sum(chunk_samples(k) for k in range(chunks))


def bands(pixels: int, samples: int) -> tuple[int, int]:
    """Number of equal bands of a picture that are traced one after the other, and the pixels of
    each: a chunk of a large picture then fits in memory. The last band may end beyond it."""
    count = -(-pixels * samples // PATHS_AT_ONCE)
    return count, -(-pixels // count)


@dataclass(frozen=True, slots=True)
class Tally:
    """Sums over chunks, each chunk weighted by its samples."""

    chunks: int
    colour: Floats  # (h, w, 3) sum of samples x mean, linear sRGB luminance·time per lm·s
    squares: Floats  # (h, w) sum of samples x (mean luminance)²

    @staticmethod
    def empty(size_px: tuple[int, int]) -> Tally:
        """No chunk yet; size_px is width, height."""
        width, height = size_px
        zeros = np.zeros((height, width, 3), np.float32)
        return Tally(0, zeros, np.zeros((height, width), np.float32))

    @property
    def samples(self) -> int:
        """Samples per pixel so far."""
        return samples_in(self.chunks)

    def plus(self, chunk: Floats) -> Tally:
        """With the next chunk's mean (h, w, 3) added."""
        weight = np.float32(chunk_samples(self.chunks))
        bright = chunk @ np.array(LUMINANCE, np.float32)
        colour = self.colour + weight * chunk
        return Tally(self.chunks + 1, colour, self.squares + weight * bright * bright)

    def mean(self) -> Floats:
        """(h, w, 3) mean so far."""
        return self.colour / np.float32(max(self.samples, 1))

    def variance(self) -> Floats:
        """(h, w) variance of the mean's luminance, from the spread of the chunks.

        Chunk means with variance s²/n_k each: s² = sum n_k (m_k - m)² / (chunks - 1), and the
        variance of the mean is s² / sum n_k. Infinite before the second chunk.
        """
        if self.chunks < 2:
            return np.full(self.squares.shape, np.inf, np.float32)
        samples = self.samples
        bright = self.colour.astype(np.float64) @ np.array(LUMINANCE) / samples
        spread = np.maximum(self.squares - samples * bright * bright, 0) / (self.chunks - 1)
        variance: Floats = (spread / samples).astype(np.float32)
        return variance

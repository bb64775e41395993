"""How far each light is from its prediction: what explains all readings best, and how surely."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
DARK = 1e-12  # [lx·s] keeps the logarithm of no light finite


@dataclass(frozen=True, slots=True)
class Taken:
    """Readings (n) beside the light of every lamp (m) that is predicted for them."""

    direct: Floats  # (n, m) [lx·s], 0 where a lamp was not fired
    bounce: Floats  # (n, m) [lx·s]
    dial: Floats  # (n, m) power of a reading over that of the scene, 0 where not fired
    read: Floats  # (n,) [lx·s] behind the f-numbers
    sigma: Floats  # (n,) [stops] noise of a reading and error of its prediction
    group: Ints  # (m,) which correction a lamp has: its flash and modifier as worn
    prior: Floats  # (groups,) [stops] how far a correction is likely to be from 0


@dataclass(frozen=True, slots=True)
class Cause:
    """Something about one lamp, in an amount, that changes its light at some points only."""

    lamp: int
    name: str
    prior: float  # amount that is likely, in its own unit
    light: Callable[[float], tuple[Floats, Floats]]  # amount -> direct (n,), bounce (n,) [lx·s]


@dataclass(frozen=True, slots=True)
class Fit:
    """The most likely corrections, and what is left."""

    offsets: Floats  # (groups,) [stops]
    errors: Floats  # (groups,) [stops] standard errors
    amounts: dict[int, float]  # lamp -> amount of its cause
    amount_errors: dict[int, float]
    predicted: Floats  # (n,) [lx·s] after correction
    residual: Floats  # (n,) [stops] read minus predicted
    cost: float  # chi-square of readings and priors together

    def chance(self, rows: Ints, sigma: Floats) -> float:
        """Chance that noise alone leaves as much in some rows (chi-square, rows less 1)."""
        if len(rows) < 2:
            return 1.0
        square = float(np.sum((self.residual[rows] / sigma[rows]) ** 2))
        return float(chi2.sf(square, len(rows) - 1))


def fit(taken: Taken, causes: Mapping[int, Cause] | None = None) -> Fit:
    """Maximum a posteriori corrections, all readings and at most one cause a lamp at once.

    Readings are normal in stops around their prediction, corrections around 0, causes around
    none; standard errors are those of the linear problem at the solution.
    """
    causes = dict(causes or {})
    groups, lamps = len(taken.prior), list(causes)
    widths = np.concatenate([taken.prior, [causes[lamp].prior for lamp in lamps]])

    def light(values: Floats) -> Floats:
        direct, bounce = taken.direct.copy(), taken.bounce.copy()
        for lamp, amount in zip(lamps, values[groups:] * widths[groups:], strict=True):
            direct[:, lamp], bounce[:, lamp] = causes[lamp].light(float(amount))
        gain = np.exp2((values[:groups] * widths[:groups])[taken.group])
        total: Floats = np.maximum((direct + bounce) @ gain, DARK)
        return total

    def miss(values: Floats) -> Floats:
        return np.concatenate([np.log2(taken.read / light(values)) / taken.sigma, values])

    solved = least_squares(miss, np.zeros(len(widths)), x_scale=1.0)
    spread = np.sqrt(np.diag(np.linalg.inv(solved.jac.T @ solved.jac))) * widths
    values = solved.x * widths
    predicted = light(solved.x)
    return Fit(
        offsets=values[:groups],
        errors=spread[:groups],
        amounts=dict(zip(lamps, values[groups:].tolist(), strict=True)),
        amount_errors=dict(zip(lamps, spread[groups:].tolist(), strict=True)),
        predicted=predicted,
        residual=np.log2(taken.read / predicted),
        cost=2.0 * float(solved.cost),
    )

"""How often a place is renewed, from the integral equation of renewal theory; nothing of the program is used.

A place whose tools live L with distribution F, each replaced as it fails, is renewed M(t) times on average by t, where
M(t) = F(t) + integral from 0 to t of M(t - x) dF(x). Replaced in a block every T as well, it costs
(c_p + c_f M(T)) / T in the long run: Barlow & Proschan 1965, Mathematical Theory of Reliability, section 4.2.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def renewals(distribution: Callable[[Floats], Floats], length: float, *, steps: int = 4000) -> tuple[Floats, Floats]:
    """(t, M(t)) on an even grid; M is taken at the middle of a step within the integral, which errs by its square."""
    t = np.linspace(0.0, length, steps + 1)
    chance = np.asarray(distribution(t), float)
    gain = np.diff(chance)
    mean = np.zeros(steps + 1)
    for n in range(1, steps + 1):
        # M at t_n less the middle of step j lies between two grid points; the newest one is unknown only for j = 1.
        known = np.dot(gain[1:n], 0.5 * (mean[n - 1 : 0 : -1] + mean[n - 2 :: -1][: n - 1])) if n > 1 else 0.0
        rest = 0.5 * gain[0] * mean[n - 1]
        mean[n] = (chance[n] + known + rest) / (1.0 - 0.5 * gain[0])
    return t, mean


def weibull(shape: float, scale: float) -> Callable[[Floats], Floats]:
    return lambda t: -np.expm1(-((np.asarray(t) / scale) ** shape))

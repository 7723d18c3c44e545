"""Wear whose pace depends on how far worn a tool already is.

    dw / de = N exp(-c (w / L)^k)

e is the wear it would have were its pace the same throughout (the *even* wear), L its limit, c above 0 where wear slows
towards the limit and below 0 where it quickens. N is such that both meet at the limit, e(L) = L: a rate is then the
mean over a whole life. The regression works in even wear, where a life is a straight line of its exposure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wearplan.wear.evidence.readings import Floats

BEYOND = 1.1
"""Share of the limit from which on the pace stays as it is: further out hardly a reading tells, and an exponential
would run away."""
_FAR = 1e3


@dataclass(frozen=True)
class Curve:
    """One form: strength c, order k."""

    strength: float
    order: float

    @cached_property
    def _table(self) -> tuple[Floats, Floats, float]:
        """Shares of the limit, worn and even, and what makes both meet at it."""
        worn = np.linspace(0.0, BEYOND, 331)
        pace = np.exp(self.strength * worn**self.order)
        even = np.concatenate([[0.0], np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(worn))])
        # a straight line before nothing is worn (errors of reading lie there) and beyond
        worn, even = np.r_[-_FAR, worn, _FAR], np.r_[-_FAR, even, even[-1] + pace[-1] * (_FAR - BEYOND)]
        scale = 1.0 / float(np.interp(1.0, worn, even))
        return worn, even * scale, scale

    def even(self, wear_mm: Floats | float, limit_mm: Floats | float) -> Floats:
        """Even wear of a tool worn so far; arrays that broadcast."""
        worn, even, _ = self._table
        return np.asarray(np.interp(np.asarray(wear_mm) / limit_mm, worn, even) * limit_mm)

    def worn(self, even_mm: Floats | float, limit_mm: Floats | float) -> Floats:
        """Wear at an even wear: the inverse of `even`."""
        worn, even, _ = self._table
        return np.asarray(np.interp(np.asarray(even_mm) / limit_mm, even, worn) * limit_mm)

    def slope(self, wear_mm: Floats | float, limit_mm: Floats | float) -> Floats:
        """d even / d wear."""
        share = np.clip(np.asarray(wear_mm) / limit_mm, 0.0, BEYOND)
        return np.asarray(np.exp(self.strength * share**self.order) * self._table[2])

    def pace(self, share: float) -> float:
        """Pace at a share of the limit against that of a new tool."""
        return float(np.exp(-self.strength * share**self.order))

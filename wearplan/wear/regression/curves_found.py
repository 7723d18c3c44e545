"""What came of trying curves on a kind's readings."""

from __future__ import annotations

from dataclasses import dataclass

from .curve import Curve
from .posterior import Rough


@dataclass(frozen=True)
class Form:
    """One curve that may be right, and where the regression rests with it."""

    weight: float
    curve: Curve
    rough: Rough


@dataclass(frozen=True, kw_only=True)
class Curvature:
    """What came of the trial of a kind."""

    evidence: float = 0.0
    gain: float = 0.0
    """Log score of all left-out lives against even wear."""
    forms: tuple[Form, ...] = ()
    """Empty where wear is taken as even; else the likeliest first, weights sum to 1."""

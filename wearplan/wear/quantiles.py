"""The one set of quantiles every result shows."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

LEVELS = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)


@dataclass(frozen=True, slots=True)
class Quantiles:
    """Quantiles of a quantity; None where it lies beyond what can be said (such as beyond the drive)."""

    p05: float | None
    p10: float | None
    p25: float | None
    p50: float | None
    p75: float | None
    p90: float | None
    p95: float | None

    @classmethod
    def of(cls, draws: object) -> Quantiles:
        """From draws; infinite draws count as beyond, and a quantile that falls among them is None.

        >>> Quantiles.of([1.0, 2.0, 3.0]).p50
        2.0
        """
        ordered = np.sort(np.asarray(draws, float).ravel())
        if not len(ordered):
            return cls(*[None] * len(LEVELS))
        found: list[float | None] = []
        for level in LEVELS:
            place = level * (len(ordered) - 1)
            low, high = ordered[int(np.floor(place))], ordered[int(np.ceil(place))]
            value = low + (high - low) * (place - np.floor(place)) if np.isfinite(high) else high if place % 1 else low
            found.append(float(value) if np.isfinite(value) else None)
        return cls(*found)

    @classmethod
    def many(cls, draws: object) -> tuple[Quantiles, ...]:
        """One for each column of finite draws (D, n)."""
        table = np.quantile(np.asarray(draws, float), LEVELS, axis=0)
        return tuple(cls(*map(float, column)) for column in table.T)

    def as_dict(self) -> dict[str, float | None]:
        """By name, ready for JSON."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

"""A batch that is suspected: since when, how strong, and which tools may be of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Suspicion:
    """A batch without a label."""

    since_m: float
    since_id: str
    share: float
    """Of the tools fitted since."""
    times: float
    gain: float
    chance: Mapping[str, float]
    """By life fitted since: the chance of being one of it."""
    unsure: frozenset[str]
    """Lives whose readings tell nothing of it yet: their chance is the share."""
    types: tuple[str, ...]

    @property
    def label(self) -> str:
        return f"unlabelled, since {self.since_id}"

    def members(self) -> dict[str, str]:
        """Batch by life for those more likely in it than not."""
        return {life: self.label for life, chance in self.chance.items() if chance > 0.5}

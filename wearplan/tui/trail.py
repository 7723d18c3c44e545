"""Where the user has been: screens and places, to go back and forward as in a browser."""

from __future__ import annotations

from dataclasses import dataclass, replace

LONGEST = 60


@dataclass(frozen=True, slots=True)
class Spot:
    """A task and the place pointed at there."""

    task: str
    key: str | None = None


@dataclass(frozen=True, slots=True)
class Trail:
    """Spots in the order they were seen; ``at`` is the present one."""

    spots: tuple[Spot, ...] = (Spot("start"),)
    at: int = 0

    @property
    def here(self) -> Spot:
        return self.spots[self.at]

    def leaving(self, key: str | None) -> Trail:
        """With the place pointed at noted for the present spot."""
        spots = list(self.spots)
        spots[self.at] = replace(self.here, key=key)
        return Trail(tuple(spots), self.at)

    def to(self, spot: Spot) -> Trail:
        """At another spot; what lay ahead is forgotten."""
        if spot == self.here:
            return self
        spots = (*self.spots[: self.at + 1], spot)[-LONGEST:]
        return Trail(spots, len(spots) - 1)

    def step(self, way: int) -> Trail:
        """Back or forward, as far as it goes."""
        return Trail(self.spots, min(len(self.spots) - 1, max(0, self.at + way)))

"""The drive: its chainage, its rings, its pace."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from wearplan.site.records.key import Chainage, Key
from wearplan.site.records.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainageEquation:
    """Where the alignment's chainage jumps."""

    back_m: Annotated[Chainage, Key("Chainage on the side the drive comes from ...")]
    ahead_m: Annotated[Chainage, Key("... that has this chainage on the side it goes to.")]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """The drive from its start to its end."""

    start_chainage_m: Annotated[Chainage, Key("Chainage of the face where the drive starts.")]
    end_chainage_m: Annotated[
        Chainage, Key("Chainage where it ends; smaller than the start where chainage falls as the drive advances.")
    ]
    ring_length_m: Annotated[float, Key("Length of one ring.", gt=0.1, le=5)]
    face_ahead_of_ring_m: Annotated[
        float,
        Key("Distance from the last built ring to the face; chainages of this folder are the face's.", ge=0, le=50),
    ] = 0.0
    equations: Annotated[
        tuple[ChainageEquation, ...],
        Key("Where the alignment's chainage jumps: back_m = ahead_m.", at="[[chainage_equation]]", most=200),
    ] = ()
    """In the order of the drive."""

    @property
    def sign(self) -> int:
        """+1 when chainage rises as the drive advances, -1 when it falls."""
        return 1 if self.end_chainage_m >= self.start_chainage_m else -1

    def _pieces(self) -> list[tuple[float, float, float]]:
        """(driven from, driven to, chainage at from) of each stretch between equations."""
        pieces = []
        driven, at = 0.0, self.start_chainage_m
        for equation in self.equations:
            length = (equation.back_m - at) * self.sign
            pieces.append((driven, driven + length, at))
            driven, at = driven + length, equation.ahead_m
        pieces.append((driven, driven + (self.end_chainage_m - at) * self.sign, at))
        return pieces

    @property
    def length_m(self) -> float:
        """Driven length of the whole drive."""
        return self._pieces()[-1][1]

    def chainage_m(self, driven_m: float) -> float:
        """Chainage of the face after ``driven_m`` metres (beyond either end: straight on)."""
        pieces = self._pieces()
        for start, end, at in pieces:
            if driven_m <= end or end == pieces[-1][1]:
                return at + self.sign * (driven_m - start)
        raise AssertionError("unreachable")

    def driven_m(self, chainage_m: float, *, near_m: float | None = None) -> float:
        """Driven metres at a chainage.

        Where an equation makes a chainage occur twice, the one nearest to ``near_m`` is taken (without it the
        first); where an equation skips it, the place of the jump.
        """
        pieces = self._pieces()
        found, best = [], None
        for index, (start, end, at) in enumerate(pieces):
            low = -float("inf") if index == 0 else start
            high = float("inf") if index == len(pieces) - 1 else end
            here = start + self.sign * (chainage_m - at)
            if low - 1e-9 <= here <= high + 1e-9:
                found.append(here)
            off = max(low - here, here - high, 0.0)
            if best is None or off < best[0]:
                best = (off, min(max(here, low), high))
        if found:
            return found[0] if near_m is None else min(found, key=lambda here: abs(here - near_m))
        assert best is not None
        return best[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """What turns chainage into dates."""

    advance_m_per_day: Annotated[float, Key("Per working day, net of planned stops.", gt=0, le=200)]
    advance_doubt: Annotated[float, Key("Relative standard deviation of the mean pace to come.", ge=0, le=2)] = 0.2
    working_days_per_week: Annotated[int, Key(ge=1, le=7)] = 6
    holidays: Annotated[tuple[date, ...], Key(most=5000)] = ()

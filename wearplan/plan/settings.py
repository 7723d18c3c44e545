"""How much the search tries, in one place. Effort is counted, never timed, so that the same folder and seed give the
same plan on any machine; the clock is only a stop button (see `stopping`).

What shapes the optimiser's own steps (temperatures, sweeps a node) stands with them in `optimise`.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class Exact:
    """The search for the plan in the exact model."""

    nodes: int = 3000
    """Branchings; a drive of 100 places and 100 rings takes some tens."""


@dataclass(frozen=True, kw_only=True)
class Rings:
    """Where there are too many rings to weigh them all: rounds in which those the plan turns on are taken in."""

    rounds: int = 5
    gap: float = 4e-4
    """To which the bounding problem is solved."""
    work: float = 4e7
    """Branchings of it, times places times the square of its rings."""
    told: float = 1e-3
    """Gap against all rings at which a plan counts as of least cost."""
    places: int = 30
    """At about so many places what was read between rings is held against what is worked out."""
    arcs: float = 3.5e6
    """Places times the square of the rings weighed at once: what sets the memory taken."""


@dataclass(frozen=True, kw_only=True)
class Shift:
    """Stops dropped, shifted and added once entries are counted whole."""

    trials: int = 500
    """Sets of stops costed."""
    rounds: int = 6
    """Descents, each from the best so far."""
    mended: int = 10
    """Of the sets costed, the cheapest that are carried out in full before one is chosen."""


@dataclass(frozen=True, kw_only=True)
class Sparing:
    """Plans with fewer entries, where the cheapest takes more than allowed."""

    prices: tuple[float, ...] = (1.0, 4.0, 16.0)
    """Put on each entry, times its usual cost."""
    gap: float = 1e-3
    nodes: int = 60


@dataclass(frozen=True, kw_only=True)
class Fill:
    """Entries hardly filled are done without; then whole entries are solved at the stops chosen."""

    passes: int = 3
    gap: float = 2e-3
    nodes: int = 200
    """Of the mixed-integer programme at given stops."""
    arcs: int = 5000
    """Of it, that could be part of a cheaper plan; with more the fill is left as it is."""
    decided_arcs: int = 6000
    """Tasks up to so many intervals are decided in one programme where a cap on entries is met by no plan found."""
    decided_nodes: int = 5000


@dataclass(frozen=True, kw_only=True)
class Whole:
    """The bound with entries counted whole."""

    bound: float = 0.9912
    """Of the plan's cost: as far as the bound is to go."""
    arcs: int = 20000
    """Left below that; with more the bound in parts of entries stands."""
    nodes: int = 40
    """Of HiGHS's own tree."""
    asked: float = 1e-3
    """None for first numbers, which ask for a gap wider than this."""


@dataclass(frozen=True, kw_only=True)
class Neighbours:
    """The neighbour step put right at the stops chosen."""

    patterns: int = 160
    """Of visits tried for one place."""
    stops: int = 11
    """With more stops than these, patterns near the present one only."""
    sweeps: int = 3


@dataclass(frozen=True, kw_only=True)
class Beside:
    """The answers beside the plan: deferral, trade-off, comparison, worse ground, what wishes cost."""

    candidates: int = 28
    """Rings kept, about."""
    gap: float = 2e-3
    nodes: int = 60
    alternatives: int = 5
    foresight_draws: int = 12
    foresight_gap: float = 1e-2
    foresight_nodes: int = 40
    wish_gap: float = 1e-3
    wish_nodes: int = 400
    worse_draws: int = 120
    worse_halvings: int = 12


@dataclass(frozen=True, kw_only=True)
class Settings:
    """All of them."""

    exact: Exact = field(default_factory=Exact)
    rings: Rings = field(default_factory=Rings)
    shift: Shift = field(default_factory=Shift)
    sparing: Sparing = field(default_factory=Sparing)
    fill: Fill = field(default_factory=Fill)
    whole: Whole = field(default_factory=Whole)
    neighbours: Neighbours = field(default_factory=Neighbours)
    beside: Beside = field(default_factory=Beside)


SETTINGS = Settings()

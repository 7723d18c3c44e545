"""What a solver gives back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from .problem import Bools

Status = Literal["least cost", "best found", "impossible", "nothing found"]


@dataclass(frozen=True)
class Clash:
    """The smallest set found that cannot all be kept.

    Attributes
    ----------
    places : indices of the places concerned (empty where stops alone clash).
    from_node, to_node : the stretch. For a cap: the last node the place can reach, and the first one from which it
        could go on.
    rule : what they clash with: "cap", "budget NAME", "entries", "row NAME", "forced and forbidden", or several of
        these joined by " and ".
    needed, allowed : least amount the rule would have to allow, and what it allows; None where it is not a number.
    would_help : forbidden stops any one of which would undo the clash if allowed.
    others : further places that clash by themselves, each somewhere.
    """

    places: tuple[int, ...]
    from_node: int
    to_node: int
    rule: str
    needed: float | None = None
    allowed: float | None = None
    would_help: tuple[int, ...] = ()
    others: tuple[int, ...] = ()


@dataclass(frozen=True)
class Solved:
    """A plan with its cost and how much cheaper any other could be.

    Attributes
    ----------
    status : "least cost" where the gap is within what was asked; "best found" where it is not; "impossible" where no
        plan exists; "nothing found" where time ran out before any plan.
    stops : open stops (1..N), in order.
    visits : (P, N+2) places served at each stop, or None.
    cost : in the full model; ``inf`` without a plan.
    lower_bound : no plan of the full model costs less.
    gap : (cost - lower_bound) / \\|cost\\|.
    proof : the method the bound comes from.
    bound_model : "full model", or "path model" where the bound leaves conditions out (named in ``relaxed``).
    relaxed : conditions the bound holds only loosely or not at all.
    repaired : conditions the plan keeps by repair, not by the search itself.
    iterations, nodes : shortest-path rounds and branchings (or the arc model's own count).
    seconds : wall clock.
    stopped : "", "out of nodes", "time limit" or "asked to stop".
    clash : why it is impossible, where it is.
    """

    status: Status
    stops: tuple[int, ...]
    visits: Bools | None
    cost: float
    lower_bound: float
    gap: float
    proof: str
    bound_model: str = "full model"
    relaxed: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    iterations: int = 0
    nodes: int = 0
    seconds: float = 0.0
    stopped: str = ""
    clash: Clash | None = None


@dataclass(frozen=True)
class Progress:
    """How far a solver is: seconds run, best cost and bound so far, and which step it is in."""

    seconds: float
    cost: float
    lower_bound: float
    gap: float
    step: str


ShouldStop = Callable[[], bool]
OnProgress = Callable[[Progress], None]


@dataclass
class Watch:
    """One clock and one way to stop for all steps of a solve."""

    time_limit_s: float = 60.0
    should_stop: ShouldStop | None = None
    on_progress: OnProgress | None = None
    started: float = 0.0
    stopped: str = ""
    last_told: float = field(default=-1.0, repr=False)

    def __post_init__(self) -> None:
        import time

        self._now = time.perf_counter
        self.started = self._now()

    @property
    def seconds(self) -> float:
        """Seconds since the start."""
        return self._now() - self.started

    @property
    def left_s(self) -> float:
        """Seconds left."""
        return max(0.0, self.time_limit_s - self.seconds)

    def over(self) -> bool:
        """True once the time is up or somebody asked to stop; stays true."""
        if not self.stopped:
            if self.should_stop is not None and self.should_stop():
                self.stopped = "asked to stop"
            elif self.left_s <= 0.0:
                self.stopped = "time limit"
        return bool(self.stopped)

    def tell(self, cost: float, lower_bound: float, step: str) -> None:
        """Report progress, at most five times a second."""
        if self.on_progress is not None and self.seconds - self.last_told > 0.2:
            self.last_told = self.seconds
            self.on_progress(Progress(self.seconds, cost, lower_bound, relative_gap(cost, lower_bound), step))


def relative_gap(cost: float, lower_bound: float) -> float:
    """(cost - lower_bound) / |cost|, never negative; ``inf`` without a plan, and 0 where both are 0."""
    if cost == float("inf") or lower_bound == float("-inf"):
        return float("inf")
    spread = max(0.0, cost - lower_bound)
    return spread / abs(cost) if cost else (0.0 if spread <= 1e-9 else float("inf"))

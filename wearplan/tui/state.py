"""What the app knows at one moment: an immutable snapshot, replaced and never changed.

A part that is not there yet, or that a fault forbids, is None; `Snapshot.jobs` says which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

    from wearplan.demand import Demand
    from wearplan.demand.memory.kept import Kept
    from wearplan.history import Calendar, Exposure, Life, Rings
    from wearplan.plan import Plan, Wishes
    from wearplan.site.records import Fault, Site
    from wearplan.wear import Backtest, Fit, Outlook
    from wearplan.wear.outlooks.outlook import ToolOutlook
    from wearplan.wheel import Layout

STEPS = ("read", "history", "rates", "outlook", "plan", "demand")
"""The chain of work, each step resting on those before it."""
STEP_WORDS = {
    "read": "reading the folder",
    "history": "following the tools",
    "rates": "learning wear rates",
    "outlook": "looking ahead",
    "plan": "planning stops",
    "demand": "counting tools",
    "backtest": "testing past outlooks",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Where one step stands: waiting, working, done, barred (faults forbid it), failed or stopped."""

    step: str
    state: str = "waiting"
    share: float | None = None
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Tool lives and the exposure behind them."""

    layout: Layout
    face_m: float
    rings: Rings | None = None
    exposure: Exposure | None = None
    lives: tuple[Life, ...] = ()
    current: Mapping[int, Life] = field(default_factory=dict)
    last_seen: Mapping[int, tuple[float, str]] = field(default_factory=dict)
    calendar: Calendar | None = None
    """From a place of the drive to hours and dates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """Everything the screens show."""

    folder: Path
    version: int = 0
    """Grows with every change."""
    content: int = 0
    """Grows when an answer changed, and not with words on progress."""
    site: Site | None = None
    faults: tuple[Fault, ...] = ()
    history: History | None = None
    fit: Fit | None = None
    outlook: Outlook | None = None
    tools: Mapping[int, ToolOutlook] = field(default_factory=dict)
    """The outlook's tools by position, worked out with it."""
    over_ahead: np.ndarray | None = None
    """(G,) expected number of tools past their limit along the outlook's grid, if left."""
    plan: Plan | None = None
    free_plan: Plan | None = None
    """The plan without the user's wishes, to compare with."""
    wishes: Wishes | None = None
    plan_is_first: bool = False
    """The plan holds first numbers for a wish, and is being refined."""
    demand: Demand | None = None
    forecast: Kept | None = None
    """The demand as it can be kept in the folder."""
    backtest: Backtest | None = None
    basis: Mapping[str, str] = field(default_factory=dict)
    """Step to what its answer in view rests on, such as ``ring 1200``."""
    jobs: Mapping[str, Job] = field(
        default_factory=lambda: MappingProxyType({step: Job(step=step) for step in (*STEPS, "backtest")})
    )

    def having(self, **parts: Any) -> Snapshot:
        """A newer snapshot with some parts replaced."""
        return replace(self, version=self.version + 1, content=self.content + 1, **parts)

    def with_job(self, job: Job) -> Snapshot:
        """A newer snapshot in which one step stands elsewhere."""
        jobs = MappingProxyType({**self.jobs, job.step: job})
        basis = {**self.basis, job.step: self._last_ring} if job.state == "done" else self.basis
        return replace(self, version=self.version + 1, jobs=jobs, basis=basis)

    @property
    def _last_ring(self) -> str:
        rings = self.site.rings if self.site is not None else ()
        return f"ring {rings[-1].ring}" if rings else "no ring"

    def old(self, step: str) -> str:
        """What the answer of a step rests on while newer facts are being worked in; empty where it is of today."""
        return self.basis.get(step, "") if self.jobs[step].state in ("waiting", "working") else ""

    def without_from(self, step: str) -> Snapshot:
        """A newer snapshot in which this step and all after it wait again; their last answers stay in view."""
        again = STEPS[STEPS.index(step) :]
        return self.having(jobs=MappingProxyType({**self.jobs, **{name: Job(step=name) for name in again}}))

    @property
    def working(self) -> Job | None:
        """The step being worked on now."""
        return next((job for job in self.jobs.values() if job.state == "working"), None)

    @property
    def troubled(self) -> tuple[Job, ...]:
        """Steps that failed or that faults forbid."""
        return tuple(job for job in self.jobs.values() if job.state in ("failed", "barred"))


def why_missing(snapshot: Snapshot, step: str) -> str:
    """One sentence for a part that is not there."""
    job = snapshot.jobs[step]
    if job.state in ("failed", "barred", "stopped"):
        return job.words
    before = [name for name in STEPS[: STEPS.index(step)] if step in STEPS] if step in STEPS else []
    for name in before:
        if snapshot.jobs[name].state in ("failed", "barred", "stopped"):
            return snapshot.jobs[name].words
    share = "" if job.share is None else f" {100 * job.share:.0f} %"
    if job.state == "working":
        return f"{job.words or STEP_WORDS[step]}{share} …"
    return f"{STEP_WORDS[step]}: waits for the steps before it …"

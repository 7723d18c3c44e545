"""Ways of running the drive: the plan, and the rules of thumb it is held against.

All rules see the readings of their own stops and the expected wear a metre (the mean over the draws), never a draw's
truth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.model.exact import F32, Bools, Floats, Model

from .play import State
from .rule import Thresholds, whole_choice
from .worlds import Worlds


@dataclass(frozen=True, kw_only=True)
class Planned:
    """Stop where the plan stops; change by what is measured (``rule``) or as planned (``visits``, (P, K+2))."""

    where: tuple[int, ...]
    model: Model
    rule: Thresholds | None = None
    visits: Bools | None = None

    def stops(self, state: State) -> Bools:
        return np.full(len(state.last_stop_m), state.stop in self.where)

    def changes(self, state: State) -> Bools:
        k = 1 + self.where.index(state.stop)
        if self.visits is not None:
            return np.broadcast_to(self.visits[:, k], state.seen_mm.shape)
        assert self.rule is not None
        hours = np.nan_to_num(self.model.chamber_hours[:, state.stop])
        return whole_choice(self.rule.gains(k, state.seen_mm), hours, self.model.cands.term(state.stop))


def first_of_windows(model: Model) -> NDArray[np.intp]:
    """The first candidate of each window, in the order of the drive; stops for tools from inside alone are left out."""
    seen: dict[int, int] = {}
    for n in model.cands.stops:
        if not model.cands.term(n).inside_only:
            seen.setdefault(int(model.cands.window[n]), n)
    return np.array(sorted(seen.values()), dtype=np.intp)


@dataclass(frozen=True, kw_only=True)
class Mean:
    """Expected wear over limit gathered by metre: (N+1, P) at now and at each candidate, of a tool of factor 1."""

    share: F32
    at_m: Floats

    def between(self, from_m: Floats | F32, to_m: Floats | float) -> Floats:
        """(D, P) expected share of the limit gathered between two points, (D, P) and scalar or (D, 1)."""
        end = np.broadcast_to(np.asarray(to_m, float), from_m.shape)
        out = np.empty(from_m.shape)
        for p in range(self.share.shape[1]):
            line = self.share[:, p]
            out[:, p] = np.interp(end[:, p], self.at_m, line) - np.interp(from_m[:, p], self.at_m, line)
        return np.maximum(out, 0.0)


def mean_share(worlds: Worlds) -> Mean:
    """Expected growth along the mesh, from the draws."""
    path = worlds.path_mm.mean(axis=1) / worlds.limit_mm
    return Mean(share=worlds.by_place(path), at_m=worlds.mesh_m)


@dataclass(frozen=True, kw_only=True)
class UntilFound:
    """Go on until some tool is reckoned at its limit, then stop in that window and change all past a share of it."""

    where: NDArray[np.intp]
    mean: Mean
    share: float = 0.8

    def stops(self, state: State) -> Bools:
        if state.stop not in self.where:
            return np.zeros(len(state.last_stop_m), dtype=bool)
        reckoned = state.seen_share + self.mean.between(state.seen_m, state.driven_m)
        return np.asarray((reckoned >= 1.0).any(axis=1))

    def changes(self, state: State) -> Bools:
        return np.asarray(state.seen_share >= self.share)


@dataclass(frozen=True, kw_only=True)
class Every:
    """Stop in the first window after so many metres; change what is not reckoned to last as far again."""

    where: NDArray[np.intp]
    mean: Mean
    spacing_m: float

    def stops(self, state: State) -> Bools:
        if state.stop not in self.where:
            return np.zeros(len(state.last_stop_m), dtype=bool)
        return np.asarray(state.driven_m - state.last_stop_m >= self.spacing_m)

    def changes(self, state: State) -> Bools:
        here = np.full(state.seen_share.shape, state.driven_m)
        until = min(state.driven_m + self.spacing_m, float(self.mean.at_m[-1]))
        return np.asarray(state.seen_share + self.mean.between(here, until) >= 1.0)


@dataclass(frozen=True, kw_only=True)
class SecondWindow:
    """At every second window change all past a share of their limit."""

    where: NDArray[np.intp]
    share: float = 0.6

    def stops(self, state: State) -> Bools:
        return np.full(len(state.last_stop_m), state.stop in self.where[1::2])

    def changes(self, state: State) -> Bools:
        return np.asarray(state.seen_share >= self.share)

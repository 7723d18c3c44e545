"""Levels of the rings by which a further factor cuts the path: bands of a number, or the commonest words."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from .readings import Floats, Ints

BANDS, WORDS = 5, 3


@dataclass(frozen=True, kw_only=True)
class Levels:
    """One factor as levels of the rings."""

    column: str
    of_ring: Ints
    """(N,) level of each ring."""
    names: tuple[str, ...]
    """Of its coefficients: one for a number, one for each word but the commonest."""
    values: Floats
    """(coefficients, levels)"""
    step: str
    centre: float = 0.0
    spread: float = 1.0
    edges: Floats | None = None

    def level_of(self, value: float) -> int:
        """Level of a number; only for factors that are numbers."""
        assert self.edges is not None
        return int(np.searchsorted(self.edges, value))


def levels_of(rings: Any, column: str) -> Levels | None:
    """The levels of a ring column; None where it says nothing (missing, or all the same)."""
    if column == "regime":
        words = list(rings.regime)
        ranked = [word for word, _ in Counter(word for word in words if word).most_common()]
        if len(ranked) < 2:
            return None
        kept = ranked[: WORDS + 1]
        # rings without a word, and rare words, count as the commonest
        index = np.array([kept.index(word) if word in kept else 0 for word in words], np.int64)
        return Levels(
            column=column, of_ring=index, names=tuple(f"regime {word}" for word in kept[1:]),
            values=np.eye(len(kept))[1:], step=f"against regime {kept[0]}",
        )  # fmt: skip
    numbers = rings.penetration_mm if column == "penetration" else rings.columns.get(column)
    if numbers is None:
        return None
    numbers = np.asarray(numbers, float)
    fine = np.isfinite(numbers) & (numbers > 0 if column == "penetration" else True)
    if fine.sum() < 20 or np.std(numbers[fine]) < 1e-9:
        return None
    filled = np.where(fine, numbers, np.median(numbers[fine]))
    edges = np.unique(np.quantile(filled, np.arange(1, BANDS) / BANDS))
    index = np.searchsorted(edges, filled).astype(np.int64)
    centre, spread = float(filled.mean()), float(filled.std())
    middles = np.array([filled[index == k].mean() if (index == k).any() else centre for k in range(len(edges) + 1)])
    return Levels(
        column=column, of_ring=index, names=(column,), values=((middles - centre) / spread)[None, :],
        step=f"{spread:.3g} more (one standard deviation of the rings)", centre=centre, spread=spread, edges=edges,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Cut:
    """Factors in force together: every combination of their levels."""

    factors: tuple[Levels, ...]

    @property
    def of_ring(self) -> Ints:
        """(N,) combination of each ring."""
        out = np.zeros(len(self.factors[0].of_ring), np.int64)
        for factor in self.factors:
            out = out * factor.values.shape[1] + factor.of_ring
        return out

    @property
    def values(self) -> Floats:
        """(coefficients, combinations)"""
        combos = product(*(range(factor.values.shape[1]) for factor in self.factors))
        return np.array(
            [np.concatenate([f.values[:, k] for f, k in zip(self.factors, combo, strict=True)]) for combo in combos]
        ).T

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name for factor in self.factors for name in factor.names)

    def share(self, recent: int = 150) -> Floats:
        """(V,) how often each combination occurred among the last rings."""
        count = self.values.shape[1]
        return np.bincount(self.of_ring[-recent:], minlength=count) / max(len(self.of_ring[-recent:]), 1)


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What came of trying a factor on a kind."""

    column: str
    entered: bool
    gain: float
    """Per left-out reading."""
    step: str
    names: tuple[str, ...]


def shares_ahead(cut: Cut | None, penetration_mm: Floats) -> Floats:
    """(S, V) share of each combination of levels in the sections ahead.

    Factors go on as in the last rings, penetration as expected in the section.
    """
    sections = len(penetration_mm)
    if cut is None:
        return np.ones((sections, 1))
    out = np.tile(cut.share(), (sections, 1))
    for place, factor in enumerate(cut.factors):
        if factor.column == "penetration":
            sizes = [f.values.shape[1] for f in cut.factors]
            cube = out.reshape(sections, *sizes).sum(axis=1 + place, keepdims=True)
            for s in range(sections):
                pick = np.zeros(sizes[place])
                pick[factor.level_of(float(penetration_mm[s]))] = 1.0
                shape = [1] * len(sizes)
                shape[place] = sizes[place]
                out[s] = (cube[s] * pick.reshape(shape)).ravel()
    return out


def extended(cut: Cut, rings: Any) -> Cut:
    """The same bands and words applied to a longer log of rings."""
    out = []
    for factor in cut.factors:
        if factor.edges is None:
            words = [name.removeprefix("regime ") for name in factor.names]
            index = np.array([1 + words.index(word) if word in words else 0 for word in rings.regime])
        else:
            numbers = rings.penetration_mm if factor.column == "penetration" else rings.columns[factor.column]
            filled = np.where(np.isfinite(numbers), numbers, factor.centre)
            index = np.searchsorted(factor.edges, filled)
        out.append(replace(factor, of_ring=index.astype(np.int64)))
    return Cut(factors=tuple(out))

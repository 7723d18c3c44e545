"""The numbers the regression of wear works on: readings by life and inspection, as flat arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[Any]
"""Arrays of numbers; shapes stand in the docstrings."""
Ints = NDArray[np.int64]
_CALLS = 3000
"""Matrix entries handled in about the time that the calls for one more batch take: found by trying."""


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Readings of one kind of tool.

    Readings of a life stand together, in the order they were taken. Expected wear of reading j is ``sum_c path_km[j,
    c] * rate_c`` with ``log rate = loading @ coefficients``: a column is a unit of ground met in a zone (and, with a
    further factor, at a level of it), so a tool that moved from face to gauge needs no special case.

    Parameters
    ----------
    life : (N,) int
        Index of the life; equal values are contiguous.
    path_km : (N, C) float
        Path since the start of the life, by column; never falls within a life.
    loading : (C, K) float
        What each of the K coefficients adds to the log rate of a column.
    wear_mm : (N,) float
        The value read, or the bound of a censored reading.
    censored : (N,) int
        0 a value; -1 the wear is below the bound; +1 above it.
    inspection : (N,) int
        Index of the inspection whose error the reading shares; -1 for none (sensors).
    error_var : (N,) float
        Variance of one reading's error by its method, mm²; scaled by a common factor that is learnt.
    fixed_var : (N,) float
        Variance that is known and not scaled, mm²: rounding.
    weight : (N,) float
        1 for a sound reading, less for a doubtful one: its error variance is divided by it.
    path_rel_sd : (N,) float
        Relative doubt (sd) of the path, from rings whose revolutions were imputed.
    start_var : (N,) float
        Variance of the wear the life began with, mm²; the same for all its readings.
    log_rate : bool
        False: the rate is the linear predictor itself. Only for checks against published linear models.
    proportional : bool
        False: the life's factor adds instead of multiplying. Only for checks against published mixed models.
    """

    life: Ints
    path_km: Floats
    loading: Floats
    wear_mm: Floats
    censored: Ints
    inspection: Ints
    error_var: Floats
    fixed_var: Floats
    weight: Floats
    path_rel_sd: Floats
    start_var: Floats
    by_life: Floats | None = None
    """(N, Q) what the last Q coefficients add to the log of all wear of the reading's life (of its type and batch);
    their columns of ``loading`` are zero."""
    load: Floats | None = None
    """(N,) what the error an inspection shares counts in a reading; 1 where left out. See `curve`."""
    log_rate: bool = True
    proportional: bool = True
    labels: tuple[str, ...] = field(default=())
    """Names of the coefficients, for messages."""
    order: Ints = field(default_factory=lambda: np.zeros(0, np.int64), repr=False)
    """(N,) where each reading stood in what was handed to `make_readings`."""

    def __len__(self) -> int:
        return len(self.life)

    @cached_property
    def inspections(self) -> int:
        """Number of inspections that share an error."""
        return int(self.inspection.max(initial=-1)) + 1

    @cached_property
    def batches(self) -> tuple[Ints, ...]:
        """Row numbers of the readings, (lives, readings each); the number ``len(self)`` stands where a life has fewer.

        One array for every length of life, few lives of nearby lengths together: the calls are what takes the time
        there. Where wear may be negative (rates not in the log) nothing is filled up: zero must lie below all of it.
        """
        if not len(self):
            return ()
        starts = np.flatnonzero(np.r_[True, self.life[1:] != self.life[:-1]])
        lengths = np.diff(np.r_[starts, len(self)])
        out = []
        for group in _groups(*np.unique(lengths, return_counts=True), spare=_CALLS if self.log_rate else 0):
            mine = np.isin(lengths, group)
            places = np.arange(max(group))[None, :]
            out.append(np.where(places < lengths[mine, None], starts[mine, None] + places, len(self)))
        return tuple(out)

    @cached_property
    def bounded(self) -> Ints:
        """Row numbers of the censored readings."""
        return np.flatnonzero(self.censored != 0)


def _groups(lengths: Ints, lives: Ints, *, spare: int) -> list[list[int]]:
    """Lengths of life to handle together: the next one joins while the entries filled up stay within ``spare``."""
    groups: list[list[int]] = []
    entries = count = 0
    for length, many in zip(lengths.tolist(), lives.tolist(), strict=True):
        if groups and (count + many) * length**2 - entries - many * length**2 <= spare:
            groups[-1].append(length)
        else:
            groups.append([length])
            entries = count = 0
        count += many
        entries += many * length**2
    return groups


def make_readings(
    *,
    life: ArrayLike,
    path_km: ArrayLike,
    wear_mm: ArrayLike,
    loading: ArrayLike | None = None,
    censored: ArrayLike | None = None,
    inspection: ArrayLike | None = None,
    sd_mm: ArrayLike = 0.0,
    step_mm: ArrayLike = 0.0,
    weight: ArrayLike = 1.0,
    path_rel_sd: ArrayLike = 0.0,
    start_sd_mm: ArrayLike = 0.0,
    **more: Any,
) -> Readings:
    """Readings from plain arrays in any order; missing parts take their plainest value.

    Within a life the readings are ordered by the path travelled. Lives and inspections may be any integers (inspections
    below 0 mean none); they are renumbered. A value of zero is read as "below half a step" where the method has a step.

    Parameters
    ----------
    life, wear_mm, censored, inspection : (N,)
    path_km : (N, C)
    loading : (C, K), optional
        Identity where left out: every column has a rate of its own.
    sd_mm, step_mm, weight, path_rel_sd, start_sd_mm : scalar or (N,)
        Standard deviation of the error and step of rounding by the method used.

    Returns
    -------
    Readings
        With the rounding's variance step²/12 (a uniform error over one step) in ``fixed_var``.
    """
    path = np.asarray(path_km, float)
    path = path[:, None] if path.ndim == 1 else path
    count = len(path)
    lives = np.unique(np.asarray(life), return_inverse=True)[1].astype(np.int64)
    order = np.lexsort((path.sum(axis=1), lives))

    def full(value: ArrayLike, kind: type = float) -> Floats:
        return np.broadcast_to(np.asarray(value, kind), (count,))[order].copy()

    cens = full(0 if censored is None else censored, np.int64)
    insp = full(-1 if inspection is None else inspection, np.int64)
    wear, step = full(wear_mm), full(step_mm)
    nothing = (cens == 0) & (wear <= 0.0) & (step > 0.0)
    cens[nothing], wear[nothing] = -1, step[nothing] / 2.0
    used = np.unique(insp[insp >= 0])
    insp = np.where(insp >= 0, np.searchsorted(used, insp), -1)
    fixed = np.where(cens == 0, step**2 / 12.0, 0.0)
    return Readings(
        life=lives[order],
        path_km=path[order],
        loading=np.eye(path.shape[1]) if loading is None else np.asarray(loading, float),
        wear_mm=wear,
        censored=cens,
        inspection=insp,
        error_var=full(sd_mm) ** 2,
        fixed_var=fixed,
        weight=full(weight),
        path_rel_sd=full(path_rel_sd),
        start_var=full(start_sd_mm) ** 2,
        order=order,
        **more,
    )

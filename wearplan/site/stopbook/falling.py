"""Wear that falls: named here as the records stand; the history of tools decides what becomes of the reading."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from wearplan.site.parse.faults import NOTHING, FaultLog
from wearplan.site.records import Fitting, Gauging, Inspection, Measurement, Wheel

_UNSTATED = Gauging(method="", sd_mm=1.0, step_mm=1.0)
"""A guess at common practice, where the site says nothing of any method."""
_FALL = 3.0
"""The history of tools doubts a reading by the same measure."""


_Highest = tuple[float, Gauging, str]
"""The highest wear read of a tool, how it was read, and in which record."""


def may_fall_mm(first: Gauging, second: Gauging) -> float:
    """By how much a later reading of the same life may lie below an earlier one through the gauges' errors alone.

    Three times the standard deviation of the difference of two readings, each with its error and its rounding
    (uniform over a step, so step² / 12).
    """
    variance = sum(gauge.sd_mm**2 + gauge.step_mm**2 / 12 for gauge in (first, second))
    return _FALL * math.sqrt(variance)


def name_falling_wear(inspections: Sequence[Inspection], wheel: Wheel, log: FaultLog) -> None:
    """Name each reading that lies below an earlier one of the same tool by more than the gauges' errors.

    Parameters
    ----------
    inspections
        Those in force, in the order of the drive.
    """
    gauges = {gauging.method: gauging for gauging in wheel.gauging}
    coarsest = max(wheel.gauging, key=lambda gauging: gauging.sd_mm, default=_UNSTATED)
    highest: dict[int, _Highest] = {}
    for inspection in inspections:
        for reading in inspection.measurements:
            if reading.damaged:
                continue
            value = reading.mean_mm if reading.mean_mm is not None else reading.wear_above_mm
            ceiling = reading.mean_mm if reading.mean_mm is not None else reading.wear_below_mm
            gauge = gauges.get(reading.method or "", coarsest)
            before = highest.get(reading.position)
            if before is not None and ceiling is not None and ceiling < before[0] - may_fall_mm(before[1], gauge):
                _name(reading, ceiling, before, log)
            if value is not None and (before is None or value > before[0]):
                highest[reading.position] = (value, gauge, inspection.id)
        highest = _fitted(inspection.fittings, highest)


def _name(reading: Measurement, ceiling_mm: float, before: _Highest, log: FaultLog) -> None:
    log.add(
        reading.origin.file, reading.origin.line, "[[measurement]] wear_mm",
        f"position {reading.position}: {ceiling_mm:g} mm, but {before[0]:g} mm were read in {before[2]} and no change "
        "of the tool is recorded since: one of the two counts less; if a fitting was left out, correct the record of "
        "that stop",
        code="falling-wear", forbids=NOTHING,
    )  # fmt: skip


def _fitted(fittings: Sequence[Fitting], found: Mapping[int, _Highest]) -> dict[int, _Highest]:
    """What is known of wear goes with the tools; all fittings of a stop act on the wheel as it was found."""
    after = dict(found)
    targets = {fitting.position for fitting in fittings}

    def put(position: int, known: _Highest | None) -> None:
        after.pop(position, None)
        if known is not None:
            after[position] = known

    for fitting in fittings:
        here, there = fitting.position, fitting.from_position
        put(here, found.get(there) if there is not None and not fitting.damaged else None)
        if there is not None and there not in targets:
            put(there, found.get(here) if fitting.action == "swap" and not fitting.damaged else None)
    return after

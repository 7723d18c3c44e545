"""From tool lives to the flat arrays of the regression."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.history import gauging_of
from wearplan.site.records import ZONES, Wheel

from .readings import Floats, Readings, make_readings

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.history import Reading as LifeReading

SENSOR_SD_MM = 0.5
"""Doubt in the wear at which a sensor reports: judgement."""
FLAGGED_WEIGHT = 0.2


@dataclass(frozen=True, kw_only=True)
class Design:
    """Columns of path and coefficients of one kind: every unit in every zone, zone-major."""

    units: tuple[str, ...]
    zones: tuple[str, ...]
    """Zones with a coefficient of their own."""
    reference: str
    """The zone whose factor is 1."""
    factors: tuple[str, ...] = ()
    levels: Floats | None = None
    """(F, V) value of each further factor at each of V combinations of levels."""

    @property
    def loading(self) -> Floats:
        """(C, K), C = zones x units (x levels), K = units, zones, further factors."""
        count = len(self.units)
        level = np.zeros((len(self.factors), 1)) if self.levels is None else self.levels
        rows = []
        for zone in ZONES:
            for unit in range(count):
                for column in level.T:
                    row = np.zeros(count + len(self.zones) + len(self.factors))
                    row[unit] = 1.0
                    if zone in self.zones:
                        row[count + self.zones.index(zone)] = 1.0
                    row[count + len(self.zones) :] = column
                    rows.append(row)
        return np.array(rows)

    @property
    def labels(self) -> tuple[str, ...]:
        return (*self.units, *(f"zone {zone}" for zone in self.zones), *self.factors)


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """The readings of one kind with the way back to lives and inspections."""

    readings: Readings
    life_index: dict[str, int]
    """Life id to the index used in ``readings.life``."""
    sources: tuple[tuple[Life, LifeReading], ...]
    """By row of ``readings``."""
    inspections: tuple[str, ...]
    """By the index used in ``readings.inspection``."""


def design_for(kind: str, zones: Sequence[str], units: tuple[str, ...]) -> Design:
    """Face is the reference; a kind without face tools takes the first zone it has."""
    present = [zone for zone in ZONES if zone in zones] or ["face"]
    reference = "face" if "face" in present else present[0]
    return Design(units=units, zones=tuple(zone for zone in present if zone != reference), reference=reference)


def usable(reading: LifeReading) -> bool:
    """Whether a reading says something of abrasion."""
    said = (reading.wear_mm, reading.below_mm, reading.above_mm)
    return bool(reading.sound) and any(value is not None and np.isfinite(value) for value in said)


def said(reading: LifeReading) -> tuple[float, int]:
    """Value and side of a usable reading: 0 a value, -1 below it, 1 above it."""
    if reading.wear_mm is not None:
        return reading.wear_mm, 0
    if reading.below_mm is not None:
        return reading.below_mm, -1
    assert reading.above_mm is not None  # usable: one of the three is there
    return reading.above_mm, 1


def _gauge(wheel: Wheel, reading: LifeReading) -> tuple[float, float]:
    """sd and step; of several points round a ring about half the error is each point's own."""
    gauge = gauging_of(wheel, reading.method)
    return float(gauge.sd_mm * np.sqrt(0.5 + 0.5 / max(reading.points, 1))), gauge.step_mm


def gather(
    lives: Sequence[Life],
    design: Design,
    wheel: Wheel,
    paths: Mapping[tuple[str, int], Floats] | None = None,
    steps: Mapping[str, float] | None = None,
) -> Gathered:
    """Readings of the lives as arrays.

    Parameters
    ----------
    paths : mapping, optional
        Path by column (C,) for (life id, index of the reading), where the design has further factors; without it the
        path by zone and unit that the reading carries.
    steps : mapping, optional
        Step of rounding by inspection, where the values show a coarser one than the method's.
    """
    rows: list[tuple] = []
    sources: list[tuple[Life, LifeReading]] = []
    ids: dict[str, int] = {}
    life_index: dict[str, int] = {}
    stops = np.array(sorted({r.driven_m for life in lives for r in life.readings if r.source == "inspection"}))

    def near_stop(driven_m: float) -> bool:
        return bool(len(stops)) and float(np.min(np.abs(stops - driven_m))) < 0.01

    for life in lives:
        for number, reading in enumerate(life.readings):
            if not usable(reading):
                continue
            value, side = said(reading)
            if reading.source == "inspection":
                sd, step = _gauge(wheel, reading)
                step = max(step, (steps or {}).get(reading.inspection_id or "", 0.0))
                shared = ids.setdefault(reading.inspection_id or f"at {reading.driven_m:.1f}", len(ids))
            else:
                sd, step, shared = SENSOR_SD_MM, 0.0, -1
                if reading.source == "sensor" and side > 0 and not near_stop(reading.driven_m):
                    # a line that reports while driving does so when the wear gets there; taken as a mere bound, the
                    # tools that report would speak for those that did not
                    side = 0
            path = np.ravel(reading.path_km_by_zone) if paths is None else paths[life.id, number]
            start = life.start_wear_mm or 0.0
            weight = FLAGGED_WEIGHT if reading.flagged else 1.0
            life_index.setdefault(life.id, len(life_index))
            doubt = reading.path_rel_sd, life.start_sd_mm
            rows.append((life_index[life.id], path, value - start, side, shared, sd, step, weight, *doubt))
            sources.append((life, reading))
    columns: list[tuple] = list(zip(*rows, strict=True)) or [()] * 10
    life_of, path_of, wear, side_of, inspection, sd_of, step_of, weight_of, path_sd, start_sd = columns
    readings = make_readings(
        life=life_of, path_km=np.reshape(path_of, (len(rows), len(design.loading))), wear_mm=wear, censored=side_of,
        inspection=inspection, sd_mm=sd_of, step_mm=step_of, weight=weight_of, path_rel_sd=path_sd,
        start_sd_mm=start_sd, loading=design.loading, labels=design.labels,
    )  # fmt: skip
    return Gathered(
        readings=readings,
        life_index=life_index,
        sources=tuple(sources[row] for row in readings.order),
        inspections=tuple(ids),
    )

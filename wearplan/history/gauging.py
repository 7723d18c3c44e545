"""How far a single reading may be off, by method."""

from __future__ import annotations

import math

from wearplan.site.records import Gauging, Wheel

UNSTATED = Gauging(method="unstated", sd_mm=1.0, step_mm=1.0)
"""Where the site says nothing of a method: a guess at common practice, editable under ``[gauging]``."""
SENSOR = Gauging(method="sensor", sd_mm=1.0, step_mm=0.0)
"""How far off a sensor's set wear may be, where the site says nothing of ``sensor``: a guess as well."""
FALL = 3.0
"""A reading may fall by so many standard deviations of the difference of two readings before it is doubted."""


def gauging_of(wheel: Wheel, method: str | None) -> Gauging:
    """Error and step of a method; of the site's coarsest method where none is stated or it is not listed."""
    for gauging in wheel.gauging:
        if gauging.method == method:
            return gauging
    if method == SENSOR.method:
        return SENSOR
    return max(wheel.gauging, key=lambda gauging: gauging.sd_mm, default=UNSTATED)


def reading_sd_mm(gauging: Gauging) -> float:
    """Error of one reading, rounding included (a step is spread evenly: sd step / sqrt 12)."""
    return math.hypot(gauging.sd_mm, gauging.step_mm / math.sqrt(12.0))


def allowed_fall_mm(one: Gauging, other: Gauging) -> float:
    """How much lower a later reading may be by error alone: `FALL` times the sd of the difference."""
    return FALL * math.hypot(reading_sd_mm(one), reading_sd_mm(other))

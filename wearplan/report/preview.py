"""What an inspection would write, and which of its readings look wrong. Asks; never alters, never refuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.history import allowed_fall_mm, gauging_of, reading_sd_mm
from wearplan.report.trouble import trouble_lines
from wearplan.report.words import chainage_text, plural
from wearplan.site.records import TROUBLE, Fitting, Inspection, Measurement, Site

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.wear import Outlook

OUTER = (0.005, 0.995)


@dataclass(frozen=True, slots=True, kw_only=True)
class Odd:
    """One reading that deserves a second look."""

    position: int
    code: str
    """``outside``, ``falling``, ``left over limit``, ``left in trouble`` or ``unknown place``."""
    what: str


def expected_band(
    site: Site, outlook: Outlook, position: int, method: str | None, *, levels: tuple[float, float] = OUTER
) -> tuple[float, float] | None:
    """Range of a reading now by that method; None where the place is not on the wheel or nothing is known of it."""
    if position not in outlook.numbers:
        return None
    index = int(np.flatnonzero(outlook.numbers == position)[0])
    sd = reading_sd_mm(gauging_of(site.wheel, method))
    wear = np.asarray(outlook.wear_now_mm[:, index], float)
    noise = np.random.default_rng(position).standard_normal((8, len(wear))) * sd
    low, high = np.quantile(wear + noise, levels)
    return max(float(low), 0.0), float(high)


def odd_readings(
    site: Site, inspection: Inspection, current: Mapping[int, Life], outlook: Outlook | None = None
) -> tuple[Odd, ...]:
    """Readings outside the 99 % band, falling wear, tools over their limit yet left.

    A correction is not held against the record it takes the place of.

    Parameters
    ----------
    current : mapping of int to Life
        The tools in place before this inspection.
    outlook : Outlook, optional
        Without it the band is not looked at.
    """
    fitted = {fitting.position for fitting in inspection.fittings}
    known = {place.number for place in site.wheel.positions}
    odd: list[Odd] = []
    for measurement in inspection.measurements:
        number = measurement.position
        if number not in known:
            odd.append(Odd(position=number, code="unknown place", what=f"there is no place {number} on the wheel"))
            continue
        odd += _value_oddities(site, measurement, current.get(number), outlook, inspection.corrects)
        limit = limit_of(site, number)
        worst = measurement.worst_mm if measurement.wear_above_mm is None else measurement.wear_above_mm
        if worst is not None and worst >= limit and number not in fitted:
            odd.append(
                Odd(
                    position=number,
                    code="left over limit",
                    what=f"{worst:g} mm, limit {limit:g} mm, and the tool stays",
                )
            )
        if measurement.condition in TROUBLE and number not in fitted:
            odd.append(
                Odd(position=number, code="left in trouble", what=f"{measurement.condition}, and the tool stays")
            )
    return tuple(odd)


def _value_oddities(
    site: Site, measurement: Measurement, life: Life | None, outlook: Outlook | None, replaced: str | None
) -> list[Odd]:
    low, high = _range_of(measurement)
    if (low is None and high is None) or measurement.condition in TROUBLE:
        return []
    said = _as_read(measurement)
    return [
        *_outside(site, measurement, outlook, said, low, high),
        *_falling(site, measurement, life, replaced, said, high),
    ]


def _outside(
    site: Site, measurement: Measurement, outlook: Outlook | None, said: str, low: float | None, high: float | None
) -> list[Odd]:
    """A reading that lies wholly beside what is expected now."""
    band = expected_band(site, outlook, measurement.position, measurement.method) if outlook is not None else None
    if not band or not ((high is not None and high < band[0]) or (low is not None and low > band[1])):
        return []
    what = f"{said}; expected {band[0]:.1f} to {band[1]:.1f} mm"
    return [Odd(position=measurement.position, code="outside", what=what)]


def _falling(
    site: Site, measurement: Measurement, life: Life | None, replaced: str | None, said: str, high: float | None
) -> list[Odd]:
    """A reading lower than the one before by more than the errors of both allow."""
    told = life.readings if life else ()
    last = next((r for r in reversed(told) if replaced is None or r.inspection_id != replaced), None)
    before = last.wear_mm if last and last.sound else None
    if before is None or high is None or high >= before:
        return []
    gauges = gauging_of(site.wheel, last.method if last else None), gauging_of(site.wheel, measurement.method)
    if before - high <= allowed_fall_mm(*gauges):
        return []
    return [Odd(position=measurement.position, code="falling", what=f"{said}, but {before:g} mm was read before")]


def _range_of(measurement: Measurement) -> tuple[float | None, float | None]:
    """Lowest and highest wear a reading stands for; None where it says nothing on that side."""
    if measurement.wear_below_mm is not None:
        return None, measurement.wear_below_mm
    if measurement.wear_above_mm is not None:
        return measurement.wear_above_mm, None
    return measurement.mean_mm, measurement.mean_mm


def _as_read(measurement: Measurement) -> str:
    if measurement.wear_below_mm is not None:
        return f"below {measurement.wear_below_mm:g} mm"
    if measurement.wear_above_mm is not None:
        return f"above {measurement.wear_above_mm:g} mm"
    return f"{measurement.mean_mm:g} mm"


def limit_of(site: Site, number: int) -> float:
    """Wear limit of a place: its own, or its tool type's."""
    return site.wheel.limit_mm(site.wheel.position(number))


def written(site: Site, inspection: Inspection) -> list[str]:
    """What would be written, in sentences."""
    total = len(site.wheel.positions)
    said = {m.position: m for m in inspection.measurements}
    unread = [m for m in said.values() if m.not_read]
    read = len(said) - len(unread)
    lines = [
        f"{read} of {plural(total, 'place')} read"
        + (f", {len(unread)} with a reason for not reading" if unread else "")
        + (f", {total - len(said)} not mentioned: NOT READ" if total > len(said) else "")
        + ".",
    ]
    if inspection.fittings:
        counts: dict[str, int] = {}
        for fitting in inspection.fittings:
            counts[fitting.action] = counts.get(fitting.action, 0) + 1
        lines.append("Fittings: " + ", ".join(f"{count} {action}" for action, count in counts.items()) + ".")
        lines.extend(fitting_line(fitting) for fitting in inspection.fittings)
    return lines


def fitting_line(fitting: Fitting) -> str:
    """One fitting to be read back against the paper: place, old and new serial, type, where the old one goes."""
    came = f" from {fitting.from_position}" if fitting.from_position is not None else ""
    off = fitting.old_serial or "no serial"
    to = f" to {fitting.old_to}" if fitting.old_to else ""
    on = " ".join(part for part in (fitting.new_serial, fitting.new_tool_type) if part)
    return f"{fitting.position:>4}  {fitting.action}{came}: off {off}{to}" + (f", on {on}" if on else "")


def before_writing(site: Site, inspection: Inspection) -> list[str]:
    """What to know before it is written: the same places already read at this ring; readings without a method."""
    lines = []
    positions = {m.position for m in inspection.measurements}
    for other in site.inspections:
        both = sorted(positions & {m.position for m in other.measurements})
        if other.ring == inspection.ring and other.id != inspection.corrects and both:
            lines.append(
                f"{other.id} is of ring {other.ring} too and has {plural(len(both), 'place')} of these: written as "
                "well, they count twice. If this takes its place, correct that record instead."
            )
    unstated = sum(m.method is None and _range_of(m) != (None, None) for m in inspection.measurements)
    if unstated:
        taken = gauging_of(site.wheel, None)
        lines.append(
            f"{plural(unstated, 'reading')} without a method: taken with the error of '{taken.method}' "
            f"(nine in ten within {1.645 * reading_sd_mm(taken):.1f} mm), so a slip smaller than that shows nowhere."
        )
    return lines


def what_it_means(
    site: Site, before: Outlook, after: Outlook, current: Mapping[int, Life] | None = None
) -> list[str]:
    """What a saved inspection changes at once: damaged tools that stay, those at their limit before the next window.

    Parameters
    ----------
    current : mapping of int to Life, optional
        The tools in place now; without it nothing is said of damage.
    """
    doubted = [*trouble_lines(current or {}), *doubted_lines(site, after)]
    windows = [window for window in (site.stops.windows if site.stops else ()) if window.to_m > after.face_m]
    if not windows:
        return [*doubted, "No window lies ahead."]
    upto = min(max(windows[0].from_m, after.face_m), after.end_m)
    was, now = (outlook.over_limit_probability(upto) > 0.5 for outlook in (before, after))
    numbers = [int(n) for n in after.numbers[now]]
    fresh = sorted(set(numbers) - {int(n) for n in before.numbers[was]})
    name = windows[0].name
    if not numbers:
        return [*doubted, f"No tool is more likely than not past its limit before {name}."]
    listing = ", ".join(map(str, numbers))
    lines = [*doubted, f"{plural(len(numbers), 'tool')} more likely than not past the limit before {name}: {listing}."]
    if fresh:
        lines.append(f"New by this inspection: {', '.join(map(str, fresh))}.")
    return lines


def doubted_lines(site: Site, outlook: Outlook) -> list[str]:
    """A sentence for each tool read over its limit that the estimate holds to be under it."""
    return [
        f"Place {number} was read at {mm:g} mm, over its limit of {limit:g} mm, at "
        f"{chainage_text(site.drive.chainage_m(driven_m))} and stays; other readings speak against it, so the estimate "
        "holds it to be under: look again, or correct the record."
        for number, mm, limit, driven_m in outlook.doubted_over_limit
    ]

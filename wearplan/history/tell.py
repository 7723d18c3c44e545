"""The life of a tool or of a place, told record by record."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from wearplan.history.exposure import Exposure, measure_exposure
from wearplan.history.lives import in_order
from wearplan.history.lives import lives as all_lives
from wearplan.history.records import Life, Reading, Stint
from wearplan.site.records import Fitting, Inspection, Measurement, Origin, SensorWord, Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One record in a life."""

    driven_m: float
    chainage_m: float
    ring: int | None
    at: datetime | None
    position: int
    what: str
    """``put on``, ``moved``, ``taken off``, ``read``, ``not read``, ``sensor``, ``damaged record``,
    ``replaced record``"""
    text: str
    inspection_id: str | None = None
    path_km: float | None = None
    """Boring path since the life's start, where it was read."""
    wear_mm: float | None = None
    origin: Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """One life with its records."""

    life: Life
    heading: str
    lines: tuple[Line, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """All lives of one serial, or all that stood at one place."""

    title: str
    serial: str | None
    position: int | None
    chapters: tuple[Chapter, ...]
    others: tuple[Line, ...] = ()
    """Records of a place that belong to no life on record, as after a damaged fitting."""

    @property
    def rests_on(self) -> tuple[Origin, ...]:
        """Every record used, once, in order."""
        lines = [*(line for chapter in self.chapters for line in chapter.lines), *self.others]
        origins = (line.origin for line in lines)
        return tuple(dict.fromkeys(origin for origin in origins if origin.file))


def tell_life(
    site: Site,
    *,
    serial: str | None = None,
    position: int | None = None,
    lives: Iterable[Life] | None = None,
    exposure: Exposure | None = None,
) -> Account:
    """Tell the life of a tool by its serial, or of a place by its number.

    Raises
    ------
    LookupError
        If no record names that serial or the wheel has no such place; the message names what comes near.
    ValueError
        Unless exactly one of ``serial`` and ``position`` is given.
    """
    if (serial is None) == (position is None):
        raise ValueError("give either a serial or a position")
    exposure = exposure if exposure is not None else measure_exposure(site)
    found = tuple(lives) if lives is not None else all_lives(site, exposure)
    if serial is not None:
        chosen = [life for life in found if life.serial == serial]
        if not chosen:
            known = sorted({life.serial for life in found if life.serial})
            near = difflib.get_close_matches(serial, known, n=3)
            hint = f"; near it: {', '.join(near)}" if near else ""
            raise LookupError(f"no record names a tool {serial}{hint}")
        title = f"tool {serial}"
    else:
        numbers = [each.number for each in site.wheel.positions]
        if position not in numbers:
            raise LookupError(f"the wheel has no position {position}; it has {min(numbers)} to {max(numbers)}")
        chosen = [life for life in found if any(stint.position == position for stint in life.stints)]
        title = f"place {position}"
    chosen.sort(key=lambda life: next(s.from_m for s in life.stints if position in (None, s.position)))
    chapters = tuple(_chapter(site, life, position) for life in chosen)
    others = tuple(_untold(site, position, chapters)) if position is not None else ()
    return Account(title=title, serial=serial, position=position, chapters=chapters, others=others)


def _untold(site: Site, position: int, chapters: tuple[Chapter, ...]) -> Iterator[Line]:
    told = {line.inspection_id for chapter in chapters for line in chapter.lines if line.what in _MEASURED}
    for inspection in in_order(site.inspections):
        here = _Here(site, inspection.driven_m, inspection.ring, inspection.started_at, inspection.id)
        for measurement in inspection.measurements:
            if measurement.position == position and inspection.id not in told:
                yield _measured(here, measurement, None)


def _chapter(site: Site, life: Life, position: int | None) -> Chapter:
    stints = [stint for stint in life.stints if position in (None, stint.position)]
    lines: list[Line] = []
    for stint in stints:
        lines += sorted(_lines(site, life, stint), key=lambda line: (line.driven_m, _ORDER.index(line.what)))
    name = life.serial or "without a serial on record"
    where = " then ".join(str(stint.position) for stint in life.stints)
    state = "on the wheel" if life.open else f"ended: {life.ended}"
    ring = f", rebuilt {life.rebuilds} times" if life.rebuilds > 1 else ", rebuilt once" if life.rebuilds else ""
    heading = f"{life.tool_type} {name}{ring}, at {where}; {state}"
    return Chapter(life=life, heading=heading, lines=tuple(lines), remarks=tuple(_remarks(site, life)))


_MEASURED = ("read", "not read", "damaged record")
_ORDER = ("put on", "sensor", "replaced record", "damaged record", "read", "not read", "moved", "taken off")


def _remarks(site: Site, life: Life) -> Iterator[str]:
    yield from life.notes
    if life.trouble_from_m is not None:
        after = life.trouble_after_m if life.trouble_after_m is not None else life.from_m
        yield (
            f"{life.trouble_condition} seen at {_at(site, life.trouble_from_m)}, begun after "
            f"{_at(site, after)}; readings from then on say nothing of abrasion"
        )
    if life.unknown_from_m is not None and life.open:
        yield f"unknown from {_at(site, life.unknown_from_m)} on: a record there is damaged or missing"
    before = life.hub_path_km - float(life.path_km.sum()) - life.idle_km
    if before > 0.05:
        yield f"its hub has run {life.hub_path_km:.0f} km, {before:.0f} km of it under earlier rings"


def _at(site: Site, driven_m: float) -> str:
    chainage_m = round(site.drive.chainage_m(driven_m), 1)
    whole, rest = divmod(abs(chainage_m), 1000)
    return f"{'-' if chainage_m < 0 else ''}{int(whole)}+{rest:05.1f}"


def _lines(site: Site, life: Life, stint: Stint) -> Iterator[Line]:
    """Every record about one stint of a life."""
    yield from _initial(site, life, stint)
    for inspection in in_order(site.inspections):
        here = _Here(site, inspection.driven_m, inspection.ring, inspection.started_at, inspection.id)
        for measurement in inspection.measurements:
            if measurement.position == stint.position:
                reading = _reading_of(life, inspection, measurement)
                if reading is not None or _within(stint, life, inspection.driven_m):
                    yield _measured(here, measurement, reading)
        for fitting in inspection.fittings:
            yield from _fitted(here, life, stint, fitting)
    for old in in_order(site.corrected):
        yield from _replaced(site, stint, life, old)
    for word in site.sensor_words:
        if word.position == stint.position and _within(stint, life, word.driven_m):
            yield _heard(site, word)


@dataclass(frozen=True, slots=True)
class _Here:
    """Where and when an inspection was."""

    site: Site
    driven_m: float
    ring: int | None
    at: datetime | None
    inspection_id: str | None

    def line(
        self,
        what: str,
        text: str,
        position: int,
        origin: Origin,
        *,
        path_km: float | None = None,
        wear_mm: float | None = None,
    ) -> Line:
        return Line(
            driven_m=self.driven_m,
            chainage_m=self.site.drive.chainage_m(self.driven_m),
            ring=self.ring,
            at=self.at,
            position=position,
            what=what,
            text=text,
            inspection_id=self.inspection_id,
            path_km=path_km,
            wear_mm=wear_mm,
            origin=origin,
        )


def _within(stint: Stint, life: Life, driven_m: float) -> bool:
    """Records at the face where a tool was put on are about the one before it."""
    until = stint.to_m if stint.to_m is not None else float("inf")
    return stint.from_m < driven_m <= until + 1e-9


def _initial(site: Site, life: Life, stint: Stint) -> Iterator[Line]:
    if stint is life.stints[0] and stint.from_m == 0.0 and life.fitted_by is None:
        here = _Here(site, 0.0, None, None, None)
        origin = site.wheel.position(stint.position).origin
        yield here.line("put on", "on the wheel when the drive began, taken as new", stint.position, origin)


def _reading_of(life: Life, inspection: Inspection, measurement: Measurement) -> Reading | None:
    for reading in life.readings:
        same = reading.inspection_id == inspection.id and reading.position == measurement.position
        if same and reading.source == "inspection":
            return reading
    return None


def value_words(measurement: Measurement) -> str:
    """``9.5 mm``, ``below 1.0 mm``, ``over 25.0 mm``, several points, or why it was not read."""
    if measurement.points_mm:
        points = " ".join(f"{point:.1f}" for point in measurement.points_mm)
        return f"{measurement.mean_mm:.1f} mm in the mean of {points}, worst {measurement.worst_mm:.1f} mm"
    if measurement.wear_mm is not None:
        return f"{measurement.wear_mm:.1f} mm"
    if measurement.wear_below_mm is not None:
        return f"below {measurement.wear_below_mm:.1f} mm"
    if measurement.wear_above_mm is not None:
        return f"over {measurement.wear_above_mm:.1f} mm"
    return measurement.not_read or "no value"


def _measured(here: _Here, measurement: Measurement, reading: Reading | None) -> Line:
    facts = [fact for fact in (measurement.method, measurement.condition, measurement.serial) if fact]
    text = value_words(measurement) + (f" ({', '.join(facts)})" if facts else "")
    if measurement.damaged:
        text = f"{measurement.damaged}: the place is unknown from here until it is read again"
        return here.line("damaged record", text, measurement.position, measurement.origin)
    if reading is not None and reading.flagged:
        text += f"; doubted: {reading.flagged}"
    if reading is not None and not reading.sound:
        text += "; after a trouble, says nothing of abrasion"
    if measurement.note:
        text += f"; {measurement.note}"
    path = float(reading.path_km.sum()) if reading is not None else None
    what = "read" if reading is not None else "not read"
    return here.line(what, text, measurement.position, measurement.origin, path_km=path, wear_mm=measurement.mean_mm)


def _fitted(here: _Here, life: Life, stint: Stint, fitting: Fitting) -> Iterator[Line]:
    touches = stint.position in (fitting.position, fitting.from_position)
    if not touches:
        return
    if fitting.damaged:
        if _within(stint, life, here.driven_m):
            text = f"{fitting.damaged}: what stands here is unknown from here on"
            yield here.line("damaged record", text, stint.position, fitting.origin)
        return
    if abs(here.driven_m - stint.from_m) < 1e-9 and stint.from_m > 0:
        yield here.line(*_put_on(life, stint, fitting), stint.position, fitting.origin)
    if stint.to_m is not None and abs(here.driven_m - stint.to_m) < 1e-9:
        last = stint is life.stints[-1]
        what = "taken off" if last else "moved"
        reason = f" ({fitting.reason})" if fitting.reason else ""
        to = f", to {fitting.old_to}" if fitting.old_to and fitting.position == stint.position else ""
        if last:
            text = f"{fitting.action}{reason}{to}"
        else:
            text = f"{fitting.action}{reason} to {life.stints[life.stints.index(stint) + 1].position}"
        yield here.line(what, text, stint.position, fitting.origin)


def _put_on(life: Life, stint: Stint, fitting: Fitting) -> tuple[str, str]:
    if stint is not life.stints[0]:
        return "put on", f"{fitting.action} from {life.stints[life.stints.index(stint) - 1].position}"
    worn = f"at {life.start_wear_mm:.1f} mm" if life.start_wear_mm else "new" if not life.rebuilds else "rebuilt"
    return "put on", f"{fitting.action}: {life.tool_type} {life.serial or 'without a serial'} put on {worn}"


def _replaced(site: Site, stint: Stint, life: Life, old: Inspection) -> Iterator[Line]:
    by = next((each for each in (*site.inspections, *site.corrected) if each.corrects == old.id), None)
    after = f"; replaced by {by.id}: {by.reason or 'no reason given'}" if by is not None else "; replaced"
    here = _Here(site, old.driven_m, old.ring, old.started_at, old.id)
    if not _within(stint, life, old.driven_m):
        return
    for measurement in old.measurements:
        if measurement.position == stint.position:
            text = f"first written as {value_words(measurement)}{after}"
            yield here.line("replaced record", text, stint.position, measurement.origin)
    for fitting in old.fittings:
        if fitting.position == stint.position:
            text = f"first written as {fitting.action} ({fitting.reason or 'no reason'}){after}"
            yield here.line("replaced record", text, stint.position, fitting.origin)


def _heard(site: Site, word: SensorWord) -> Line:
    said = "line proved live" if word.reported_mm is None else f"reported {word.reported_mm:.1f} mm"
    here = _Here(site, word.driven_m, word.ring, word.at, None)
    return here.line("sensor", f"the sensor's {said}" if word.reported_mm is None else f"the sensor {said}",
                     word.position, word.origin)  # fmt: skip

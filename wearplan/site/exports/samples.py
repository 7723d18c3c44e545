"""Raw samples reduced to rings: how often the wheel turned while boring and while not, and under what thrust.

A sample counts for the time to the one before it. Boring is turning while the face advances; the rest of the turning
is idle. Nothing is assumed across a gap: a ring with a gap in its advance keeps its place and loses its turns, which
its neighbours then lend with more doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wearplan.site.exports.mapping import MappingFile, SampleTable
from wearplan.site.exports.rings import RingsRead
from wearplan.site.exports.sample_files import Floats, Samples, read_sample_files
from wearplan.site.exports.sample_place import rings_and_place
from wearplan.site.parse.delimited import zone
from wearplan.site.parse.faults import FaultLog
from wearplan.site.records import Drive, Origin, RingRow

_LOST_SHARE = 0.02
_WHOLE_SHARE = 0.95
_JOINED_M = 0.1
"""A first sample so near to the end of the ring before begins where that ended."""


def read_samples(
    paths: Path | Sequence[Path],
    mapping: MappingFile,
    drive: Drive,
    *,
    known_ends: Mapping[int, float] | None = None,
    progress: Callable[[int], None] | None = None,
) -> RingsRead:
    """Ring rows out of raw samples.

    Parameters
    ----------
    paths : Path or sequence of Path
        Files of one form; a ring may begin in one and end in the next.
    known_ends : mapping, optional
        Chainage at the end of rings already logged, by number: where the samples' own place is only a stroke, the ring
        before the first one says where that began.
    progress : callable, optional
        Is told the rows read so far.

    Returns
    -------
    RingsRead
        Whole rings only; the unfinished ones at both ends are named in ``remarks``.
    """
    log = FaultLog()
    paths = [paths] if isinstance(paths, Path) else list(paths)
    file = paths[0].name if paths else ""
    if mapping.samples is None or not paths:
        log.add(file, 1, "", "[samples] is missing in the mapping", code="missing-key")
        return RingsRead(rows=(), faults=log.faults())
    samples = read_sample_files(paths, mapping, log, progress)
    if samples is None:
        return RingsRead(rows=(), faults=log.faults())
    if len(samples) < 2:
        log.add(file, 1, "", "holds fewer than two samples", code="too-few")
        return RingsRead(rows=(), faults=log.faults())
    try:
        rows, remarks = reduce_samples(samples, drive, mapping.sampling, known_ends=known_ends or {}, file=file)
    except ValueError as error:
        log.add(file, 1, "", str(error), code="no-place")
        return RingsRead(rows=(), faults=log.faults())
    return RingsRead(rows=rows, faults=log.faults(), remarks=remarks)


def reduce_samples(
    samples: Samples,
    drive: Drive,
    sampling: SampleTable,
    *,
    known_ends: Mapping[int, float],
    file: str = "",
) -> tuple[tuple[RingRow, ...], tuple[str, ...]]:
    """Rings out of samples held in arrays.

    Returns
    -------
    rows, remarks
        Whole rings by number; what was left out or empty, and why.

    Raises
    ------
    ValueError
        If nothing says where the first ring began.
    """
    columns = dict(samples.columns)
    ring, driven = rings_and_place(columns, drive, sampling, known_ends)
    step_s = np.diff(samples.time_s, prepend=samples.time_s[0])
    held = (step_s > 0) & (step_s <= sampling.longest_gap_s)
    speed = np.abs(columns["rotation_rpm"])
    speed = np.where(speed < sampling.least_rotation_rpm, 0.0, speed)
    mean_speed = 0.5 * (speed + np.concatenate((speed[:1], speed[:-1])))
    known = held & np.isfinite(mean_speed)
    turns = np.where(known, mean_speed * step_s / 60.0, 0.0)
    advance = np.diff(driven, prepend=driven[0])
    boring = known & _advances(advance, step_s, sampling)
    if sampling.least_thrust_kn is not None and "thrust_kn" in columns:
        boring &= np.nan_to_num(columns["thrust_kn"]) >= sampling.least_thrust_kn
    numbers, first = np.unique(ring, return_index=True)
    place = np.searchsorted(numbers, ring)

    def sums(weights: Floats) -> Floats:
        return np.bincount(place, weights=weights, minlength=len(numbers)).astype(np.float64)

    measured = sums(advance)
    lost = sums(np.where(known, 0.0, advance))
    boring_turns = sums(np.where(boring, turns, 0.0))
    idle_turns = sums(np.where(boring, 0.0, turns))
    ccw_share = _ccw_share(columns["rotation_rpm"], turns, sums, sampling)
    ends = np.full(len(numbers), -np.inf)
    np.maximum.at(ends, place, driven)
    ends = np.maximum.accumulate(ends)
    begins = drive.driven_m(known_ends[numbers[0] - 1], near_m=driven[0]) if numbers[0] - 1 in known_ends else driven[0]
    starts = np.concatenate(([begins if abs(begins - driven[0]) < _JOINED_M else driven[0]], ends[:-1]))
    last_bored = np.full(len(numbers), -1)
    np.maximum.at(last_bored, place[boring], np.flatnonzero(boring))
    means = {
        name: _means(columns[name], np.where(boring, step_s, 0.0), sums)
        for name in ("thrust_kn", "torque_knm", "face_pressure_bar")
        if name in columns
    }
    rows, remarks = [], []
    for at, number in enumerate(numbers.tolist()):
        if at in (0, len(numbers) - 1) and measured[at] < _WHOLE_SHARE * drive.ring_length_m:
            if measured[at] > 0.005:
                remarks.append(
                    f"ring {number} is not whole in these samples ({measured[at]:.2f} m of it); it was left out."
                )
            continue
        gap = lost[at] > _LOST_SHARE * max(measured[at], 1e-6)
        if gap:
            remarks.append(
                f"ring {number}: samples are missing over {lost[at]:.2f} m of its advance; its turns are left empty."
            )
        rows.append(
            RingRow(
                ring=number,
                start_chainage_m=round(drive.chainage_m(float(starts[at])), 3),
                end_chainage_m=round(drive.chainage_m(float(ends[at])), 3),
                start_m=float(starts[at]),
                end_m=float(ends[at]),
                finished_at=_clock(samples, last_bored[at]) if last_bored[at] >= 0 else None,
                revolutions_boring=None if gap else _rounded(boring_turns[at], 2),
                revolutions_idle=None if gap else _rounded(idle_turns[at], 2),
                revolutions_ccw_share=None if gap or ccw_share is None else _rounded(ccw_share[at], 4),
                **{name: _rounded(values[at], 3) for name, values in means.items()},  # type: ignore[arg-type]
                origin=Origin(file, int(first[at]) + 1),
            )
        )
    return tuple(rows), tuple(remarks)


def _advances(advance: Floats, step_s: Floats, sampling: SampleTable) -> NDArray[np.bool_]:
    """Whether the face advances at each sample.

    A log in millimetres or centimetres rises in steps: between one rise and the next the face advances at their rate,
    or stands if that rate is below the least one.
    """
    rises = np.flatnonzero(advance > 0)
    if not len(rises):
        return np.zeros(len(advance), dtype=bool)
    clock = np.cumsum(np.maximum(step_s, 0.0))
    before = np.concatenate(([0], rises[:-1]))
    took = np.maximum(clock[rises] - clock[before], 1e-9)
    rate = np.append(advance[rises] * 1000.0 / (took / 60.0), 0.0)
    return rate[np.searchsorted(rises, np.arange(len(advance)))] >= max(sampling.least_advance_mm_per_min, 1e-9)


def _ccw_share(
    rotation_rpm: Floats, turns: Floats, sums: Callable[[Floats], Floats], sampling: SampleTable
) -> Floats | None:
    if sampling.ccw == "not told" or not (rotation_rpm < 0).any():
        return None
    ccw = rotation_rpm < 0 if sampling.ccw == "negative" else rotation_rpm > 0
    total = sums(turns)
    return np.where(total > 0, sums(np.where(ccw, turns, 0.0)) / np.maximum(total, 1e-12), np.nan)


def _means(values: Floats, weights: Floats, sums: Callable[[Floats], Floats]) -> Floats:
    told = np.isfinite(values)
    weight = sums(np.where(told, weights, 0.0))
    total = sums(np.where(told, values, 0.0) * weights)
    return np.where(weight > 0, total / np.maximum(weight, 1e-12), np.nan)


def _rounded(value: float, digits: int) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None


def _clock(samples: Samples, at: int) -> datetime:
    moment = datetime.fromtimestamp(round(float(samples.time_s[at])), UTC).replace(tzinfo=None)
    return moment.replace(tzinfo=zone(samples.offset)) if samples.offset else moment

"""Where the face stood and which ring was bored at each sample."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from wearplan.site.exports.mapping import SampleTable
from wearplan.site.records import Drive

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_SPIKE_M = 0.25
_NOMINAL_WITHIN = 0.05
"""A ring whose measured advance is within this share of the ring length is taken to be just as long as that."""


def rings_and_place(
    columns: Mapping[str, Floats], drive: Drive, sampling: SampleTable, known_ends: Mapping[int, float]
) -> tuple[Ints, Floats]:
    """Ring number and driven metres of the face at each sample; the place never runs back.

    Raises
    ------
    ValueError
        If nothing says which ring was the first, or where it began.
    """
    if "chainage_m" in columns:
        return _by_chainage(columns, drive, sampling, known_ends)
    stroke = _without_spikes(_filled(columns["stroke_m"]), _SPIKE_M)
    own = _by_returns(stroke)
    inside = _stroke_inside(stroke, own)
    count = int(own[-1]) + 1
    heads = np.searchsorted(own, np.arange(count))
    lengths = np.maximum.reduceat(inside, heads)
    near = np.abs(lengths - drive.ring_length_m) <= _NOMINAL_WITHIN * drive.ring_length_m
    nominal = np.where(near, drive.ring_length_m, lengths)
    inside = inside * (nominal / np.maximum(lengths, 1e-9))[own]
    if "ring" in columns:
        numbers = _told_numbers(_filled(_without_spikes(columns["ring"], 0.5)), inside, heads)
    elif sampling.first_ring is not None:
        numbers = sampling.first_ring + np.arange(count)
    else:
        raise ValueError("the samples carry no ring number: give first_ring under [sampling]")
    first = int(numbers[0])
    if sampling.first_start_chainage_m is not None:
        start_m = drive.driven_m(sampling.first_start_chainage_m)
    elif first - 1 in known_ends:
        start_m = drive.driven_m(known_ends[first - 1])
    else:
        raise ValueError(
            f"the samples say a stroke but not where ring {first} began: give first_start_chainage_m under [sampling]"
        )
    before = np.concatenate(([0.0], np.cumsum(nominal)[:-1]))
    return numbers[own], np.maximum.accumulate(start_m + before[own] + inside)


def _by_chainage(
    columns: Mapping[str, Floats], drive: Drive, sampling: SampleTable, known_ends: Mapping[int, float]
) -> tuple[Ints, Floats]:
    driven = np.maximum.accumulate(_without_spikes(_filled(_driven(columns["chainage_m"], drive)), _SPIKE_M))
    if "ring" in columns:
        return _filled(_without_spikes(columns["ring"], 0.5)).astype(np.int64), driven
    first, start_m = _anchor(drive, sampling, known_ends, float(driven[0]))
    # a face that stands on a ring's edge has finished that ring; a tenth of a millimetre is no advance
    past = np.ceil((driven - start_m) / drive.ring_length_m - 1e-4).astype(np.int64) - 1
    return first + np.maximum(past, 0) if driven[0] >= start_m - 1e-4 else first + past, driven


def _told_numbers(ring: Floats, inside: Floats, heads: Ints) -> Ints:
    """The number each ring went by while it was half bored; a count that stands still goes on by one."""
    ends = np.append(heads[1:], len(inside))
    numbers = []
    for head, end in zip(heads, ends, strict=True):
        part = inside[head:end]
        numbers.append(int(ring[head + int(np.argmax(part >= 0.5 * part.max()))]))
    return np.array(numbers)


def _anchor(drive: Drive, sampling: SampleTable, known_ends: Mapping[int, float], begins_m: float) -> tuple[int, float]:
    """Number and start of a ring from which the others are counted."""
    if sampling.first_ring is not None:
        start = sampling.first_start_chainage_m
        return sampling.first_ring, drive.driven_m(start) if start is not None else begins_m
    ends = {number: drive.driven_m(end, near_m=begins_m) for number, end in known_ends.items()}
    before = [number for number, end_m in ends.items() if end_m <= begins_m + drive.ring_length_m]
    if not before:
        raise ValueError("the samples carry no ring number: give first_ring under [sampling]")
    last = max(before, key=lambda number: ends[number])
    return last + 1, ends[last]


def _driven(chainage_m: Floats, drive: Drive) -> Floats:
    """Driven metres of chainages; where an equation makes one occur twice, the one that goes on from before."""
    if not drive.equations:
        return drive.sign * (chainage_m - drive.start_chainage_m)
    values, back = np.unique(chainage_m, return_inverse=True)
    plain = np.array([drive.driven_m(float(value)) if np.isfinite(value) else np.nan for value in values])
    driven = plain[back]
    jumps = np.flatnonzero(np.abs(np.diff(driven)) > 1.0)
    if len(jumps):
        near = float(driven[0])
        for at, value in enumerate(chainage_m):
            if np.isfinite(value):
                driven[at] = near = drive.driven_m(float(value), near_m=near)
    return driven


def _by_returns(stroke: Floats) -> Ints:
    """Count of the stroke's returns so far: each from well extended to well drawn in."""
    low, high = np.quantile(stroke, (0.02, 0.98))
    side = np.where(stroke > low + 0.7 * (high - low), 1, np.where(stroke < low + 0.3 * (high - low), -1, 0))
    told = np.flatnonzero(side)
    returned = told[1:][(side[told[1:]] == -1) & (side[told[:-1]] == 1)]
    marks = np.zeros(len(stroke), dtype=np.int64)
    marks[returned] = 1
    return np.cumsum(marks)


def _stroke_inside(stroke: Floats, own: Ints) -> Floats:
    """Advance since the ring's lowest stroke before its highest, never running back."""
    heads = np.searchsorted(own, np.arange(int(own[-1]) + 1))
    index = np.arange(len(stroke))

    def first_at(reached: NDArray[np.bool_]) -> Ints:
        return np.minimum.reduceat(np.where(reached, index, len(stroke)), heads)

    highest = np.maximum.reduceat(stroke, heads)
    first_high = first_at(stroke >= highest[own] - 1e-9)
    rising = np.where(index <= first_high[own], stroke, np.inf)
    lowest = np.minimum.reduceat(rising, heads)
    first_low = first_at(rising <= lowest[own] + 1e-9)
    inside = np.where(index < first_low[own], 0.0, np.maximum(stroke - lowest[own], 0.0))
    apart = own * 1e3
    return np.asarray(np.maximum.accumulate(inside + apart) - apart)


def _filled(values: Floats) -> Floats:
    """Each missing value as the one before it (at the start, the first one known)."""
    known = np.isfinite(values)
    if known.all():
        return values
    if not known.any():
        raise ValueError("a column the rings are made of holds no number")
    at = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    return values[np.where(at < 0, int(np.argmax(known)), at)]


def _without_spikes(values: Floats, most: float) -> Floats:
    """Values with those that stand off from the median of five by more than ``most`` replaced by it."""
    if len(values) < 5:
        return values
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, 2, mode="edge"), 5)
    middle = np.sort(windows, axis=1)[:, 2]
    return np.where(np.abs(values - middle) > most, middle, values)

"""The last places where one may still stop before a long stretch without windows."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from wearplan.plan.model.exact import Model
from wearplan.plan.records import LastStop
from wearplan.plan.words import at

_LONG_AGAINST_MEDIAN = 2.0
_LEAST_M = 30.0


def last_stops(model: Model, planned: tuple[int, ...]) -> tuple[LastStop, ...]:
    """Stretches between usable windows that hold a keep-out or are long for this drive, with the window before each.

    Long: at least twice the middle stretch between windows ahead, and over 30 m.
    """
    cands, ahead = model.cands, model.ahead
    if not len(cands):
        return ()
    points = [*((float(cands.driven_m[n]), int(cands.window[n])) for n in cands.stops), (ahead.end_m, None)]
    gaps = [
        (low, high, cands.terms[w].window.name, None if after is None else cands.terms[after].window.name)
        for (low, w), (high, after) in pairwise(points)
        if w is not None and w != after
    ]
    lengths = np.array([high - low for low, high, *_ in gaps])
    middle = float(np.median(lengths)) if len(lengths) else 0.0
    keep_outs = ahead.site.stops.keep_outs if ahead.site.stops else ()
    used = {cands.term(n).window.name for n in planned}
    found = []
    for low, high, name, after in gaps:
        held = [k.reason for k in keep_outs if k.from_m < high and k.to_m > low]
        long = high - low >= max(_LEAST_M, _LONG_AGAINST_MEDIAN * middle) and len(gaps) > 1 and after is not None
        if not held and not long:
            continue
        because = ", ".join(dict.fromkeys(held)) if held else "no usable window"
        found.append(
            LastStop(
                driven_m=low,
                chainage_m=ahead.chainage_m(low),
                window=name,
                next_m=high,
                next_chainage_m=ahead.chainage_m(high),
                next_window=after,
                length_m=high - low,
                because=because,
                planned=name in used,
            )
        )
    return tuple(found)


def last_sentence(last: LastStop) -> str:
    """Said at the stop, or in the plan's remarks where it does not stop there."""
    onward = "the end of the drive" if last.next_window is None else f"{last.next_window} at {at(last.next_chainage_m)}"
    return (
        f"{last.window} ({at(last.chainage_m)}) is the last place to stop before {last.length_m:.0f} m without a "
        f"window "
        f"({last.because}): the next is {onward}."
    )

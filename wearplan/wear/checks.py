"""What is odd: readings, crews and stretches that depart from the model."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .results import Fit, Flag


def find_oddities(fit: Fit) -> tuple[tuple[str, ...], tuple[Flag, ...]]:
    """Remarks in words and flagged readings."""
    from .fit import flag_words
    from .results import Flag

    remarks: list[str] = []
    flags: list[Flag] = []
    for kind, one in fit.by_kind.items():
        for a, b in one.confounded:
            remarks.append(f"{kind}s: {a} and {b} were nearly always met together; their rates are hardly told apart and doubtful")
        readings = one.gathered.readings
        for row in np.flatnonzero(readings.weight < 1.0):
            _, source = one.gathered.sources[row]
            odd = float(one.posterior.odd[row])
            what = source.flagged or flag_words(odd, int(readings.censored[row]))
            flags.append(Flag(inspection_id=source.inspection_id or source.source, position=source.position, what=what))
    return tuple(remarks), tuple(flags)

"""How kept forecasts did against what was used since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wearplan.demand.hindsight import used_since
from wearplan.demand.memory.kept import Kept
from wearplan.site.records import Site
from wearplan.wear.quantiles import Quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptScore:
    """One type of one kept forecast, from its face to today's."""

    made_on: str
    tool_type: str
    foretold: Quantiles
    used: int

    @property
    def inside(self) -> bool:
        """Whether the 90 % band holds what was used."""
        return bool((self.foretold.p05 or 0) <= self.used <= (self.foretold.p95 or 0))


def scores(site: Site, kepts: Iterable[Kept], *, face_m: float) -> tuple[KeptScore, ...]:
    """Use foretold by each kept forecast up to today's face against tools fitted since; rows with neither left out."""
    out = []
    for kept in kepts:
        passed = [k for k, stop in enumerate(kept.stops) if stop.driven_m < face_m - 1.0]
        used = used_since(site, kept.face_m)
        for code in sorted(kept.types):
            counts = kept.use.get(f"counts:{code}")
            told = np.zeros(1) if counts is None or not passed else counts[:, passed].sum(axis=1)
            if not told.any() and not used.get(code):
                continue
            out.append(
                KeptScore(
                    made_on=kept.made_on.isoformat(), tool_type=code, foretold=Quantiles.of(told),
                    used=used.get(code, 0),
                )
            )  # fmt: skip
    return tuple(out)

"""What the store of a simulated drive holds at the face and what its suppliers ask: drawn from the drive's seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from wearplan.site.records import ToolType


@dataclass(frozen=True, kw_only=True)
class Coming:
    """An order on the way: so many, due on a day give or take, and truly coming on another."""

    quantity: int
    due: date
    due_doubt_days: float
    comes: date


@dataclass(frozen=True, kw_only=True)
class Held:
    """One type: what lies there and what a supplier asks."""

    on_hand: int
    in_rebuild: int
    coming: tuple[Coming, ...]
    lead_time_days: float
    hurry_days: float
    minimum: int
    multiple: int


def storehouse(seed: int, types: Mapping[str, ToolType], places: Mapping[str, int], today: date) -> dict[str, Held]:
    """By type; ``places`` is the number of places that carry the type, which stock is drawn against."""
    out: dict[str, Held] = {}
    for number, (code, kind) in enumerate(types.items()):
        rng = np.random.default_rng([seed, 77, number])
        carried = max(1, places.get(code, 1))
        coming = []
        if rng.random() < 0.5:
            due = today + timedelta(days=int(rng.integers(5, 70)))
            doubt = float(rng.choice([0.0, 5.0, 10.0]))
            late = round(doubt * float(rng.normal()))
            comes = max(due + timedelta(days=late), today + timedelta(days=1))
            coming.append(
                Coming(quantity=int(rng.integers(1, 1 + max(2, carried))), due=due, due_doubt_days=doubt, comes=comes)
            )
        lead = float(rng.integers(15, 110))
        out[code] = Held(
            on_hand=int(rng.integers(0, 1 + max(2, carried // 2))),
            in_rebuild=int(rng.integers(0, 1 + carried // 6)) if kind.rebuild_price else 0,
            coming=tuple(coming),
            lead_time_days=lead,
            hurry_days=float(max(4, round(lead * float(rng.uniform(0.15, 0.35))))),
            minimum=int(rng.choice([1, 1, 1, 4, 6])),
            multiple=int(rng.choice([1, 1, 1, 2])),
        )
    return out

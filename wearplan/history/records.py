"""A tool's life as derived from measurements, fittings and sensor words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.site.records import NOWHERE, Origin

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stint:
    """A tool at one position; ``to_m`` is None while it still stands there."""

    position: int
    from_m: float
    to_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """What was found of a tool's wear at one point of the drive, and what it had travelled by then.

    One of ``wear_mm``, ``below_mm`` and ``above_mm`` is set. ``worst_mm`` is what to hold against the limit: it
    differs from ``wear_mm`` where several points were read round a ring.
    """

    inspection_id: str | None
    ring: int
    driven_m: float
    position: int
    zone: str
    wear_mm: float | None = None
    worst_mm: float | None = None
    below_mm: float | None = None
    above_mm: float | None = None
    points: int = 1
    """Points read; the error of ``wear_mm`` that is not shared by the points falls with their number."""
    method: str | None = None
    condition: str | None = None
    sound: bool = True
    """False from the record on where a trouble is first seen: it says nothing of abrasion any more."""
    flagged: str | None = None
    """Why the reading is doubted; kept all the same."""
    path_km: Array
    """``(U,)`` boring path since the life's start, over all stints."""
    path_km_by_zone: Array
    """``(Z, U)``, zones as in `wearplan.site.records.ZONES`."""
    idle_km: float
    imputed_share: float
    """Share of the boring path from imputed rings."""
    path_rel_sd: float = 0.0
    """Relative doubt (sd) of the path for that reason."""
    source: str = "inspection"
    """``inspection``, ``sensor``, ``sensor silence`` or ``fitting`` (measured when put on again)."""
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Life:
    """One ring (or edge) from when it was put on new or part-worn until it was taken off for good."""

    id: str
    """Its first position and a running number there, as ``12-3``; the same as long as the records before it stand."""
    serial: str | None
    tool_type: str
    kind: str
    stints: tuple[Stint, ...]
    start_wear_mm: float = 0.0
    start_sd_mm: float = 0.0
    """Doubt (sd) of ``start_wear_mm``: 0 for a new tool, the gauge's error for one put on part-worn."""
    rebuilds: int = 0
    readings: tuple[Reading, ...] = ()
    """In the order of the drive."""
    ended: str | None = None
    """Why it ended: a reason of a fitting, ``turned``, ``blank``, ``layout`` or ``unknown``; None while it goes on."""
    ended_m: float | None = None
    old_to: str | None = None
    trouble_from_m: float | None = None
    """Where a trouble was first seen."""
    trouble_after_m: float | None = None
    """The last sighting without trouble (or the start): the fault began between there and ``trouble_from_m``."""
    trouble_condition: str | None = None
    conditions: frozenset[str] = frozenset()
    """Every word said of its state, whether it was measured or not."""
    seen_until_m: float = 0.0
    """Where a trouble was seen, the end, or the last inspection that saw it: a later trouble is not known yet."""
    open: bool = True
    """Still on the wheel."""
    unknown_from_m: float | None = None
    """From here on a damaged record leaves it open what stands there in which state; until a sound reading."""
    path_km: Array
    """``(U,)`` up to the end or the face."""
    sound_path_km_by_zone: Array
    """``(Z, U)`` up to ``seen_until_m``: the exposure to damage."""
    idle_km: float = 0.0
    hub_path_km: float = 0.0
    """Path of the hub, idle turns included, over this and all earlier rings it carried."""
    fitted_by: Origin | None = None
    """The record that put it on; None for the tools the drive began with."""
    notes: tuple[str, ...] = ()
    """What was odd in its records."""

    @property
    def from_m(self) -> float:
        return self.stints[0].from_m

    @property
    def position(self) -> int:
        """Where it stands, or last stood."""
        return self.stints[-1].position

    @property
    def in_trouble(self) -> bool:
        return self.trouble_from_m is not None

    @property
    def last_reading(self) -> Reading | None:
        """The last reading by whatever source, sound or not."""
        return self.readings[-1] if self.readings else None

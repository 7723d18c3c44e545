"""Damage of one kind on one site: what its tools were exposed to, and the records people read.

Exposure is the path in each unit and zone and, for tools that strike from one layer into another, the number of such
turns: a tool is chipped by the step between two grounds as much as by what it cuts. The two stand side by side, and an
event found in a layered face is shared between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import ZONES, Site
from wearplan.wear.evidence.damage import Damage, learn_damage
from wearplan.wear.evidence.paths import layered_turns, life_paths
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.results import DamageRate, LayeredDamage

if TYPE_CHECKING:
    from wearplan.history import Life

TURNS_AS_KM = 5.0
"""Km of path that 1,000 turns from layer to layer stand for until damages are seen: judgement, no published source.
About half of what a tool in the middle of the wheel travels in them, so a layered face starts half as harsh again."""


def damage_of(site: Site, lives: Sequence[Life], exposure: Any) -> Damage:
    """Rates of damage from the lives of one kind.

    Cells are zones by units (km), then, where the ground file has layered sections, zones (1,000 turns as so many km).
    """
    layered = any(section.strata for ground in site.grounds for section in ground.sections)

    def exposed(some: Sequence[Life], until_m: Sequence[float]) -> Floats:
        turns = [TURNS_AS_KM * layered_turns(site, some, exposure, until_m)] if layered else []
        return np.hstack([life_paths(site, some, exposure, until_m), *turns])

    sound = np.sum([np.ravel(life.sound_path_km_by_zone) for life in lives], axis=0) if lives else 0.0
    total = np.zeros(len(ZONES) * len(exposure.units)) + sound
    if layered:
        turns = layered_turns(site, lives, exposure, [life.seen_until_m for life in lives]).sum(axis=0)
        total = np.r_[total, TURNS_AS_KM * turns]
    hit = [life for life in lives if life.trouble_from_m is not None]
    until = exposed(hit, [life.trouble_from_m or 0.0 for life in hit])
    since = exposed(hit, [life.trouble_after_m or 0.0 for life in hit])
    return learn_damage(total, np.maximum(until - since, 0.0))


def by_zone(rates: Floats, units: int) -> tuple[Floats, Floats]:
    """Rates (D, C) as rates per km (D, Z, U) and per 1,000 turns from layer to layer (D, Z), 0 without such cells."""
    cells = len(ZONES) * units
    km = rates[:, :cells].reshape(len(rates), len(ZONES), units)
    turns = TURNS_AS_KM * rates[:, cells:]
    return km, turns if turns.shape[1] else np.zeros((len(rates), len(ZONES)))


def damage_records(
    kind: str, damage: Damage, units: tuple[str, ...], zones: Sequence[str], drawn: Floats
) -> list[DamageRate]:
    """One record a unit and zone the kind has; ``drawn`` are rates (D, C)."""
    return [
        DamageRate(
            kind=kind, unit=unit, zone=zone, per_1000_km=Quantiles.of(1000.0 * drawn[:, c]),
            events=float(damage.events[c]), exposure_km=float(damage.exposure_km[c]),
        )
        for zone in zones
        for u, unit in enumerate(units)
        for c in [ZONES.index(zone) * len(units) + u]
    ]  # fmt: skip


def layered_records(
    kind: str, damage: Damage, units: tuple[str, ...], zones: Sequence[str], drawn: Floats
) -> list[LayeredDamage]:
    """One record a zone the kind has; none where no face is layered."""
    cells = len(ZONES) * len(units)
    if len(damage.events) == cells:
        return []
    _, turns = by_zone(drawn, len(units))
    found = []
    for zone in zones:
        z = ZONES.index(zone)
        found.append(
            LayeredDamage(
                kind=kind, zone=zone, per_million_turns=Quantiles.of(1000.0 * turns[:, z]),
                events=float(damage.events[cells + z]),
                exposure_turns=1000.0 * float(damage.exposure_km[cells + z]) / TURNS_AS_KM,
            )
        )  # fmt: skip
    return found

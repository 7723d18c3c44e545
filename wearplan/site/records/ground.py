"""The ground along the drive, as known on a date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from wearplan.site.records.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedRate:
    """The site's own expectation; ``factor`` covers about two thirds of the doubt, up and down."""

    kind: str
    mm_per_km: float
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    code: str
    name: str
    cai: float | None = None
    lac_g_per_t: float | None = None
    ucs_mpa: float | None = None
    eqc_pct: float | None = None
    shear_strength_kpa: float | None = None
    d60_mm: float | None = None
    boulders: bool = False
    expected_rate: tuple[ExpectedRate, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """One layer; from the crown down. ``top_m`` is above the axis; None for the one that reaches the crown."""

    unit: str
    top_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    from_chainage_m: float
    to_chainage_m: float
    from_m: float
    to_m: float
    mix: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    strata: tuple[Stratum, ...] = ()
    cut: bool = True
    boundary_sd_m: float = 0.0
    """Doubt (sd) in where this section ends."""
    penetration_mm_per_rev: float | None = None
    required_overcut_mm: float | None = None
    water_head_m: float | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The ground as known on a date, whole."""

    known_on: date
    source: str
    units: tuple[Unit, ...]
    sections: tuple[Section, ...]
    """In the order of the drive; they tile it."""
    origin: Origin = NOWHERE

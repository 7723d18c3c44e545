"""The ground along the drive, as known on a date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Annotated

from wearplan.site.records.key import Chainage, Key, Name, Share
from wearplan.site.records.places import NOWHERE, Origin
from wearplan.site.records.words import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedRate:
    """The site's own expectation of the wear of one kind of tool."""

    kind: Annotated[Kind, Key()]
    mm_per_km: Annotated[float, Key(ge=0, le=1000)]
    factor: Annotated[float, Key("Covers about two thirds of the doubt, up and down.", ge=1, le=1000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit of ground. Every test is optional."""

    code: Annotated[Name, Key()]
    name: Annotated[Name, Key()]
    cai: Annotated[float | None, Key("Abrasivity index of the Cerchar test.", ge=0, le=10)] = None
    lac_g_per_t: Annotated[float | None, Key("LCPC abrasivity coefficient.", ge=0, le=5000)] = None
    ucs_mpa: Annotated[float | None, Key("Uniaxial compressive strength.", ge=0, le=1000)] = None
    eqc_pct: Annotated[float | None, Key("Equivalent quartz content.", ge=0, le=150)] = None
    shear_strength_kpa: Annotated[float | None, Key(ge=0, le=100_000)] = None
    d60_mm: Annotated[float | None, Key(ge=0, le=5000)] = None
    boulders: Annotated[bool, Key()] = False
    expected_rate: Annotated[
        tuple[ExpectedRate, ...], Key("The site's own expectation of wear, by kind of tool.", most=20)
    ] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """One layer; from the crown down."""

    unit: Annotated[Name, Key()]
    top_m: Annotated[float | None, Key("Above the axis; absent for the uppermost.", ge=-200, le=200)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A stretch of the drive. Its face is one of: ``mix``, ``strata``, ``cut = false``."""

    from_chainage_m: Annotated[Chainage, Key()]
    to_chainage_m: Annotated[Chainage, Key()]
    from_m: float
    to_m: float
    mix: Annotated[
        Mapping[Name, Share], Key("Well-mixed face: shares of the area by unit; they sum to 1.", least=1)
    ] = field(default_factory=lambda: MappingProxyType({}))
    strata: Annotated[tuple[Stratum, ...], Key("Layered face, from the crown down.", least=1, most=50)] = ()
    cut: Annotated[bool, Key("False: the wheel is pulled through without cutting.")] = True
    boundary_sd_m: Annotated[float, Key("Doubt in where this section ends.", ge=0, le=10_000)] = 0.0
    penetration_mm_per_rev: Annotated[float | None, Key("Expectation ahead.", gt=0, le=500)] = None
    required_overcut_mm: Annotated[float | None, Key("In curves.", ge=0, le=500)] = None
    water_head_m: Annotated[
        float | None, Key("Above the axis, for an estimate of pressure only, labelled so.", ge=-200, le=500)
    ] = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """ground/NNNN-....toml: the ground as known on a date, whole; its sections tile the drive."""

    known_on: Annotated[date, Key()]
    source: Annotated[Name, Key('Such as "tender investigation", "face mapping", "probing".')]
    units: Annotated[tuple[Unit, ...], Key(at="unit", most=200)]
    sections: Annotated[
        tuple[Section, ...], Key("In the order of the drive: no gap, no overlap.", at="section", most=5000)
    ]
    origin: Origin = NOWHERE

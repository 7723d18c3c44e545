"""The form of the files in ground/: the ground as known on a date, whole."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field

from wearplan.site.forms.site import Chainage, Kind, Name, Share, Strict


class ExpectedRateTable(Strict):
    kind: Kind
    mm_per_km: float = Field(ge=0, le=1000)
    factor: float = Field(ge=1, le=1000, description="Covers about two thirds of the doubt, up and down.")


class UnitTable(Strict):
    """A unit of ground. Every test is optional."""

    code: Name
    name: Name
    cai: float | None = Field(None, ge=0, le=10, description="Cerchar abrasivity index.")
    lac_g_per_t: float | None = Field(None, ge=0, le=5000, description="LCPC abrasivity coefficient.")
    ucs_mpa: float | None = Field(None, ge=0, le=1000, description="Uniaxial compressive strength.")
    eqc_pct: float | None = Field(None, ge=0, le=150, description="Equivalent quartz content.")
    shear_strength_kpa: float | None = Field(None, ge=0, le=100_000)
    d60_mm: float | None = Field(None, ge=0, le=5000)
    boulders: bool = False
    expected_rate: list[ExpectedRateTable] = Field(
        default=[], max_length=20, description="The site's own expectation of wear, by kind of tool."
    )


class StratumTable(Strict):
    unit: Name
    top_m: float | None = Field(None, ge=-200, le=200, description="Above the axis; absent for the uppermost.")


class SectionTable(Strict):
    """A stretch of the drive. Its face is one of: ``mix``, ``strata``, ``cut = false``."""

    from_chainage_m: Chainage
    to_chainage_m: Chainage
    mix: dict[Name, Share] | None = Field(
        None, description="Well-mixed face: shares of the area by unit; they sum to 1."
    )
    strata: list[StratumTable] | None = Field(
        None, min_length=1, max_length=50, description="Layered face, from the crown down."
    )
    cut: bool = Field(True, description="False: the wheel is pulled through without cutting.")
    boundary_sd_m: float = Field(0.0, ge=0, le=10_000, description="Doubt in where this section ends.")
    penetration_mm_per_rev: float | None = Field(None, gt=0, le=500, description="Expectation ahead.")
    required_overcut_mm: float | None = Field(None, ge=0, le=500, description="In curves.")
    water_head_m: float | None = Field(
        None, ge=-200, le=500, description="Above the axis, for an estimate of pressure only, labelled so."
    )


class GroundFile(Strict):
    """ground/NNNN-....toml: the ground as known on a date, whole; its sections tile the drive."""

    known_on: dt.date
    source: Annotated[Name, Field(description='Such as "tender investigation", "face mapping", "probing".')]
    unit: list[UnitTable] = Field(max_length=200)
    section: list[SectionTable] = Field(max_length=5000, description="In the order of the drive: no gap, no overlap.")

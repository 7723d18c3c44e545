"""Published wear relations, one function each, for units this drive has hardly cut.

Nothing here is fitted to a site. The coefficients come from memory of the papers named (``STANDING`` says so beside
each); they were not read again, so they are keyword arguments with a default, the range is stated, and the doubt is
wide. They are the last resort behind the drive's own rates and the site's own expectation, never an outside check.
Rates are mm of radial wear per km of path; a doubt is a factor, up and down, that should hold two times in three.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wearplan.ground.scales import cai_from_lac
from wearplan.site.records import Unit

STANDING = {
    "life of a disc by CAI (Rostami 1997)": "from memory, medium",
    "loss of a ring by CAI (Gehring 1995)": "from memory, medium; the permissible loss: low",
    "path of a disc by the soil abrasivity index (Köppl, Thuro & Thewes 2015)": "from memory, medium",
    "path of a scraper by the soil abrasivity index (Köppl, Thuro & Thewes 2015)": "from memory, medium",
    "wear of carbide bits by soil (Japanese shield practice)": "from memory, low",
    "kind of tool alone": "a guess, from memory, low",
}
"""How sure the memory of each relation is. None has been read again in its source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A rate from elsewhere; ``factor`` covers about two thirds of its doubt, up and down."""

    mm_per_km: float
    factor: float
    basis: str
    relations: tuple[str, ...] = ()


def rolls(kind: str, diameter_mm: float | None) -> bool:
    """Whether a tool rolls: discs do, centre tools where a diameter is given (else they are drag bits)."""
    return kind == "disc" or (kind == "centre tool" and diameter_mm is not None)


def disc_life_km(*, cai: float, diameter_mm: float, km_at_cai_one: float = 2057.0) -> float:
    """Path of a disc to its full wear: 2,057 km (D / 17 in) / CAI.

    Rostami 1997 (PhD, Colorado School of Mines), from memory. For rock of CAI about 1 to 5; against the relation of
    Gehring it differs by a factor of 2 at both ends.
    """
    return km_at_cai_one * (diameter_mm / 431.8) / cai


def ring_loss_g_per_km(*, cai: float, factor: float = 0.74, exponent: float = 1.93) -> float:
    """Steel a 17-inch ring loses: 0.74 CAI^1.93 mg per m, so g per km.

    Gehring 1995, Felsbau 13(6):439-448, from memory. For rock of CAI about 1 to 5.
    """
    return float(factor * cai**exponent)


def soil_abrasivity_index(*, eqc_pct: float, shear_strength_kpa: float, d60_mm: float) -> float:
    """SAI = (EQC / 100)^2 tau_c D60.

    Köppl, Thuro & Thewes 2015, Tunnelling and Underground Space Technology 49:287-294, from memory.
    """
    return (eqc_pct / 100.0) ** 2 * shear_strength_kpa * d60_mm


def disc_path_km(*, sai: float) -> float:
    """Path of a disc to its limit in soil: 312 + exp(-0.0048 (SAI - 1398)) km.

    Köppl, Thuro & Thewes 2015, from memory. As recalled it never falls below 312 km however abrasive the soil is,
    which is a reason to doubt the memory or the range.
    """
    return 312.0 + float(np.exp(-0.0048 * (sai - 1398.0)))


def scraper_path_km(*, sai: float) -> float:
    """Path of a scraper to its limit in soil: 280 + exp(-0.0050 (SAI - 1300)) km. As `disc_path_km`, with its doubt."""
    return 280.0 + float(np.exp(-0.0050 * (sai - 1300.0)))


BIT_RANGES = {"clay": (2e-3, 15e-3), "sand": (15e-3, 45e-3), "gravel": (25e-3, 70e-3)}
"""Wear coefficient of carbide bits in mm per km; Japanese shield practice, from memory, low."""


def soil_by_grain(d60_mm: float) -> str:
    """``clay`` below 0.063 mm, ``sand`` below 2 mm, else ``gravel``: grain sizes of ISO 14688-1, silt with clay."""
    return "clay" if d60_mm < 0.063 else "sand" if d60_mm < 2.0 else "gravel"


def bit_mm_per_km(*, d60_mm: float) -> tuple[float, float]:
    """Middle and doubt factor of `BIT_RANGES` for a grain size; the range is taken for two times out of three."""
    low, high = BIT_RANGES[soil_by_grain(d60_mm)]
    return float(np.sqrt(low * high)), float(np.sqrt(high / low))


def _rock(unit: Unit, diameter_mm: float, limit_mm: float) -> list[tuple[str, float, float]]:
    """Rates of a disc from CAI, or from LAC through it."""
    cai, doubt = unit.cai, 2.5
    if cai is None and unit.lac_g_per_t is not None:
        cai, doubt = cai_from_lac(unit.lac_g_per_t), 3.5
    if cai is None or not cai > 0:
        return []
    if not 1.0 <= cai <= 5.0:
        doubt *= 1.5
    cai = min(max(cai, 0.3), 7.0)
    life = disc_life_km(cai=cai, diameter_mm=diameter_mm)
    loss = ring_loss_g_per_km(cai=cai)
    return [
        ("life of a disc by CAI (Rostami 1997)", limit_mm / life, doubt),
        # 3,500 g permissible loss of a 17-inch ring over the same radial wear, from memory, low
        ("loss of a ring by CAI (Gehring 1995)", limit_mm * loss / (3500.0 * diameter_mm / 431.8), doubt),
    ]


def _soil(unit: Unit, limit_mm: float, path_km: Callable[..., float], name: str) -> list[tuple[str, float, float]]:
    if unit.eqc_pct is None or unit.shear_strength_kpa is None or unit.d60_mm is None:
        return []
    sai = soil_abrasivity_index(eqc_pct=unit.eqc_pct, shear_strength_kpa=unit.shear_strength_kpa, d60_mm=unit.d60_mm)
    return [(name, limit_mm / path_km(sai=sai), 2.5 if sai <= 1400.0 else 3.5)]


def _evaluated(unit: Unit, kind: str, diameter_mm: float | None, limit_mm: float) -> list[tuple[str, float, float]]:
    if rolls(kind, diameter_mm):
        name = "path of a disc by the soil abrasivity index (Köppl, Thuro & Thewes 2015)"
        return _soil(unit, limit_mm, disc_path_km, name) or _rock(unit, diameter_mm or 431.8, limit_mm)
    name = "path of a scraper by the soil abrasivity index (Köppl, Thuro & Thewes 2015)"
    found = _soil(unit, limit_mm, scraper_path_km, name)
    if unit.d60_mm is not None:
        rate, factor = bit_mm_per_km(d60_mm=unit.d60_mm)
        found.append(("wear of carbide bits by soil (Japanese shield practice)", rate, max(2.5, factor)))
    return found


def expected_mm_per_km(
    unit: Unit, kind: str, diameter_mm: float | None = None, *, wear_limit_mm: float = 25.0
) -> Expected:
    """What published relations expect of a kind of tool in a unit, from whatever tests the unit has.

    The relations that can be evaluated are averaged on the log scale; their doubts and their disagreement make the
    factor. Without any test the kind of tool alone gives a guess with a factor of 5.

    Parameters
    ----------
    unit
        With its tests.
    kind
        Of `wearplan.site.records.KINDS`.
    diameter_mm
        Of the disc; 432 without.
    wear_limit_mm
        Wear at the end of the life that the published paths speak of.
    """
    found = _evaluated(unit, kind, diameter_mm, wear_limit_mm)
    if not found:
        # 0.03 to 0.12 mm/km is recalled for discs in hard abrasive rock; bits in sand and gravel 0.015 to 0.07
        rate = 0.025 if rolls(kind, diameter_mm) else 0.03
        name = "kind of tool alone"
        return Expected(
            mm_per_km=rate, factor=5.0, basis=f"{name}, no usable test [{STANDING[name]}]", relations=(name,)
        )
    logs = np.log([rate for _, rate, _ in found])
    doubts = np.log([factor for _, _, factor in found])
    # the relations rest on overlapping data and memory, so their number narrows nothing
    factor = float(np.exp(np.sqrt(np.mean(doubts**2) + np.var(logs))))
    names = tuple(name for name, _, _ in found)
    basis = "; ".join(f"{name} [{STANDING[name]}]" for name in names)
    return Expected(mm_per_km=float(np.exp(logs.mean())), factor=factor, basis=basis, relations=names)

"""The ground of the sample as it is, and as the site learnt of it in three steps. Invented."""

from __future__ import annotations

from datetime import date

import numpy as np

from tests.simulate.blueprint import TrueSection, TrueUnit
from tests.simulate.geology import known_ground
from wearplan.site.records import Drive, ExpectedRate, Ground, Unit

LENGTH_M = 3000.0

TRUE_UNITS = (
    TrueUnit(
        code="TC", mm_per_km={"disc": 0.0099, "scraper": 0.0072, "bucket tool": 0.0064},
        damage_per_1000_km={"disc": 0.06, "scraper": 0.03, "bucket tool": 0.03}, penetration_mm=36.0,
    ),
    TrueUnit(
        code="AS", mm_per_km={"disc": 0.0296, "scraper": 0.0240, "bucket tool": 0.0184},
        damage_per_1000_km={"disc": 0.08, "scraper": 0.04, "bucket tool": 0.04}, penetration_mm=32.0,
    ),
    TrueUnit(
        code="GC", mm_per_km={"disc": 0.0608, "scraper": 0.0496, "bucket tool": 0.0400},
        damage_per_1000_km={"disc": 0.45, "scraper": 0.35, "bucket tool": 0.30}, penetration_mm=24.0,
    ),
    TrueUnit(
        code="MW", mm_per_km={"disc": 0.0184, "scraper": 0.0128, "bucket tool": 0.0109},
        damage_per_1000_km={"disc": 0.06, "scraper": 0.05, "bucket tool": 0.04}, penetration_mm=26.0,
    ),
    TrueUnit(
        code="QS", mm_per_km={"disc": 0.0528, "scraper": 0.0344, "bucket tool": 0.0288},
        damage_per_1000_km={"disc": 0.22, "scraper": 0.30, "bucket tool": 0.20}, penetration_mm=12.0,
    ),
)  # fmt: skip


def _expected(disc: float, scraper: float, bucket: float, factor: float) -> tuple[ExpectedRate, ...]:
    return tuple(
        ExpectedRate(kind=kind, mm_per_km=rate, factor=factor)
        for kind, rate in (("disc", disc), ("scraper", scraper), ("bucket tool", bucket))
    )


UNITS = (
    Unit(
        code="TC", name="stiff till clay", lac_g_per_t=70.0, eqc_pct=18.0, shear_strength_kpa=180.0, d60_mm=0.02,
        expected_rate=_expected(0.007, 0.006, 0.005, 2.5),
    ),
    Unit(
        code="AS", name="alluvial sand, silty", lac_g_per_t=290.0, eqc_pct=52.0, shear_strength_kpa=70.0, d60_mm=0.5,
        expected_rate=_expected(0.04, 0.03, 0.025, 2.0),
    ),
    Unit(
        code="GC", name="sandy gravel with cobbles", lac_g_per_t=880.0, eqc_pct=66.0, shear_strength_kpa=110.0,
        d60_mm=14.0, boulders=True, expected_rate=_expected(0.05, 0.04, 0.03, 2.0),
    ),
    Unit(
        code="MW", name="weathered mudstone", cai=0.7, lac_g_per_t=180.0, ucs_mpa=9.0, eqc_pct=28.0,
        expected_rate=_expected(0.025, 0.015, 0.015, 2.0),
    ),
    Unit(
        code="QS", name="quartzitic sandstone", cai=2.4, lac_g_per_t=690.0, ucs_mpa=74.0, eqc_pct=78.0,
        expected_rate=_expected(0.07, 0.05, 0.04, 2.0),
    ),
)  # fmt: skip


def _section(
    to_m: float, penetration_mm: float, mix: dict[str, float] | None = None,
    strata: tuple[tuple[str, float | None], ...] = (), cut: bool = True,
) -> tuple[float, float, dict[str, float], tuple[tuple[str, float | None], ...], bool]:  # fmt: skip
    return to_m, penetration_mm, mix or {}, strata, cut


_PLAN = (
    _section(6.0, 30.0, {"TC": 1.0}, cut=False),
    _section(171.0, 34.0, {"TC": 0.8, "AS": 0.2}),
    _section(422.0, 29.0, {"AS": 0.7, "GC": 0.3}),
    _section(646.0, 27.0, strata=(("AS", None), ("GC", 0.6))),
    _section(861.0, 24.0, {"GC": 0.85, "AS": 0.15}),
    _section(1013.0, 24.5, strata=(("GC", None), ("MW", -0.8))),
    _section(1236.0, 26.0, {"MW": 1.0}),
    _section(1417.0, 17.0, strata=(("MW", None), ("QS", -1.2))),
    _section(1549.0, 14.0, {"QS": 0.6, "MW": 0.4}),
    _section(1692.0, 18.0, strata=(("MW", None), ("QS", -2.0))),
    _section(1903.0, 29.0, strata=(("TC", None), ("GC", 0.4))),
    _section(2074.0, 28.0, {"AS": 0.5, "GC": 0.5}),
    _section(2297.0, 28.0, strata=(("AS", None), ("GC", 0.5), ("QS", -2.6))),
    _section(2452.0, 13.5, {"QS": 0.7, "MW": 0.3}),
    _section(2641.0, 19.0, strata=(("MW", None), ("QS", -2.4))),
    _section(2817.0, 33.0, {"TC": 0.6, "AS": 0.4}),
    _section(2994.0, 28.0, {"AS": 0.75, "GC": 0.25}),
    _section(3000.0, 28.0, {"AS": 1.0}, cut=False),
)


def true_sections() -> tuple[TrueSection, ...]:
    sections, start = [], 0.0
    for to_m, penetration, mix, strata, cut in _PLAN:
        sections.append(
            TrueSection(from_m=start, to_m=to_m, mix=mix, strata=strata, cut=cut, penetration_mm=penetration)
        )
        start = to_m
    return tuple(sections)


WATER_HEAD_M = (4, 6, 9, 12, 14, 14, 13, 12, 12, 14, 17, 20, 24, 22, 18, 14, 10, 8)
OVERCUT_MM = {11: 10.0, 14: 10.0}
"""By section: curves ask for more overcut."""


def grounds(drive: Drive, rng: np.random.Generator, days: tuple[date, date, date]) -> tuple[tuple[float, Ground], ...]:
    """(known from driven metres, ground): tender, probing from the face, mapping and holes from the surface."""
    from dataclasses import replace

    out = []
    for known_on, since, source, ahead, behind, pen in (
        (days[0], 0.0, "tender investigation", 15.0, 0.0, 0.12),
        (days[1], 700.0, "face mapping and probing", 12.0, 2.0, 0.08),
        (days[2], 1758.0, "face mapping and bank borings", 8.0, 2.0, 0.05),
    ):
        ground = known_ground(
            drive, UNITS, true_sections(), known_on=known_on, source=source, seen_to_m=since, sd_ahead_m=ahead,
            sd_behind_m=behind, rng=rng, penetration_sd=pen,
        )  # fmt: skip
        sections = tuple(
            replace(
                s, water_head_m=float(WATER_HEAD_M[k]), required_overcut_mm=OVERCUT_MM.get(k),
                penetration_mm_per_rev=s.penetration_mm_per_rev if s.cut else None,
            )
            for k, s in enumerate(ground.sections)
        )  # fmt: skip
        out.append((since, replace(ground, sections=sections)))
    return tuple(out)

"""Draws the ground: units with true rates and tests that hint at them, sections, and what the site knows of them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from wearplan.site.records import Drive, ExpectedRate, Ground, Section, Stratum, Unit

from .blueprint import TrueSection, TrueUnit
from .options import Options

KINDS = ("disc", "scraper", "bucket tool")
KIND_LEVEL = {"disc": 1.0, "scraper": 0.75, "bucket tool": 0.55}


def draw_units(options: Options, rng: np.random.Generator) -> tuple[tuple[TrueUnit, ...], tuple[Unit, ...]]:
    """Units as they are and as the site describes them."""
    truth, known = [], []
    # spread evenly over the scale so that no world lacks a mild or a harsh unit
    levels = np.linspace(0.0, 1.0, options.units) + rng.uniform(-0.08, 0.08, options.units)
    rng.shuffle(levels)
    for k, level in enumerate(levels):
        lac = float(np.exp(np.log(90.0) + level * np.log(1200.0 / 90.0)))
        disc = 0.055 * (lac / 800.0) ** 0.9 * options.wear_scale
        rates = {kind: float(disc * KIND_LEVEL[kind] * np.exp(rng.normal(0.0, 0.25))) for kind in KINDS}
        rough = bool(level > 0.6)
        damage = {
            "disc": (0.9 if rough else 0.25) * options.damage_scale,
            "scraper": (0.5 if rough else 0.12) * options.damage_scale,
            "bucket tool": (0.6 if rough else 0.15) * options.damage_scale,
        }
        penetration = float(np.clip(30.0 - 16.0 * level + rng.normal(0.0, 2.0), 8.0, 40.0))
        code = f"U{k + 1}"
        truth.append(TrueUnit(code=code, mm_per_km=rates, damage_per_1000_km=damage, penetration_mm=penetration))
        known.append(
            Unit(
                code=code, name=f"drawn unit {k + 1}", lac_g_per_t=float(round(lac * np.exp(rng.normal(0.0, 0.12)))),
                cai=float(round(max(0.1, lac / 300.0 * np.exp(rng.normal(0.0, 0.12))), 1)), boulders=rough,
                expected_rate=tuple(
                    ExpectedRate(
                        kind=kind, mm_per_km=float(f"{rates[kind] * np.exp(rng.normal(0.0, 0.6)):.2g}"), factor=2.0
                    )
                    for kind in KINDS
                ),
            )
        )  # fmt: skip
    return tuple(truth), tuple(known)


def draw_sections(
    options: Options, units: Sequence[TrueUnit], half_bore_m: float, rng: np.random.Generator
) -> tuple[TrueSection, ...]:
    """Sections that tile the drive; every unit is met, the last one only ahead where the options say so."""
    edges = [0.0]
    while edges[-1] < options.length_m - 90.0:
        edges.append(edges[-1] + float(round(rng.uniform(60.0, 190.0) * max(1.0, options.length_m / 2000.0))))
    edges[-1] = options.length_m
    count = len(edges) - 1
    face_m = options.length_m * options.driven_share
    codes = [u.code for u in units]
    ahead_only = codes[-1] if options.unmet_unit else None
    deck: list[str] = []
    sections = []
    for k in range(count):
        ahead = edges[k] >= face_m
        allowed = [c for c in codes if ahead or c != ahead_only]
        if not any(c in allowed for c in deck):
            deck = list(allowed)
            rng.shuffle(deck)
        main = next(c for c in deck if c in allowed)
        deck.remove(main)
        if ahead_only and ahead and all(ahead_only not in _codes(s) for s in sections):
            main = ahead_only
        others = [c for c in allowed if c != main] or [main]
        other = str(rng.choice(others))
        mix: dict[str, float] = {}
        strata: tuple[tuple[str, float | None], ...] = ()
        if rng.random() < options.layered_share and other != main:
            top = float(round(rng.uniform(-0.5, 0.5) * half_bore_m, 1))
            strata = ((other, None), (main, top))
            if rng.random() < 0.3 and len(others) > 1:
                third = str(rng.choice([c for c in others if c != other]))
                strata = ((other, None), (main, top), (third, float(round(top - 0.35 * half_bore_m, 1))))
        elif rng.random() < 0.5 and other != main:
            share = float(round(rng.uniform(0.5, 0.9), 1))
            mix = {main: share, other: round(1.0 - share, 1)}
        else:
            mix = {main: 1.0}
        draft = TrueSection(from_m=edges[k], to_m=edges[k + 1], mix=mix, strata=strata)
        pens = [u.penetration_mm for u in units if u.code in _codes(draft)]
        penetration = float(min(pens) * 0.6 + 0.4 * float(np.mean(pens)))
        sections.append(
            TrueSection(from_m=edges[k], to_m=edges[k + 1], mix=mix, strata=strata, penetration_mm=penetration)
        )
    return tuple(sections)


def _codes(section: TrueSection) -> set[str]:
    return set(section.mix) | {unit for unit, _ in section.strata}


def known_ground(
    drive: Drive, units: tuple[Unit, ...], sections: Sequence[TrueSection], *, known_on: date, source: str,
    seen_to_m: float, sd_ahead_m: float, sd_behind_m: float, rng: np.random.Generator,
    penetration_sd: float = 0.08, off_m: dict[int, float] | None = None,
) -> Ground:  # fmt: skip
    """The ground as the site writes it: boundaries missed by their stated doubt, more ahead than behind.

    ``off_m`` shifts the end of a section (by index) by so much beyond its stated doubt.
    """
    ends: list[float] = []
    doubts: list[float] = []
    for k, section in enumerate(sections[:-1]):
        doubt = sd_behind_m if section.to_m <= seen_to_m else sd_ahead_m
        end = section.to_m + float(rng.normal(0.0, doubt)) + (off_m or {}).get(k, 0.0)
        low = (ends[-1] if ends else 0.0) + 5.0
        if section.to_m > seen_to_m:
            low = max(low, seen_to_m + 1.0)
        ends.append(round(min(max(end, low), drive.length_m - 5.0 * (len(sections) - 1 - k)), 1))
        doubts.append(doubt)
    ends.append(drive.length_m)
    doubts.append(0.0)
    starts = [0.0, *ends[:-1]]
    return Ground(
        known_on=known_on, source=source, units=units,
        sections=tuple(
            Section(
                from_chainage_m=round(drive.chainage_m(a), 3), to_chainage_m=round(drive.chainage_m(b), 3),
                from_m=a, to_m=b, mix=dict(s.mix) if s.cut else {},
                strata=tuple(Stratum(unit=unit, top_m=top) for unit, top in s.strata), cut=s.cut,
                boundary_sd_m=doubt,
                penetration_mm_per_rev=round(s.penetration_mm * float(np.exp(rng.normal(0.0, penetration_sd))), 1),
            )
            for a, b, s, doubt in zip(starts, ends, sections, doubts, strict=True)
        ),
    )  # fmt: skip


def draw_grounds(
    options: Options, drive: Drive, start: date, advance_m_per_day: float, units: tuple[Unit, ...],
    sections: Sequence[TrueSection], rng: np.random.Generator,
) -> tuple[tuple[float, Ground], ...]:  # fmt: skip
    """Tender, a revision half way to the face and one at the face: (known from driven metres, ground)."""
    face_m = options.length_m * options.driven_share
    off: dict[int, float] = {}
    if options.boundary_off_m:
        inside = [k for k, s in enumerate(sections[:-1]) if 0.15 * face_m < s.to_m < 0.8 * face_m]
        if inside:
            off[inside[len(inside) // 2]] = options.boundary_off_m

    ahead, behind = options.boundary_sd_m, options.boundary_seen_sd_m

    def on(driven_m: float) -> date:
        # a little early: the stops make the drive slower than its pace, and a revision must not postdate its use
        return start + timedelta(days=int(driven_m / advance_m_per_day))

    tender = known_ground(
        drive, units, sections, known_on=start - timedelta(days=300), source="tender investigation", seen_to_m=0.0,
        sd_ahead_m=1.5 * ahead, sd_behind_m=0.0, rng=rng, penetration_sd=0.15, off_m=off,
    )  # fmt: skip
    half = known_ground(
        drive, units, sections, known_on=on(0.5 * face_m), source="face mapping", seen_to_m=0.5 * face_m,
        sd_ahead_m=ahead, sd_behind_m=behind, rng=rng, penetration_sd=0.1, off_m=off,
    )  # fmt: skip
    now = known_ground(
        drive, units, sections, known_on=on(face_m), source="face mapping and probing", seen_to_m=face_m,
        sd_ahead_m=ahead, sd_behind_m=behind, rng=rng, penetration_sd=0.06, off_m=off,
    )  # fmt: skip
    return ((0.0, tender), (0.5 * face_m, half), (face_m, now))

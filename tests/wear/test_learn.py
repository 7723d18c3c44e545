"""Learning from whole sites: odd input, new units, damage kept apart from abrasion."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.simulate import World
from wearplan.site.records import Event, Fitting, Measurement
from wearplan.wear import learn, look_ahead, look_at


@cache
def world() -> World:
    return World(9201, places=45, length_m=1200.0, units=3)


@cache
def learnt():
    return learn(world().site)


def with_readings(site, change):
    """The site with every measurement passed through ``change(inspection index, measurement)``; None drops it."""
    inspections = []
    for k, inspection in enumerate(site.inspections):
        kept = [changed for m in inspection.measurements if (changed := change(k, m)) is not None]
        inspections.append(replace(inspection, measurements=tuple(kept)))
    return replace(site, inspections=tuple(inspections))


def finite(fit) -> bool:
    return all(np.isfinite(value) and value >= 0 for rate in fit.rates for value in rate.mm_per_km.as_dict().values())


def test_no_readings_rests_on_expectation_and_doubt_is_wide():
    site = replace(world().site, inspections=(), sensor_words=())
    fit = learn(site)
    assert finite(fit)
    assert all(rate.readings == 0 and rate.basis.startswith(("expectation", "published")) for rate in fit.rates)
    assert all(rate.mm_per_km.p95 / rate.mm_per_km.p05 > 5.0 for rate in fit.rates)
    assert any("no sound reading of discs" in remark for remark in fit.remarks)
    outlook = look_ahead(site, fit, draws=200)
    assert np.isfinite(outlook.wear_now_mm).all()
    assert (outlook.over_limit_probability(outlook.end_m) < 1.0).any()


def test_one_reading_only():
    first = next(m for i in world().site.inspections for m in i.measurements if m.wear_mm)
    seen = []

    def one(k, m):
        if m is first and not seen:
            seen.append(m)
            return m
        return None

    fit = learn(replace(with_readings(world().site, one), sensor_words=()))
    assert finite(fit)
    assert max(rate.readings for rate in fit.rates) == 1


def test_all_readings_censored():
    def bound(k, m):
        if m.not_read:
            return m
        return Measurement(position=m.position, wear_below_mm=30.0, method="gauge", condition=m.condition)

    fit = learn(replace(with_readings(world().site, bound), sensor_words=()))
    assert finite(fit)
    assert any("every reading is a bound" in remark for remark in fit.remarks)


def test_thousands_of_zeros():
    def zero(k, m):
        return m if m.not_read else Measurement(position=m.position, wear_mm=0.0, method="gauge", condition="even")

    fit = learn(with_readings(world().site, zero))
    assert finite(fit)
    # nothing to be seen all along: the rates must be far below what they are
    for rate in fit.rates:
        if learnt().rate(rate.kind, rate.unit).basis == "readings":
            assert rate.mm_per_km.p50 < learnt().rate(rate.kind, rate.unit).mm_per_km.p50


def test_a_reading_of_900_mm_is_named_and_moves_nothing():
    site = world().site
    at = next(
        (k, m) for k, i in enumerate(site.inspections) for m in i.measurements
        if k > 2 and m.wear_mm and m.condition == "even" and site.wheel.tool_type(
            site.wheel.position(m.position).tool_type).kind == "disc"
    )  # fmt: skip
    wrong = with_readings(site, lambda k, m: replace(m, wear_mm=900.0) if (k, m) == at else m)
    fit = learn(wrong)
    without = learn(with_readings(site, lambda k, m: None if (k, m) == at else m))
    flag = next(flag for flag in fit.flagged if flag.position == at[1].position)
    assert float(flag.what.split()[0]) > 100.0
    for rate in fit.rates:
        if rate.basis == "readings":
            assert rate.mm_per_km.p50 == pytest.approx(without.rate(rate.kind, rate.unit).mm_per_km.p50, rel=0.03)


def test_two_units_always_met_together():
    site = world().site

    def joined(section):
        return replace(section, mix={"U1": 0.5, "U2": 0.5}, strata=())

    grounds = tuple(replace(g, sections=tuple(map(joined, g.sections))) for g in site.grounds)
    fit = learn(replace(site, grounds=grounds))
    disc = {rate.unit: rate for rate in fit.rates if rate.kind == "disc"}
    assert "U2" in disc["U1"].confounded_with
    assert any("hardly told apart" in remark for remark in fit.remarks)
    apart = {rate.unit: rate for rate in learnt().rates if rate.kind == "disc"}
    wide = [disc[u].mm_per_km.p95 / disc[u].mm_per_km.p05 for u in ("U1", "U2")]
    narrow = [apart[u].mm_per_km.p95 / apart[u].mm_per_km.p05 for u in ("U1", "U2")]
    assert max(wide) > max(narrow)


def test_unit_without_exposure_has_a_rate_with_its_basis():
    site = world().site
    new = replace(site.grounds[-1].units[0], code="NEW", name="never cut", expected_rate=())
    grounds = tuple(replace(g, units=(*g.units, new)) for g in site.grounds)
    fit = learn(replace(site, grounds=grounds))
    rate = fit.rate("disc", "NEW")
    assert rate.path_km == 0.0
    assert rate.readings == 0
    assert rate.basis.startswith("relation fitted to")
    assert rate.mm_per_km.p95 / rate.mm_per_km.p05 > 1.5


def test_one_inspection_in_a_new_unit_moves_its_rate_and_narrows_its_band():
    # a unit renamed beyond the stop before last is a unit cut only since then
    site = world().site
    stops = [i for i in site.inspections if any(m.wear_mm for m in i.measurements)]
    cut_from = stops[-2].driven_m
    ground = site.grounds[-1]
    here = next(s for s in ground.sections if s.from_m <= cut_from < s.to_m)
    shares = dict(here.mix) or {s.unit: 1.0 for s in here.strata}
    old = max(shares, key=lambda code: shares[code])
    new = replace(next(u for u in ground.units if u.code == old), code="NEW", name="new unit", expected_rate=())

    def renamed(section):
        if section.strata:
            return replace(
                section, strata=tuple(replace(s, unit="NEW" if s.unit == old else s.unit) for s in section.strata)
            )
        return replace(section, mix={("NEW" if code == old else code): share for code, share in section.mix.items()})

    at = site.drive.chainage_m(cut_from)
    first = replace(here, to_m=cut_from, to_chainage_m=at, boundary_sd_m=0.0)
    second = replace(here, from_m=cut_from, from_chainage_m=at)
    sections = [s for s in ground.sections if s.to_m <= here.from_m + 1e-6] + [first, renamed(second)]
    sections += [renamed(s) for s in ground.sections if s.from_m >= here.to_m - 1e-6]
    site = replace(site, grounds=(replace(ground, units=(*ground.units, new), sections=tuple(sections)),))
    last = stops[-1].id
    before = learn(replace(site, inspections=tuple(i for i in site.inspections if i.id != last)))
    after = learn(site)
    one, other = before.rate("disc", "NEW"), after.rate("disc", "NEW")
    assert other.mm_per_km.p95 / other.mm_per_km.p05 < 0.8 * one.mm_per_km.p95 / one.mm_per_km.p05
    # the two bands speak of one rate
    assert other.mm_per_km.p05 < one.mm_per_km.p95
    assert other.mm_per_km.p95 > one.mm_per_km.p05


def test_boulder_and_four_lost_rings_leave_abrasion_alone():
    site = world().site
    number = max(k for k, i in enumerate(site.inspections) if sum(m.wear_mm is not None for m in i.measurements) > 6)
    stop = site.inspections[number]
    discs = [
        m for m in stop.measurements
        if m.wear_mm and site.wheel.tool_type(site.wheel.position(m.position).tool_type).kind == "disc"
        and m.condition == "even"
    ][:4]  # fmt: skip
    struck = {m.position for m in discs}
    lost = tuple(
        Measurement(position=m.position, wear_above_mm=25.0, method="gauge", condition="ring lost")
        if m.position in struck else m
        for m in stop.measurements
    )  # fmt: skip
    fittings = tuple(f for f in stop.fittings if f.position not in struck) + tuple(
        Fitting(position=p, action="change", reason="damage") for p in sorted(struck)
    )
    event = Event(
        chainage_m=stop.chainage_m, driven_m=stop.driven_m - 3.0, ring=stop.ring - 2, at=None, kind="boulder", note=None
    )
    changed = replace(stop, measurements=lost, fittings=fittings)
    inspections = (*site.inspections[:number], changed, *site.inspections[number + 1 :])
    # what follows rests on tools that are no longer there in this telling
    hit = replace(site, inspections=inspections[: number + 1], events=(*site.events, event))
    plain = replace(site, inspections=site.inspections[: number + 1])
    with_event, without = learn(hit), learn(plain)
    for rate in without.rates:
        if rate.basis == "readings":
            assert with_event.rate(rate.kind, rate.unit).mm_per_km.p50 == pytest.approx(rate.mm_per_km.p50, rel=0.03)
    total = lambda fit: sum(d.events for d in (*fit.damage, *fit.layered_damage) if d.kind == "disc")  # noqa: E731
    assert total(with_event) == pytest.approx(total(without) + len(struck), abs=1.01)
    look = look_at(with_event, event.driven_m)
    assert struck <= set(look)
    assert len(look) > len(struck)


def test_rates_read_both_ways():
    fit = learnt()
    radius, p = fit.reference_radius_mm / 1000.0, fit.reference_penetration_mm
    area = np.pi / 4.0 * fit.site.wheel.bore_diameter_m**2
    for rate in fit.rates:
        per_m = np.hypot(2 * np.pi * radius, p / 1000.0) * (1000.0 / p) / 1000.0
        assert rate.mm_per_1000_m3.p50 == pytest.approx(rate.mm_per_km.p50 * per_m / area * 1000.0, rel=1e-6)
        assert rate.m3_per_tool.p50 == pytest.approx(1000.0 / rate.tools_per_1000_m3.p50, rel=1e-3)


def test_nothing_is_less_certain_than_before_any_reading():
    fits = [learnt()] + [learn(world().site, as_of=stop.id, checks=False) for stop in world().site.inspections[:4]]
    for fit in fits:
        for one in fit.by_kind.values():
            count = one.posterior.terms
            before = np.diag(one.posterior.prior.covariance)
            assert (np.diag(one.posterior.covariance)[:count] <= before * (1.0 + 1e-6)).all()
        assert finite(fit)
        assert all(rate.mm_per_km.p95 < 5.0 for rate in fit.rates)

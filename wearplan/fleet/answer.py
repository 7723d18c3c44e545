"""The work of one site: loaded, learnt, looked ahead, planned, counted. It runs in a worker."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.fleet.contents import unpack
from wearplan.fleet.own import own_words
from wearplan.fleet.packed import pack
from wearplan.fleet.records import Asked, BatchSeen, Belief, Line, TypeSeen, UnitRates

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.plan import Plan
    from wearplan.site.records import ExpectedRate, Fault, Ground, Site, Unit
    from wearplan.wear import Fit, Outlook

TESTS = ("cai", "lac_g_per_t", "ucs_mpa", "eqc_pct", "shear_strength_kpa", "d60_mm")
WEEK, FOUR_WEEKS = timedelta(days=7), timedelta(days=28)


def answer(folder: str, contents: Mapping[str, bytes], asked: Asked) -> Line:
    """One site's line from the bytes of its folder; a site that is broken says so and never raises.

    Parameters
    ----------
    folder : str
        Where it lies, as the user named it; it is not opened.
    """
    from threadpoolctl import threadpool_limits

    name = Path(folder).name or folder
    # one thread of linear algebra, so that sums come out the same on any machine and worker
    with tempfile.TemporaryDirectory(prefix="wearplan-") as place, threadpool_limits(1):
        try:
            unpack(contents, Path(place))
            return _line(folder, Path(place), asked)
        except Exception as error:  # whatever is wrong with one site is its own line's
            return Line(folder=folder, name=name, state="failed", why=f"{type(error).__name__}: {error}")


def _line(folder: str, place: Path, asked: Asked) -> Line:
    from wearplan.site import load

    loaded = load(place)
    site = loaded.site
    if site is None:
        why = _first_fault(loaded.faults, folder, place)
        return Line(folder=folder, name=Path(folder).name or folder, state="faults", why=why, faults=len(loaded.faults))
    told = _standing(folder, site, asked)
    needed = ("rates", "outlook", "plan") if asked.plan else ("rates",)
    told["forbidding"] = tuple(each for each in (*needed, "demand") if site.forbidding(each))
    site = _believing(site, asked.beliefs)
    barred = next((each for each in needed if site.forbidding(each)), None)
    if barred:
        return Line(**told, state="faults", why=_first_fault(site.forbidding(barred), folder, place))
    return _answered(site, told, asked)


def _believing(site: Site, beliefs: Sequence[Belief]) -> Site:
    """The site with what others learnt in place of its own expectation, unit by unit."""
    from wearplan.site.records import ExpectedRate

    told: dict[str, dict[str, ExpectedRate]] = {}
    for each in beliefs:
        rate = ExpectedRate(kind=each.kind, mm_per_km=each.mm_per_km, factor=each.factor)
        told.setdefault(each.unit, {})[each.kind] = rate
    if not told:
        return site

    def units(ground: Ground) -> tuple[Unit, ...]:
        return tuple(
            replace(unit, expected_rate=_joined(unit.expected_rate, told.get(unit.code, {}))) for unit in ground.units
        )

    return replace(site, grounds=tuple(replace(ground, units=units(ground)) for ground in site.grounds))


def _joined(own: Sequence[ExpectedRate], others: Mapping[str, ExpectedRate]) -> tuple[ExpectedRate, ...]:
    return (*(rate for rate in own if rate.kind not in others), *others.values())


def _answered(site: Site, told: dict[str, Any], asked: Asked) -> Line:
    from wearplan import demand, history, plan, wear

    fit = wear.learn(site)
    told["rates"] = rates_of(site, fit)
    told["types"], told["batches"] = types_of(site, fit)
    told["serials"] = tuple(sorted({life.serial for life in history.current_lives(fit.lives).values() if life.serial}))
    if not asked.plan:
        return Line(**told, state="answered")
    outlook = wear.look_ahead(site, fit, draws=asked.draws)
    found = plan.propose(site, outlook, wishes=plan.Wishes(deferral=False, tradeoff=False, comparison=False))
    told |= _ahead(site, outlook, found, asked)
    if not found.keeps_rules:
        return Line(**told, state="no plan", why=found.why_impossible.sentence if found.why_impossible else "")
    if not site.forbidding("demand"):
        use = demand.DriveUse(site=site, plan=found, use=plan.use_draws(site, outlook, found), face_m=outlook.face_m)
        told["orders"] = _orders(demand.forecast([use], as_of=asked.day), asked.day)
        if asked.use:
            told["use"] = pack(use)
    return Line(**told, state="answered")


def _standing(folder: str, site: Site, asked: Asked) -> dict[str, Any]:
    """What is on record, whatever can be worked out from it."""
    from wearplan import history

    rings = history.clean_rings(site)
    logged = _logged(site)
    remarks = []
    if asked.plan and logged and logged > asked.day:
        remarks.append(f"its log goes to {logged}, after the {asked.day} asked for: check its clock")
    return {
        "folder": folder,
        "name": site.name,
        "invented": site.invented,
        "currency": site.currency,
        "inputs_sha256": site.inputs_sha256,
        "logged": logged.isoformat() if logged else None,
        "face_chainage_m": round(site.drive.chainage_m(rings.face_m), 3),
        "left_m": round(max(site.drive.length_m - rings.face_m, 0.0), 3),
        "pace_m_per_day": _pace(rings, logged),
        "changed": _changed(site, rings, asked.since),
        "faults": len(site.faults),
        "remarks": tuple(remarks),
        "inspections": tuple(sorted(each.id for each in site.inspections)),
    }


def _logged(site: Site) -> date | None:
    dates = [row.finished_at.date() for row in site.rings if row.finished_at]
    dates += [(each.ended_at or each.started_at).date() for each in site.inspections]
    return max(dates, default=None)


def _metres_since(rings: Any, day: date) -> tuple[float, int]:
    """Metres and rings finished on that day or later."""
    rows = [
        end - start
        for start, end, at in zip(rings.start_m, rings.end_m, rings.finished_at, strict=True)
        if at is not None and at.date() >= day
    ]
    return float(sum(rows)), len(rows)


def _pace(rings: Any, logged: date | None) -> float | None:
    if logged is None:
        return None
    metres, _ = _metres_since(rings, logged - FOUR_WEEKS + timedelta(days=1))
    return round(metres / FOUR_WEEKS.days, 2)


def _changed(site: Site, rings: Any, since: date) -> str:
    metres, count = _metres_since(rings, since)
    stops = [each for each in site.inspections if (each.ended_at or each.started_at).date() >= since]
    fitted = sum(fitting.action in ("change", "move", "swap") for each in stops for fitting in each.fittings)
    said = [f"{metres:.0f} m"] if count else []
    if stops:
        said.append(f"{len(stops)} inspection{'s' * (len(stops) > 1)}, {fitted} tool{'s' * (fitted != 1)} changed")
    return "; ".join(said) or "nothing on record"


def _ahead(site: Site, outlook: Outlook, found: Plan, asked: Asked) -> dict[str, Any]:
    from wearplan.history import Calendar

    past = np.median(outlook.wear_now_mm, axis=0) > outlook.limit_mm
    told: dict[str, Any] = {
        "headline": found.headline,
        "stops": len(found.stops),
        "entries": found.entries_under_pressure,
        "person_hours": found.person_hours_under_pressure,
        "expected_cost": found.expected_cost if found.keeps_rules else None,
        "past_limit": tuple(int(number) for number in outlook.numbers[past]),
        "tools_due": 0,
    }
    if found.stops:
        stop = found.stops[0]
        told |= {
            "next_chainage_m": stop.chainage_m,
            "next_window": stop.window,
            "next_mode": stop.mode,
            "next_on": Calendar(site, today=asked.day).date_at(stop.driven_m).isoformat(),
            "tools_due": sum(len(change.positions) for change in stop.changes),
        }
    return told


def _orders(found: Demand, day: date) -> tuple[tuple[str, str, int, str, str], ...]:
    """What the store is to do in the week from the day asked for."""
    return tuple(
        (action.what, action.tool_type, action.quantity, action.order_by.isoformat(), action.text)
        for action in found.actions
        if action.order_by <= day + WEEK
    )


def types_of(site: Site, fit: Fit) -> tuple[tuple[TypeSeen, ...], tuple[BatchSeen, ...]]:
    """Types and labelled batches that the drive's readings tell apart, the belief about a type taken out."""
    from wearplan.wear.evidence.groups import GROUP_SD

    types = []
    for each in fit.types:
        band = each.wear_times
        if band is None or not band.p05 or not band.p50 or not band.p95:
            continue
        sd = float(np.log(band.p95 / band.p05)) / (2 * 1.6449)
        precision = max(sd**-2.0 - GROUP_SD**-2.0, 0.0)
        if precision <= 0.0:
            continue
        one, other = site.wheel.tool_type(each.tool_type), site.wheel.tool_type(each.reference)
        types.append(
            TypeSeen(
                kind=each.kind,
                tool_type=each.tool_type,
                reference=each.reference,
                sizes=(one.diameter_mm, one.wear_limit_mm, other.diameter_mm, other.wear_limit_mm),
                mean=float(np.log(band.p50)) * sd**-2.0 / precision,
                precision=precision,
                tools=each.tools,
                reference_tools=each.reference_tools,
            )
        )
    batches = []
    for batch in fit.batches:
        times = batch.wear_times
        if batch.label and batch.named and times.p05 and times.p50 and times.p95:
            batches.append(
                BatchSeen(
                    kind=batch.kind, label=batch.label, p05=times.p05, p50=times.p50, p95=times.p95, tools=batch.tools
                )
            )
    return tuple(types), tuple(batches)


def rates_of(site: Site, fit: Fit) -> tuple[UnitRates, ...]:
    """What the drive's own readings say, kind by kind."""
    ground = site.ground()
    known = {unit.code: unit for unit in ground.units} if ground else {}
    found = []
    for kind, own in fit.by_kind.items():
        units = own.units
        mean, precision = own_words(own.posterior, len(units))
        rates = [fit.rate(kind, code) for code in units]
        tests = tuple(
            {key: float(value) for key in TESTS if (value := getattr(known.get(code), key, None)) is not None}
            for code in units
        )
        found.append(
            UnitRates(
                kind=kind,
                units=units,
                names=tuple(known[code].name if code in known else code for code in units),
                tests=tests,
                mean=tuple(map(float, mean)),
                precision=tuple(tuple(map(float, row)) for row in precision),
                alone=tuple((r.mm_per_km.p05, r.mm_per_km.p50, r.mm_per_km.p95) for r in rates),  # type: ignore[misc]
                readings=tuple(rate.readings for rate in rates),
            )
        )
    return tuple(found)


def _first_fault(faults: tuple[Fault, ...], folder: str, place: Path) -> str:
    if not faults:
        return "no site can be made of the folder"
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    return f"{faults[0]}".replace(f"{place}/", "").replace(str(place), folder) + more

"""The JSON of each answer. Keys carry their units; quantiles are always p05 p10 p25 p50 p75 p90 p95."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.fleet.rates import FleetRates
    from wearplan.fleet.records import Fleet
    from wearplan.fleet.types import FleetTypes
    from wearplan.plan import Plan
    from wearplan.site.records import Fault, Site
    from wearplan.site.write.appending import Appended
    from wearplan.wear import Backtest, Fit, Outlook

FORMAT = 1


def plain_data(value: Any) -> Any:
    """Records, arrays and dates as what JSON knows; what is not a finite number becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain_data(getattr(value, f.name)) for f in dataclasses.fields(value) if f.name != "origin"}
    if isinstance(value, Mapping):
        return {str(key): plain_data(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return [plain_data(item) for item in value.tolist()]
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain_data(item) for item in value]
    if isinstance(value, (bool, int, str)) or value is None:
        return value
    if isinstance(value, (float, np.floating)):
        return float(value) if np.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    if isinstance(value, Enum):
        return plain_data(value.value)
    if isinstance(value, Path):
        return str(value)
    raise TypeError(f"no JSON for {type(value).__name__}")


def envelope(site: Site | None, body: Mapping[str, Any], *, answer: str) -> dict[str, Any]:
    """The object every ``--json`` prints: what it is, when it was made, from which inputs, and the body."""
    return {
        "format": FORMAT,
        "answer": answer,
        "generated_at": datetime.now().astimezone().isoformat(timespec="seconds"),
        "inputs_sha256": site.inputs_sha256 if site else None,
        "invented": site.invented if site else None,
        **plain_data(body),
    }


def appended_body(appended: Appended) -> dict[str, Any]:
    """What adding rows to a file did."""
    return {
        "path": str(appended.path),
        "added": appended.added,
        "already": appended.already,
        "remarks": appended.remarks,
    }


def faults_body(faults: tuple[Fault, ...], remarks: tuple[str, ...] = (), found: int = 0) -> dict[str, Any]:
    """``faults[]`` of ``{file, line, place, what, code, forbids}``; the first ``remarks[]`` of ``remarks_found``."""
    return {"faults": faults, "remarks": remarks, "remarks_found": max(found, len(remarks))}


def fleet_body(
    fleet: Fleet, rates: FleetRates | None = None, types: FleetTypes | None = None, store: Demand | None = None
) -> dict[str, Any]:
    """``sites[]`` in the order asked for, ``first[]``, ``remarks[]``; with pooled rates ``rates``, ``next_drive`` and
    ``spread_between_drives`` (sd of the log rate); with one store over the drives ``store``, as `demand_body`."""
    left_out = ("rates", "types", "batches", "serials", "inspections", "use")
    sites = [{key: value for key, value in line.body().items() if key not in left_out} for line in fleet.lines]
    for site in sites:
        names = ("what", "tool_type", "quantity", "order_by", "text")
        site["orders"] = [dict(zip(names, order, strict=True)) for order in site["orders"]]
    body: dict[str, Any] = {
        "on": fleet.asked.day,
        "since": fleet.asked.since,
        "sites": sites,
        "first": fleet.first,
        "remarks": fleet.remarks,
        "kept": fleet.kept,
    }
    if rates is not None:
        body |= {
            "rates": rates.rates,
            "next_drive": rates.following,
            "spread_between_drives": rates.spreads,
            "rates_remarks": rates.remarks,
        }
    if types is not None:
        body |= {"types": types.types, "types_remarks": types.remarks}
    if store is not None:
        body["store"] = demand_body(store)
    return body


def rates_body(fit: Fit) -> dict[str, Any]:
    """Rates, zone factors, damage rates, stretches against their units, and what was flagged."""
    return {
        "reference_radius_mm": fit.reference_radius_mm,
        "reference_penetration_mm": fit.reference_penetration_mm,
        "rates": fit.rates,
        "zones": fit.zones,
        "damage": fit.damage,
        "layered_damage": fit.layered_damage,
        "stretches": fit.stretches,
        "pace": fit.pace,
        "types": fit.types,
        "batches": fit.batches,
        "flagged": fit.flagged,
        "remarks": fit.remarks,
    }


def outlook_body(outlook: Outlook, at_m: float | None = None) -> dict[str, Any]:
    """Every tool now and where it reaches its limit; with ``at_m`` also the wear there if nothing is changed."""
    body: dict[str, Any] = {
        "face_chainage_m": outlook.site.drive.chainage_m(outlook.face_m),
        "tools": [
            {
                "position": tool.position,
                "serial": tool.serial,
                "kind": tool.kind,
                "zone": tool.zone,
                "limit_mm": tool.limit_mm,
                "last_read": None
                if tool.last_read is None
                else {"chainage_m": tool.last_read[1], "id": tool.last_read[2]},
                "wear_now_mm": tool.wear_now_mm,
                "limit_chainage_m": tool.limit_chainage_m,
                "beyond_drive_probability": tool.beyond_drive_probability,
            }
            for tool in outlook.tools()
        ],
    }
    if at_m is not None:
        body["at"] = {
            "chainage_m": outlook.site.drive.chainage_m(at_m),
            "tools": [
                {"position": position, "wear_mm": wear, "over_limit_probability": over}
                for position, wear, over in zip(
                    outlook.numbers, outlook.quantiles_at(at_m), outlook.over_limit_probability(at_m), strict=True
                )
            ],
        }
    return body


def plan_body(plan: Plan) -> dict[str, Any]:
    """The plan, whole: stops with changes and cautions, deferral, trade-off, comparison, why impossible; ``exposure[]``
    counts entries and person-hours by mode and band of pressure."""
    from wearplan.plan import PLANNING_ESTIMATE
    from wearplan.plan.care.exposure import exposures
    from wearplan.report.approval import NOT_APPROVED, approval_words

    body = plain_data(plan)
    for told, stop in zip(body["stops"], plan.stops, strict=True):
        told["approval"] = approval_words(stop.pressure_source)
    found = exposures(plan.stops)
    body["exposure"] = plain_data(found)
    for told, row in zip(body["exposure"], found, strict=True):
        told["approval"] = NOT_APPROVED if "not approved" in row.band else "a source is recorded at each stop counted"
    return {
        **body,
        "headline": plan.headline,
        "whole_gap": plan.whole_gap,
        "plannable_cost": plan.plannable_cost,
        "caution": PLANNING_ESTIMATE.text,
    }


def backtest_body(backtest: Backtest) -> dict[str, Any]:
    """``methods[]`` of scores and what they rest on."""
    return dict(plain_data(backtest))


def demand_body(demand: Demand) -> dict[str, Any]:
    """``periods[]``, ``orders[]``, ``shortage[]`` and what stands beside them."""
    return dict(plain_data(demand))

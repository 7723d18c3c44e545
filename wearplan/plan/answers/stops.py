"""Stops and changes as records: hours, whole entries, schedule, cost, chances, dates."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.ground import sections as ground_sections
from wearplan.plan.ahead.terms import Terms
from wearplan.plan.ahead.tools import Ahead
from wearplan.plan.ahead.wear import wear_draws
from wearplan.plan.care.cautions import cautions_for
from wearplan.plan.care.exposure import band_of
from wearplan.plan.carry_out.costing import Work
from wearplan.plan.carry_out.moves import Move
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.optimise import served_before
from wearplan.plan.records import Change, Stop
from wearplan.plan.words import chance

from .reasons import change_sentence, reason_code, traced

if TYPE_CHECKING:
    from datetime import date

    from wearplan.site.records import Site


@dataclass(frozen=True, kw_only=True)
class Context:
    """What the records of all stops share."""

    model: Model
    stops: tuple[int, ...]
    visits: Bools
    done: list[Work]
    neighbour_made: Bools
    """(P, K+2) visits that the neighbour step asked for."""
    overcut_made: Bools
    calendar: Any
    seed: int
    moved: tuple[tuple[Move, ...], ...]
    """Part-worn tools put on at each stop."""
    forced: tuple[int, ...]


def stop_records(ctx: Context) -> tuple[Stop, ...]:
    """The stops of a plan, in order."""
    model, ahead, site = ctx.model, ctx.model.ahead, ctx.model.ahead.site
    ground = site.ground()
    lost, out = 0.0, []
    missing = not_seen(site, ahead)
    no_air_yet = not any(i.mode == "compressed air" for i in site.inspections)
    for k, (n, work) in enumerate(zip(ctx.stops, ctx.done, strict=True), start=1):
        terms = model.cands.term(n)
        here = float(model.cands.driven_m[n])
        when = _date(ctx.calendar, here, lost)
        lost += work.hours
        changes = _changes(ctx, k)
        section = ground_sections.section_at(ground, here) if ground and ground.sections else None
        unseen = missing if k == 1 else ()
        first_air, no_air_yet = no_air_yet and terms.under_pressure, no_air_yet and not terms.under_pressure
        out.append(
            Stop(
                driven_m=here,
                chainage_m=ahead.chainage_m(here),
                ring=int(model.cands.ring[n]),
                window=terms.window.name,
                kind=terms.window.kind,
                mode=terms.mode,
                pressure_bar=0.0 if terms.inside_only else terms.window.pressure_bar,
                pressure_source=terms.window.pressure_source,
                hours=work.hours,
                entries=work.entries,
                entries_under_pressure=work.entries_under_pressure,
                person_hours_under_pressure=work.person_hours if work.entries_under_pressure else 0.0,
                person_hours=work.person_hours,
                cost=work.cost + sum(c.cost for c in changes) - _work_share(ctx, k, n),
                date=when,
                schedule=work.schedule,
                cautions=cautions_for(
                    site,
                    terms.window,
                    terms=terms,
                    section=section,
                    first_air_on=when if first_air else None,
                    not_seen=len(unseen),
                    never_seen=sum(1 for u in unseen if u[2] is None),
                ),
                changes=changes,
                not_seen_since=unseen,
                reason="",
                forced=n in ctx.forced,
                planning_only=not terms.window.pressure_source,
                entry_row=_row_words(terms),
                exposure_band=band_of(terms, site.stops.entry_rows if site.stops else ()),
                clear_probability=_clear(ctx, k),
            )
        )
    return tuple(out)


def _row_words(terms: Terms) -> str | None:
    row = terms.row
    if row is None:
        return None
    return (
        f"{row.mode} up to {row.up_to_pressure_bar:g} bar: {row.working_hours_per_entry:g} h an entry, "
        f"{row.entries_per_day:g} entries a day, {row.persons} persons, {row.places} work places"
        f"{f'; {row.document}' if row.document else ''}"
    )


def _work_share(ctx: Context, k: int, n: int) -> float:
    """The part of the changes' own cost that is work: it is counted in the stop's hours."""
    return float(ctx.model.work_in_parts[ctx.visits[:, k], n].sum())


def _date(calendar: Any, driven_m: float, hours_lost: float) -> date | None:
    if calendar is None:
        return None
    when: date = calendar.date_at(driven_m, hours_lost=hours_lost)
    return when


def _clear(ctx: Context, k: int) -> float:
    """Chance that no tool passes its limit between the stop before and this one: places taken as independent."""
    model = ctx.model
    nodes = model.nodes_at(ctx.stops)
    last = nodes[served_before(ctx.visits)[:, k]]
    over = model.inter.over[np.arange(model.places), last, nodes[k]].astype(float)
    return float(np.prod(1.0 - over))


def _changes(ctx: Context, k: int) -> tuple[Change, ...]:
    model, ahead = ctx.model, ctx.model.ahead
    inter = model.inter
    nodes = model.nodes_at(ctx.stops)
    last = served_before(ctx.visits)
    n, left = int(nodes[k]), int(nodes[k + 1])
    out = []
    moved = ctx.moved[k - 1]
    taken = {m.to_tool: m for m in moved}
    given = {m.donor.tool: m for m in moved if m.donor.tool is not None}
    for p in (int(i) for i in np.flatnonzero(ctx.visits[:, k])):
        tool = ahead.tools[p]
        s = int(nodes[last[p, k]])
        wear_of = {e: _wear(ctx, e, s, n) for e in tool.edges}
        edge = max(tool.edges, key=lambda e: float(np.mean(wear_of[e])) / ahead.limit_mm[e])
        over, late = float(inter.over[p, s, left]), float(inter.late_chance[p, s, left])
        sound = 0.0 if s == 0 and tool.in_trouble else 1.0 - inter.late_at(p, s, n)
        trace = traced(ahead, tool, edge, s == 0)
        quantiles = _quantiles(wear_of[edge])
        reason = reason_code(
            over=over,
            cap=model.cap[p],
            neighbour=bool(ctx.neighbour_made[p, k]),
            overcut=bool(ctx.overcut_made[p, k]),
            trouble=trace.trouble is not None,
        )
        here, until = float(inter.node_m[n]), float(inter.node_m[left])
        hours = model.inside_hours[p] if tool.place.access == "inside" else (
            model.chamber_hours[p, n] * model.cands.term(n).work_places
        )  # fmt: skip
        change = Change(
            place=tool.place.code,
            positions=tool.place.positions,
            zone=tool.place.zone,
            access=tool.place.access,
            action="move" if p in taken and taken[p].donor.tool is not None else "change",
            from_position=_from_position(model, taken.get(p)),
            tool_type=tool.tool_type.code,
            fitted="part-worn" if p in taken else "new",
            reason=reason,
            sentence="",
            destination=_destination(model, given.get(p), sound=sound, core=tool.core),
            wear_mm=quantiles,
            limit_mm=float(ahead.limit_mm[edge]),
            left_until_m=until,
            left_until_chainage_m=ahead.chainage_m(until),
            over_limit_probability_if_left=over,
            over_damage_probability_if_left=late,
            hours=float(hours),
            cost=float(tool.price - tool.core * sound + model.work_in_parts[p, n]),
            last_read=trace.last_read,
            rests_on=trace.rests_on,
            rings=trace.rings,
            basis=traced_basis(ahead, tool.place.positions[0], here, until),
        )
        end = left == model.stops + 1
        out.append(
            replace(
                change,
                sentence=change_sentence(
                    change, kind=tool.tool_type.kind, cap=model.cap[p], trace=trace, to_end=end, ahead=ahead,
                    fitted_m=None if s == 0 else float(inter.node_m[s]),
                )
                + _move_words(taken.get(p), ahead.site.currency),
            )
        )  # fmt: skip
    return tuple(sorted(out, key=lambda c: c.positions))


def _from_position(model: Model, move: Move | None) -> int | None:
    if move is None or move.donor.tool is None:
        return None
    return model.ahead.tools[move.donor.tool].place.positions[0]


def _destination(model: Model, move: Move | None, *, sound: float, core: float) -> str:
    if move is not None:
        return f"position {model.ahead.tools[move.to_tool].place.positions[0]}"
    return "rebuild" if core > 0 and sound >= 0.5 else "scrap"


def _move_words(move: Move | None, currency: str) -> str:
    if move is None:
        return ""
    whence = (
        f"the tool from {move.donor.label}" if move.donor.tool is not None else f"{move.donor.label} from the shelf"
    )
    return (
        f" Put on: {whence}, about {move.donor.wear_mm:.1f} mm worn; it lasts its way here with a chance of passing "
        f"the limit of {chance(move.over)} and saves about {currency} {f'{move.saving:,.0f}'.replace(',', ' ')}."
    )


def _quantiles(draws: np.ndarray) -> Any:
    from wearplan.wear.quantiles import Quantiles

    return Quantiles.of(draws)


def _wear(ctx: Context, edge: int, start: int, end: int) -> np.ndarray:
    inter = ctx.model.inter
    return wear_draws(
        ctx.model.ahead,
        edge,
        from_m=None if start == 0 else float(inter.node_m[start]),
        to_m=float(inter.node_m[end]),
        seed=ctx.seed,
    )


def traced_basis(ahead: Ahead, position: int, from_m: float, to_m: float) -> str:
    """Units a tool's own track meets on a stretch, by share of its path, and the ground record they come from."""
    ground = ahead.site.ground()
    if ground is None or to_m <= from_m:
        return ""
    from wearplan.ground.shares import path_shares

    units = ground_sections.unit_codes(ahead.site)
    radius = np.array([ahead.outlook.layout.position(position).track_radius_mm])
    shares = np.zeros(len(units))
    for section in ground.sections:
        length = min(section.to_m, to_m) - max(section.from_m, from_m)
        if length > 0:
            shares += length * path_shares(section, track_radius_mm=radius, units=units)[0]
    if shares.sum() <= 0:
        return f"no ground cut until there ({ground.source}, {ground.known_on})"
    shares /= shares.sum()
    parts = [f"{u} {100 * s:.0f} %" for u, s in zip(units, shares, strict=True) if s >= 0.005]
    return f"{', '.join(parts)} of the path until there ({ground.source}, {ground.known_on})"


def not_seen(site: Site, ahead: Ahead) -> tuple[tuple[int, float | None, str | None], ...]:
    """Places not seen at the last stop, with where they were last seen; never seen: None."""
    from wearplan.history import in_order, last_seen

    seen = last_seen(site)
    records = in_order(site.inspections)
    newest = records[-1].id if records else None
    missing: list[tuple[int, float | None, str | None]] = []
    for number in (int(n) for n in ahead.outlook.numbers):
        where = seen.get(number)
        if where is None:
            missing.append((number, None, None))
        elif where[1] != newest:
            missing.append((number, ahead.chainage_m(where[0]), where[1]))
    return tuple(missing)


def finite(value: float) -> float | None:
    """None for what is not a number or has no bound."""
    return value if math.isfinite(value) else None

"""The plan: candidates, interval costs, the optimiser, repair, and the answers beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from .ahead.tools import OutlookLike
from .answers.impossible import cap_clash, entries_clash, no_window, row_clash, solver_clash
from .answers.lasts import last_sentence, last_stops
from .answers.reasons import stop_reason
from .answers.side import Side
from .answers.stops import Context, finite, stop_records
from .care.cautions import PLANNING_ESTIMATE
from .carry_out.choose import Found, search, settled
from .carry_out.costing import Likeliest, cost_parts, forced_stops, look_cost, total, works
from .carry_out.moves import moves
from .carry_out.neighbours import needed_by_neighbours
from .carry_out.overcut import overcut_repair
from .carry_out.whole_bound import bound_of_whole
from .kept import followed
from .model.asked import task
from .model.exact import AFTER_M, AT_ONCE, BY_REPAIR, GAP_OF, HOLDS, Bools, Model
from .model.refine import refined
from .records import Clash, Plan, Stop, Wishes
from .settings import SETTINGS
from .stopping import StopButton
from .words import at, some

if TYPE_CHECKING:
    from wearplan.site.records import Site

Report = Callable[..., None]
ShouldStop = Callable[[], bool]
_PROVED = 1e-3
_LIKELY = 0.5
"""With nowhere to stop, a tool more likely than this to pass its limit is due, where no cap is set."""


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A solved task on the way to a plan."""

    model: Model
    found: Found
    visits: Bools
    """(P, K+2) after all repair."""
    neighbour_made: Bools
    overcut_made: Bools
    remarks: tuple[str, ...]


def draft(model: Model, found: Found) -> Draft:
    """Repair overcut and note who was changed for which reason."""
    part = model.only(found.stops)
    visits, overcut_made, said = overcut_repair(part, found.visits)
    neighbour_made = needed_by_neighbours(part, visits)
    return Draft(
        model=model,
        found=found,
        visits=visits,
        neighbour_made=neighbour_made,
        overcut_made=overcut_made,
        remarks=said,
    )


def propose(
    site: Site,
    outlook: OutlookLike,
    *,
    wishes: Wishes | None = None,
    progress: Report | None = None,
    should_stop: ShouldStop | None = None,
) -> Plan:
    """Plan the stops of the drive ahead.

    Parameters
    ----------
    site
        With ``stops``; without windows and costs nothing can be planned.
    outlook
        From `wearplan.wear.look_ahead`.
    wishes
        Forced and forbidden stops, limits, and which of the side answers to work out.
    progress
        Called with words and the share done of the step.
    should_stop
        Asked now and then; True gives the best plan so far.

    Raises
    ------
    ValueError
        Where the site has no stops.toml in force.
    """
    if site.stops is None:
        raise ValueError("stops.toml is missing or faulty: without costs and windows no stop can be planned")
    wishes, followed_words = followed(site, wishes or Wishes())
    model, remarks = task(site, outlook, wishes, progress=progress)
    button = StopButton(wishes.time_limit_s, should_stop)
    model = settled(model, wishes.forced_windows, button)
    if progress:
        progress("choosing stops", None)
    fine = refined(model, should_stop=button)
    model = fine.model
    found = search(
        model,
        gap=wishes.gap,
        should_stop=button,
        polish=True,
        rows_or_not=True,
        solved=fine.solved,
        on_progress=None if progress is None else (lambda p: progress("choosing stops", None)),
    )
    remarks = (*followed_words, *remarks, *filter(None, [button.sentence]))
    beside = StopButton(wishes.time_limit_s, should_stop)
    side = Side(model, found, wishes, progress=progress, should_stop=beside)
    found = side.adopt(found)
    made = draft(model, found)
    plan = plan_of(made, wishes, remarks)
    if fine.solved is None and wishes.gap <= SETTINGS.whole.asked:
        plan = _with_whole_bound(made, plan, button)
    plan = side.answer(plan, made.visits)
    return _with_wish_cost(site, outlook, wishes, plan, beside)


def _with_whole_bound(made: Draft, plan: Plan, should_stop: ShouldStop) -> Plan:
    """What no plan costs less than in whole entries, where that is more than in parts."""
    if plan.expected_cost is None or not plan.keeps_rules or should_stop():
        return plan
    path = made.model.path_problem()
    by_person = getattr(should_stop, "by_person", should_stop)
    bound = bound_of_whole(made.model, path, plan.expected_cost, should_stop=by_person)
    return replace(plan, whole_lower_bound=finite(bound))


def _with_wish_cost(
    site: Site, outlook: OutlookLike, wishes: Wishes, plan: Plan, should_stop: ShouldStop
) -> Plan:
    """What the user's own stops and limits cost: the difference of the totals with and without them, whole entries in
    both; nothing where there are none.
    """
    free = replace(
        wishes, forced_m=(), forced_windows=(), forbidden_m=(), forbidden_windows=(), max_entries=None, margin=""
    )  # fmt: skip
    if not wishes.priced or free == wishes or plan.expected_cost is None or should_stop():
        return plan
    model, _ = task(site, outlook, free)
    effort = SETTINGS.beside
    fine = refined(model, should_stop=should_stop)
    model = fine.model
    found = search(
        model, gap=effort.wish_gap, most_nodes=effort.wish_nodes, should_stop=should_stop, polish=True,
        rows_or_not=True, solved=fine.solved,
    )  # fmt: skip
    if not found.possible:
        return plan
    visits = draft(model, found).visits
    without = total(cost_parts(model, found.stops, visits, works(model, found.stops, visits)))
    if plan.keeps_rules and plan.why_impossible is None and without > plan.expected_cost:
        # The wish leads to a plan that nobody forbade before: without it the cost is no higher.
        without = plan.expected_cost
    return replace(plan, forced_extra_cost=plan.expected_cost - without)


def plan_of(made: Draft, wishes: Wishes, remarks: tuple[str, ...]) -> Plan:
    """The plan as a record, without the side answers."""
    model, found, visits = made.model, made.found, made.visits
    ahead, site = model.ahead, model.ahead.site
    done = works(model, found.stops, visits)
    moved = moves(model, found.stops, visits, seed=wishes.seed)
    saved = sum(m.saving for each in moved for m in each)
    stops = stop_records(
        Context(
            model=model,
            stops=found.stops,
            visits=visits,
            done=done,
            neighbour_made=made.neighbour_made,
            overcut_made=made.overcut_made,
            calendar=_calendar(site),
            moved=moved,
            seed=wishes.seed,
            forced=model.forced,
        )
    )
    lasts = last_stops(model, found.stops)
    stops = tuple(_with_reason(model, stops, i, lasts) for i in range(len(stops)))
    clash = _why_impossible(model, found, wishes)
    entries = sum(s.entries_under_pressure for s in stops)
    too_many = clash is None and model.max_entries is not None and entries > model.max_entries
    if too_many:
        clash = entries_clash(model, entries)
    parts = cost_parts(model, found.stops, visits, done)
    forced, where = forced_stops(model, found.stops, visits)
    overdue = [r.tool for r in model.relaxed if r.overdue]
    said = [*remarks, *made.remarks]
    if overdue:
        who = some(n for p in overdue for n in ahead.tools[p].place.positions)
        said.append(
            f"Past their cap already where they stand: {who}. No plan can keep the cap there; they are due at the "
            f"first place to stop."
        )
    said += [last_sentence(last) for last in lasts if not last.planned]
    gap = finite(found.gap)
    return Plan(
        status="not_found" if too_many else _status(found, stops, clash),
        expected_cost=total(parts) if found.possible else None,
        model_cost=finite(found.model_cost),
        lower_bound=finite(found.lower_bound),
        gap=gap,
        parts=parts,
        forced_stops=forced,
        forced_sentence=_forced_words(model, forced, where),
        cannot_be_planned=min(parts.damage, look_cost(model, tuple(model.cands.stops))),
        entries_under_pressure=entries,
        person_hours_under_pressure=sum(s.person_hours_under_pressure for s in stops),
        stops=stops,
        why_impossible=clash,
        unusable=model.cands.unusable,
        last_stops=lasts,
        model_holds=(*HOLDS, _noticed(site)),
        met_by_repair=_repairs(model),
        gap_belongs_to=GAP_OF,
        cautions=_plan_cautions(stops),
        remarks=tuple(dict.fromkeys(said)),
        candidates=model.stops,
        places=model.places,
        finished=ahead.end_m - ahead.face_m < site.drive.ring_length_m / 2,
        wishes=wishes,
        moves_save=saved,
    )


def _forced_words(model: Model, forced: float, where: Likeliest | None) -> str:
    """Said where a forced stop is to be reckoned with; one in twenty drives goes unsaid."""
    if where is None or forced < 0.05:
        return ""
    low, high = (at(model.ahead.chainage_m(x)) for x in (where.from_m, where.to_m))
    return (
        f"Late tools are expected to stop the drive {forced:.1f} times outside these stops, most of all "
        f"{'/'.join(map(str, where.positions))} between {low} and {high}: it is changed there, and the cost counts it."
    )


def _noticed(site: Site) -> str:
    """When a passed limit is noticed: what the site says, else what is assumed."""
    after = site.stops.costs.noticed_after_m if site.stops else None
    return AT_ONCE if after is None else AFTER_M.format(after)


def _repairs(model: Model) -> tuple[str, ...]:
    wheel = model.ahead.site.wheel
    said = list(BY_REPAIR)
    if wheel.neighbour_step_limit_mm is not None:
        said.append(f"neighbour step of {wheel.neighbour_step_limit_mm:g} mm after every stop, on expected wear")
    if wheel.shield_diameter_m is not None:
        said.append("overcut until the next stop, on expected wear")
    if model.max_entries is not None:
        said.append("cap on whole entries (in the model: the least each stop takes)")
    return tuple(said)


def _plan_cautions(stops: tuple[Stop, ...]) -> tuple[Any, ...]:
    cautions = [PLANNING_ESTIMATE]
    for stop in stops:
        cautions += [c for c in stop.cautions if c not in cautions]
    return tuple(cautions)


def _status(found: Found, stops: tuple[Stop, ...], clash: Clash | None) -> str:
    if clash is not None:
        return "impossible"
    if not found.possible:
        return "not_found"
    apart = found.model_cost - found.lower_bound
    if abs(apart) <= 1.0:
        return "least_cost" if stops else "none_needed"
    if not found.finished and found.gap > _PROVED:
        return "best_found"
    if found.gap > 0.05:
        return "best_found"
    return "least_cost" if stops else "none_needed"


def _why_impossible(model: Model, found: Found, wishes: Wishes) -> Clash | None:
    unusable = model.cands.unusable
    clash = cap_clash(model, model.relaxed, unusable)
    if clash is not None:
        return clash
    if not found.possible:
        return solver_clash(model, found.clash, model.max_entries) if found.finished else None
    if found.without_rows:
        clash = row_clash(model, found.stops, found.visits)
        if clash is not None:
            return clash
    if not model.stops:
        over = model.inter.over[:, 0, -1]
        due = np.flatnonzero(over > np.where(np.isfinite(model.cap), model.cap, _LIKELY))
        if len(due):
            first = model.ahead.tools[due[0]]
            return Clash(
                rule="no window",
                places=(first.place.code,),
                positions=first.place.positions,
                from_m=model.ahead.face_m,
                to_m=model.ahead.end_m,
                from_chainage_m=model.ahead.chainage_m(model.ahead.face_m),
                to_chainage_m=model.ahead.chainage_m(model.ahead.end_m),
                sentence=no_window(model, unusable, due),
            )
    return None


def _with_reason(model: Model, stops: tuple[Stop, ...], index: int, lasts: tuple[Any, ...]) -> Stop:
    stop = stops[index]
    last = next((x for x in lasts if x.window == stop.window), None)
    said = last_sentence(last) if last else None
    after = stops[index + 1] if index + 1 < len(stops) else None
    return replace(stop, last_before=said, reason=stop_reason(model, stop, next_stop=after, last_before=said))


def _calendar(site: Site) -> Any:
    from wearplan.history import Calendar

    return Calendar(site)

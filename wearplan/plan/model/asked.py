"""The planning task a user asks for: outlook, windows and wishes made into a model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.plan.ahead.candidates import Candidates, candidates
from wearplan.plan.ahead.intervals import intervals
from wearplan.plan.ahead.terms import Terms, change_hours
from wearplan.plan.ahead.tools import Ahead, OutlookLike, Tool, look
from wearplan.plan.records import MARGINS, Wishes
from wearplan.plan.words import at

from .exact import F32, Floats, Model

if TYPE_CHECKING:
    from wearplan.site.records import Site

Report = Callable[..., None]


def task(
    site: Site, outlook: OutlookLike, wishes: Wishes, *, progress: Report | None = None
) -> tuple[Model, tuple[str, ...]]:
    """The planning task and remarks on the wishes."""
    assert site.stops is not None
    ahead = look(site, outlook)
    cands = candidates(site, site.stops, face_m=ahead.face_m, end_m=ahead.end_m, wishes=wishes)
    node_m = cands.driven_m
    tell = None if progress is None else (lambda share: progress("costs of every interval", share))
    renewal = np.array([t.price - 0.5 * t.life_value + middling_work(cands.terms, t) for t in ahead.tools])
    inter = intervals(ahead, node_m, renewal_cost=renewal, progress=tell)
    forced, remarks = forced_candidates(site, cands, wishes)
    limits = [x for x in (wishes.max_entries, site.stops.costs.max_compressed_air_entries) if x is not None]
    share, harder = MARGINS[wishes.margin]
    model = Model(
        ahead=ahead, cands=cands, inter=inter, forced=forced, max_entries=min(limits) if limits else None,
        cap_share=share, harder_over=None if harder == 1.0 else over_in_harder(ahead, node_m, harder),
    )  # fmt: skip
    return model, (*ahead.remarks, *cands.remarks, *remarks)


def over_in_harder(ahead: Ahead, node_m: Floats, factor: float) -> F32:
    """(P, N+1, N+2) chances of passing the limit where all rates ahead are ``factor`` times those expected."""
    outlook: Any = ahead.outlook
    harder = replace(outlook, potential_mm=np.asarray(outlook.potential_mm) * np.float32(factor))
    return intervals(replace(ahead, outlook=harder), node_m).over


def middling_work(terms: Sequence[Terms], tool: Tool) -> float:
    """Cost of the work of one change, entries in parts, the mean over the windows where the site gives its hours."""
    costs = []
    for each in terms:
        hours = change_hours(tool.tool_type, mode=each.mode, access=tool.place.access)
        if hours is not None and not each.inside_only:
            costs.append(each.hour_cost * hours / each.work_places)
    return sum(costs) / len(costs) if costs else 0.0


def forced_candidates(site: Site, cands: Candidates, wishes: Wishes) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """The candidates that stand for the user's forced stops, and what could not be forced."""
    forced, remarks = [], []
    for wanted in wishes.forced_m:
        near = cands.at(wanted, ring_m=site.drive.ring_length_m)
        if near is None:
            remarks.append(
                f"The stop forced at {at(site.drive.chainage_m(wanted))} lies in no usable window: not planned."
            )
        else:
            forced.append(near)
    for name in wishes.forced_windows:
        if not cands.named(name):
            remarks.append(f"The stop forced in {name!r} cannot be planned: no usable window of that name lies ahead.")
    if cands.standing is not None:
        forced.append(cands.standing)
    return tuple(sorted(set(forced))), tuple(remarks)

"""If no plan keeps the rules: the smallest set of places, stretch and rule that clash."""

from __future__ import annotations

import numpy as np

from wearplan.plan.model.exact import Bools, Model, Relaxed
from wearplan.plan.model.rows import Rows
from wearplan.plan.optimise import Clash as SolverClash
from wearplan.plan.records import Clash, UnusableWindow
from wearplan.plan.words import at, chance, some


def _clash(model: Model, rule: str, places: list[int], low: float, high: float, sentence: str) -> Clash:
    ahead = model.ahead
    tools = [ahead.tools[p] for p in places]
    return Clash(
        rule=rule,
        places=tuple(t.place.code for t in tools),
        positions=tuple(n for t in tools for n in t.place.positions),
        from_m=low,
        to_m=high,
        from_chainage_m=ahead.chainage_m(low),
        to_chainage_m=ahead.chainage_m(high),
        sentence=sentence,
    )


def cap_clash(model: Model, relaxed: tuple[Relaxed, ...], unusable: tuple[UnusableWindow, ...]) -> Clash | None:
    """The worst interval that breaks a cap though there is no stop in it; one place is enough to make the plan
    impossible.

    Places that are past their cap already at the face are no clash of the plan's: they are due at once.
    """
    real = [r for r in relaxed if not r.overdue and r.from_node < r.to_node]
    if not real:
        return None
    over = {r: float(model.inter.over[r.tool, r.from_node, r.to_node]) for r in real}
    first = min(real, key=lambda r: (r.from_node, -over[r]))
    same = [r for r in real if (r.from_node, r.to_node) == (first.from_node, first.to_node)]
    low, high = (float(model.inter.node_m[n]) for n in (first.from_node, first.to_node))
    ahead, tool = model.ahead, model.ahead.tools[first.tool]
    where = f"between {at(ahead.chainage_m(low))} and {at(ahead.chainage_m(high))}"
    why = _why_no_stop(model, first)
    barred = [u for u in unusable if low <= u.from_m <= high]
    helped = f" Not usable there: {some(f'{u.window} ({u.why})' for u in barred)}." if barred else ""
    fresh = "even when new" if first.from_node else "as it stands"
    cap = float(model.cap[first.tool])
    others = dict.fromkeys(r.tool for r in same if r.tool != first.tool)
    more = f" The same holds for {some(p for t in others for p in ahead.tools[t].place.positions)}." if others else ""
    sentence = (
        f"The tool at {'/'.join(map(str, tool.place.positions))} ({tool.place.zone}), {fresh}, would pass its limit "
        f"{where} with a "
        f"chance of {chance(over[first])}, the cap is {chance(cap)}, and {why}.{helped}{more}"
    )
    return _clash(model, "no window" if "window" in why else "cap", [first.tool], low, high, sentence)


def _why_no_stop(model: Model, first: Relaxed) -> str:
    if not model.serviceable[first.tool].any() and model.stops:
        code = model.ahead.tools[first.tool].tool_type.code
        return f"the site gives no change_hours for {code} in the modes of the windows ahead"
    if not model.stops or first.to_node == model.stops + 1:
        return "no usable window lies in that stretch"
    return "there is no place to stop in between"


def entries_clash(model: Model, entries: int) -> Clash:
    """The cap on entries, kept in parts of entries but by no plan found in whole ones."""
    low, high, most = model.ahead.face_m, model.ahead.end_m, model.max_entries
    sentence = (
        f"Counted whole, this plan takes {entries} entries under pressure where {most} {'is' if most == 1 else 'are'} "
        f"allowed, and none that keeps to that was found."
    )
    return _clash(model, "entries", [], low, high, sentence)


def row_clash(model: Model, stops: tuple[int, ...], visits: Bools) -> Clash | None:
    """The first row with too many past their limit at once in a plan made without the rows."""
    nodes = model.nodes_at(stops)
    rows = Rows.at(model.rows, nodes)
    over = rows.over_in(visits)
    broken = rows.too_many(over)
    if not broken.any():
        return None
    node = int(np.flatnonzero(broken.any(axis=0))[0])
    row = int(np.flatnonzero(broken[:, node])[0])
    rule, ahead = model.rows[row], model.ahead
    first = int(rows.first[row])
    places = [p for m, p in enumerate(rule.members) if over[first + m, node]]
    low, high = (float(model.inter.node_m[nodes[k]]) for k in (node - 1, node))
    who = some(n for p in places for n in ahead.tools[p].place.positions)
    sentence = (
        f"Of row {rule.name} no more than {rule.at_most:g} may be past the limit at once. Between "
        f"{at(ahead.chainage_m(low))} and {at(ahead.chainage_m(high))} {len(places)} would be ({who}), and no place to "
        f"stop that is allowed comes in time."
    )
    return _clash(model, "row", places, low, high, sentence)


def solver_clash(model: Model, found: SolverClash | None, max_entries: int | None) -> Clash:
    """The optimiser's own finding in the words of the trade."""
    ahead = model.ahead
    if found is None:
        return _clash(model, "cap", [], ahead.face_m, ahead.end_m, "No set of stops keeps all rules together.")
    low, high = (float(model.inter.node_m[min(n, model.stops + 1)]) for n in (found.from_node, found.to_node))
    # the last line is the look at the whole wheel, which holds how far the rows let it go
    places = tuple(p for p in found.places if p < model.places)
    names = some(n for p in places for n in ahead.tools[p].place.positions)
    where = f"between {at(ahead.chainage_m(low))} and {at(ahead.chainage_m(high))}"
    if found.rule.startswith("budget") or found.rule == "entries":
        needed = "more" if found.needed is None else f"at least {found.needed:g}"
        entries = "entry" if found.needed == 1 else "entries"
        allowed = "1 is" if max_entries == 1 else "none is" if max_entries == 0 else f"{max_entries} are"
        who = f"The tools at {names} need" if places else "Counted whole, the caps need"
        sentence = f"{who} {needed} {entries} under pressure {where}; {allowed} allowed."
        rule = "entries"
    elif found.rule.startswith("forced"):
        rule, sentence = "forced", f"A stop is both forced and forbidden {where}."
    else:
        rule = "cap"
        sentence = f"The tools at {names} cannot keep their rules {where} ({found.rule})."
        if found.would_help:
            helps = some(at(float(ahead.chainage_m(model.inter.node_m[n]))) for n in found.would_help)
            rule, sentence = "forbidden", sentence[:-1] + f"; a stop at {helps} would help, but is forbidden."
    return _clash(model, rule, list(places), low, high, sentence)


def no_window(model: Model, unusable: tuple[UnusableWindow, ...], due: np.ndarray) -> str:
    """Said where no window ahead can be used at all."""
    who = some(n for p in due for n in model.ahead.tools[p].place.positions)
    windows = (
        f" Not usable: {some(f'{u.window} ({u.why})' for u in unusable)}." if unusable else " No window is given ahead."
    )
    return f"The tools at {who} pass their limit before the end of the drive and no window ahead can be used.{windows}"

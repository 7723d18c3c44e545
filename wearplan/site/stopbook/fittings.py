"""What a stop took off and put on. A damaged record is kept as damaged: its places are then unknown.

All fittings of a stop are carried out on the wheel as found before the first of them, so a swap may be listed from
one side or from both.
"""

from __future__ import annotations

from typing import Any

from wearplan.site.forms.model import made
from wearplan.site.parse.document import Parsed
from wearplan.site.parse.faults import ALL, NOTHING
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import ACTIONS, Fitting
from wearplan.site.stopbook.known import UNKNOWN_FROM_HERE, Item, Known, items, number_in, origin_of, place_of

_FROM_ANOTHER_PLACE = ("move", "swap")
_HELD_BACK = ""
"""Code of what follows from a fault named elsewhere: the record is damaged by it and not named again."""


def read_fittings(parsed: Parsed, known: Known) -> list[Fitting]:
    """The fittings in the order of the file."""
    found: list[Fitting] = []
    first: dict[int, Fitting] = {}
    for item in items(parsed, "fitting"):
        position = place_of(parsed, known, "fitting", item)
        if position is None:
            continue
        if item.model is None:
            fitting = _damaged(parsed, known, item, position)
        else:
            code, what = _wrong(item.model, known, first)
            if what and code != _HELD_BACK:
                text = f"position {position}: {what}; {UNKNOWN_FROM_HERE}"
                parsed.fault(("fitting", item.at), text, code=code, forbids=NOTHING)
            origin = origin_of(parsed, "fitting", item)
            fitting = made(Fitting, item.model, damaged=what or None, origin=origin)
        _name_lost_source(parsed, known, item, fitting)
        found.append(fitting)
        first.setdefault(position, fitting)
    return found


def _damaged(parsed: Parsed, known: Known, item: Item, position: int) -> Fitting:
    """What can be told of a record that cannot be read: at least which places it was of."""
    source = number_in(item.raw, "from_position")
    action = item.raw.get("action") if isinstance(item.raw, dict) else None
    if action not in ACTIONS:
        action = "change" if source is None else "swap"
    return Fitting(
        position=position,
        action=str(action),
        from_position=source if source in known.positions else None,
        damaged=item.wrong,
        origin=origin_of(parsed, "fitting", item),
    )


def _name_lost_source(parsed: Parsed, known: Known, item: Item, fitting: Fitting) -> None:
    """A tool came from a place nobody can tell: some other place is not as the records have it, so this forbids."""
    if fitting.action not in _FROM_ANOTHER_PLACE or fitting.from_position in known.positions:
        return
    what = (
        f"position {fitting.position}: which place its tool came from cannot be told, so some other place is not as it "
        "is on record; correct it by a later record"
    )
    parsed.fault(("fitting", item.at, "from_position"), what, code="no-source", forbids=ALL)


def _wrong(model: Any, known: Known, first: dict[int, Fitting]) -> tuple[str, str]:
    """Code and wording of why a fitting cannot be trusted; empty for a sound one."""
    source, comes = model.from_position, model.action in _FROM_ANOTHER_PLACE
    if comes and source is None:
        return "contradiction", f"{model.action} needs the from_position"
    if not comes and source is not None:
        return "contradiction", f"{model.action} has no from_position; a tool from another place is moved or swapped"
    if comes and source == model.position:
        return "contradiction", f"{model.action} from the same position"
    if comes and source not in known.positions:
        return "unknown-position", f"there is no position {source} in wheel.toml"
    if model.position in first:
        return "doubled-fitting", f"something was fitted here already, in line {first[model.position].origin.line}"
    code = model.new_tool_type
    if code is not None and code not in known.types and known.left_out.may_be_type(code):
        return _HELD_BACK, f"its [[tool_type]] {shown(code)} in wheel.toml is faulty"
    if code is not None and code not in known.types:
        hint = did_you_mean(code, known.types)
        return "unknown-tool-type", f"no [[tool_type]] {shown(code)} in wheel.toml ({hint})"
    return "", ""

"""Tools by their serials from change to change: what cannot be is asked, never put right in silence."""

from __future__ import annotations

from collections.abc import Sequence

from wearplan.take.asking import Answers
from wearplan.take.records.stops import Change, Stop
from wearplan.take.records.wheel import WheelTaken


def check_serials(stops: Sequence[Stop], wheel: WheelTaken, answers: Answers) -> None:
    """Follow every tool through the changes; ask where one stands at two places or was taken off where it never was."""
    names = {place.number: place.name for place in wheel.places}
    changes = [(stop, change) for stop in stops for change in stop.changes.values()]
    for at, (stop, change) in enumerate(changes):
        if change.action != "change" or change.at is None:
            continue
        at_place, off = _state(changes[:at], stop)
        old, new = change.old_serial, change.new_serial
        if old is not None and new is not None and old in off and _fits(changes, at, old, new):
            _exchange(change, names, answers)
        elif (
            new is not None
            and (here := next((p for p, s in at_place.items() if s == new and p != change.place), None)) is not None
        ):
            leaves = any(c.old_serial == new and c.place == here for s, c in changes if s is stop)
            if not leaves:
                _two_places(change, here, changes, at, names, answers)


def _state(before: Sequence[tuple[Stop, Change]], stop: Stop) -> tuple[dict[int, str], set[str]]:
    """Serials known to stand at a place, and those known to be off the wheel, before a change."""
    at_place: dict[int, str] = {}
    off: set[str] = set()
    for _, change in before:
        if change.action in ("swap", "move") and change.from_place is not None:
            one, other = at_place.pop(change.place, None), at_place.pop(change.from_place, None)
            if other is not None:
                at_place[change.place] = other
            if one is not None and change.action == "swap":
                at_place[change.from_place] = one
            continue
        at_place.pop(change.place, None)
        if change.old_serial is not None:
            off.add(change.old_serial)
        if change.new_serial is not None:
            at_place[change.place] = change.new_serial
            off.discard(change.new_serial)
    return at_place, off


def _fits(changes: Sequence[tuple[Stop, Change]], at: int, old: str, new: str) -> bool:
    """Whether the other way round contradicts nothing: the one put on was never off or on before."""
    return not any(new in (c.old_serial, c.new_serial) for _, c in changes[:at])


def _exchange(change: Change, names: dict[int, str], answers: Answers) -> None:
    assert change.at is not None
    sheet, row, column = change.at
    answer = answers.ask_cell(
        sheet,
        row,
        column,
        f"{change.old_serial} is said to be taken off place {names[change.place]}, but was taken off "
        "before and not put on "
        f"since: are {change.old_serial} and {change.new_serial} the wrong way round?",
        ("wrong way round", "as written"),
        "wrong way round",
    )
    change.open = answer is None
    if answer != "as written":
        change.old_serial, change.new_serial = change.new_serial, change.old_serial


def _two_places(
    change: Change, here: int, changes: Sequence[tuple[Stop, Change]], at: int, names: dict[int, str], answers: Answers
) -> None:
    assert change.at is not None
    sheet, row, column = change.at
    earlier = next(((s, c) for s, c in reversed(changes[:at]) if c.new_serial == change.new_serial), None)
    taken_here = next(
        (c.old_serial for _, c in changes[at + 1 :] if c.place == change.place and c.action == "change"), None
    )
    taken_there = next((c.old_serial for _, c in changes[at + 1 :] if c.place == here and c.action == "change"), None)
    choices = []
    if taken_here not in (None, change.new_serial):
        choices.append(f"{taken_here} here")
    if earlier is not None and taken_there not in (None, change.new_serial):
        choices.append(f"{taken_there} at place {names[here]}")
    choices += ["no serial here", "as written"]
    answer = answers.ask_cell(
        sheet,
        row,
        column,
        f"{change.new_serial} is put on at place {names[change.place]}, but stands at place "
        f"{names[here]} by an earlier row"
        + (f"; a later row takes {taken_here} off here" if choices[0].endswith(" here") and taken_here else "")
        + ": which serial is right?",
        choices,
        choices[0],
    )
    change.open = answer is None
    _settle_serial(change, choices[0] if answer is None else answer, earlier[1] if earlier else None)


def _settle_serial(change: Change, answer: object, earlier: Change | None) -> None:
    """The serial put on here, or the one put on at the other place before, as the answer has it."""
    if answer == "no serial here":
        change.new_serial = None
    elif answer == "as written":
        return
    elif str(answer).endswith(" here"):
        change.new_serial = str(answer).removesuffix(" here")
    elif " at place " in str(answer) and earlier is not None:
        earlier.new_serial = str(answer).split(" at place ")[0]
    else:
        change.new_serial = str(answer)

"""One store over many drives: what they need together, counted on the draws that the drives' own lines came from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from wearplan.fleet.packed import unpack_use
from wearplan.fleet.records import Line

if TYPE_CHECKING:
    from wearplan.demand import Demand


class NoStore(ValueError):
    """The drives cannot be counted as one store; the message says why."""


def store_of(lines: Sequence[Line], day: date) -> Demand:
    """The demand of every drive that has a plan, on one store.

    Raises
    ------
    NoStore
        Where no drive has a plan that keeps the rules, or they count in different currencies.
    """
    from wearplan.demand import forecast

    counted = [line for line in lines if line.use]
    if not counted:
        raise NoStore("no drive has a plan that keeps the rules, so nothing can be foretold for a store")
    currencies = sorted({line.currency for line in counted})
    if len(currencies) > 1:
        raise NoStore(f"one store counts in one currency; these drives are in {', '.join(currencies)}")
    return forecast([unpack_use(line.use) for line in counted], as_of=day)

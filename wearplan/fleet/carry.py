"""What the fleet learnt, as a next drive's expectation."""

from __future__ import annotations

from collections.abc import Sequence

from wearplan.fleet.rates import FleetRates, NextRate
from wearplan.fleet.records import Line


def expected_rates_of(rates: FleetRates, lines: Sequence[Line]) -> str:
    """TOML lines of ``expected_rate`` by class of ground, to paste into the ground file of the next drive.

    Notes
    -----
    ``mm_per_km`` is the middle of what a next drive may expect before its first reading; ``factor`` is one standard
    deviation of its logarithm, so that it covers about two thirds of the doubt: the classes' own, and the spread
    between drives with the doubt in it.
    """
    names = ", ".join(_plain(line.name) + _mark(line) for line in lines if line.rates)
    spread = "; ".join(f"{s.kind} {s.middle:.2f} ({s.p05:.2f}-{s.p95:.2f})" for s in rates.spreads)
    said = [
        f"# Source: readings of {names}, pooled.",
        "# factor: the doubt before a next drive's first reading, with the spread between drives as it shows in these:",
        f"# sd of the log rate by kind {spread}.",
        "# Put each list under the [[unit]] that is the same ground in the next drive's ground file.",
    ]
    by_class: dict[str, list[NextRate]] = {}
    for rate in rates.following:
        by_class.setdefault(rate.class_name, []).append(rate)
    for name, found in by_class.items():
        members = "; ".join(_plain(member) for member in found[0].members)
        said += [f"# {_plain(name)} ({members})", "expected_rate = ["]
        said += [
            f'  {{ kind = "{rate.kind}", mm_per_km = {rate.mm_per_km:.4g}, factor = {rate.factor:.2f} }},'
            f"  # from {len(rate.drives)} drive{'s' * (len(rate.drives) > 1)}: {_plain(', '.join(rate.drives))}"
            for rate in found
        ]
        said.append("]")
    return "\n".join(said) + "\n"


def _mark(line: Line) -> str:
    return " (invented)" if line.invented and "invented" not in line.name else ""


def _plain(text: str) -> str:
    """One line without control characters: nothing in a name can end the comment it stands in."""
    return "".join(letter if letter.isprintable() else " " for letter in text)

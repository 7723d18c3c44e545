"""What is said wherever a mode or a pressure stands: whether a source is recorded for it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.tables.table import Worded
from wearplan.report.words import chainage_text, listing, plain

if TYPE_CHECKING:
    from wearplan.plan import Stop

NOT_APPROVED = "not approved, planning only"
CAUTION = PLANNING_ESTIMATE.text


def approval_words(source: str | None) -> str:
    """Source of a pressure, or that it has none."""
    return f"source: {plain(source)}" if source else NOT_APPROVED


def approval_cell(source: str | None) -> Worded:
    """For the last column of a table; in CSV, which has no notes, the caution goes with it."""
    words = approval_words(source)
    return Worded(f"{words}. {CAUTION}", words)


def mode_cell(stop: Stop) -> Worded:
    """The mode of a stop, never without a word where no source is recorded for its pressure."""
    return Worded(stop.mode, stop.mode if stop.pressure_source else f"{stop.mode}, not appr.")


def approval_notes(stops: Iterable[Stop]) -> tuple[str, ...]:
    """The caution, and those stops whose pressure has no source."""
    bare = [f"{chainage_text(s.chainage_m)} ({plain(s.window)})" for s in stops if not s.pressure_source]
    told = (f"No source is recorded for the pressure, so {NOT_APPROVED}: {listing(bare, 60)}.",) if bare else ()
    return (CAUTION, *told)

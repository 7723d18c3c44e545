"""Wear against limit from the centre to the gauge, one bar a place; and rows of bands against a limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wearplan.report.drawing.face import level_of_share
from wearplan.report.drawing.sheet import Sheet

HEADROOM = 1.15
"""Shares of the limit the chart has room for; what is more carries a sign above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One place: share of its limit used now and, if left, at a chosen stop."""

    number: int
    share: float | None
    later: float | None = None
    due: bool = False
    damaged: bool = False


def profile_sheet(
    bars: Sequence[Bar], *, width: int, height: int, picked: int = 0, name: str = "", plain: bool = False
) -> Sheet:
    """Bars in the order given; ``height`` rows with the numbers below, at least 5.

    A dot over a bar is where it stands at the chosen stop if left; a sign above the limit says that it is past it by
    then, a sign below the bars that it is changed at the next stop.
    """
    sheet = Sheet(width, height, plain=plain)
    left, tall = 6, max(2, height - 2)
    step = 2 if len(bars) * 2 <= width - left else 1
    limit = 2 * tall * (1 - 1 / HEADROOM)
    sheet.line(2 * left, 2 * limit, 2 * min(width, left + step * len(bars)) - 1, 2 * limit, "limit", every=3, on=2)
    sheet.text(round(limit) // 2, 0, "limit", "limit")
    sheet.text(tall - 1, 4, "0", "dim")
    if name:
        sheet.text(0, 0, name, "head")
    for index, bar in enumerate(bars):
        _bar(sheet, bar, left + index * step, tall, limit, picked)
    last = -9
    for index, bar in enumerate(bars):
        column, words = left + index * step, str(bar.number)
        if column - last >= 2 and (index % 5 == 0 or bar.number == picked):
            sheet.text(height - 1, column, words, "pick" if bar.number == picked else "dim")
            last = column + len(words)
    return sheet


def _bar(sheet: Sheet, bar: Bar, column: int, tall: int, limit: float, picked: int) -> None:
    level = "unseen" if bar.share is None else level_of_share(bar.share)
    if bar.share is None:
        sheet.text(tall - 1, column, sheet.signs.unread, "unseen")
    elif bar.share > 0:
        top = min(2 * tall - 1, 2 * tall - (2 * tall - limit) * min(bar.share, HEADROOM))
        sheet.band(column, top, 2 * tall, "pick" if bar.number == picked else level)
    if bar.damaged:
        sheet.text(0, column, sheet.signs.damaged, "damaged")
    elif max(bar.share or 0.0, bar.later or 0.0) >= 1:
        now = (bar.share or 0.0) >= 1
        sheet.text(0, column, sheet.signs.up, "over" if now else "limit")
    elif bar.later is not None:
        y = 2 * (2 * tall - (2 * tall - limit) * bar.later)
        sheet.dot(2 * column, round(y), "later")
    if bar.due:
        sheet.text(tall, column, sheet.signs.down, "due")


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A band of wear against a limit: 5, 25, 50, 75 and 95 per cent."""

    quantiles: tuple[float, ...]
    limit: float


def span_sheet(spans: Sequence[Span], *, width: int, plain: bool = False) -> Sheet:
    """One row a band; all limits stand in one column, four fifths along."""
    sheet = Sheet(width, max(1, len(spans)), plain=plain)
    at_limit = round(0.8 * (width - 1))

    def column(share: float) -> int:
        return min(width - 1, max(0, round(share * at_limit)))

    for row, span in enumerate(spans):
        sheet.text(row, at_limit, ":" if plain else "┊", "limit")
        low, quarter, middle, three, high = (column(value / (span.limit or 1.0)) for value in span.quantiles)
        sheet.text(row, low, sheet.signs.whisker * (high - low + 1), "band line")
        sheet.text(row, quarter, ("=" if plain else "━") * (three - quarter + 1), "half line")
        sheet.text(row, middle, sheet.signs.middle, "middle")
    return sheet


def bar_sheet(shares: Sequence[float | None], *, width: int, plain: bool = False) -> Sheet:
    """One row a share of the limit used; the limit stands in the last column but one."""
    sheet = Sheet(width, max(1, len(shares)), plain=plain)
    at_limit = max(1, width - 2)
    for row, share in enumerate(shares):
        if share is None:
            sheet.text(row, 0, sheet.signs.unread, "unseen")
        for column in range(round(min(share or 0.0, 1.1) * at_limit)):
            sheet.band(column, 2 * row, 2 * row + 2, level_of_share(share))
        sheet.text(row, at_limit, ":" if plain else "┊", "limit")
    return sheet

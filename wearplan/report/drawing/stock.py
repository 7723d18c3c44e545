"""Every type of the store: the shelf by date if nothing more is ordered, deliveries, order-by days, stops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from wearplan.report.drawing.fan import Fan, fan_sheet
from wearplan.report.drawing.sheet import Sheet, signs
from wearplan.report.words import count_text, plain

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.demand.records import StockLine
    from wearplan.plan import Plan
    from wearplan.site.records import Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """One type of tool with all that is drawn of it."""

    line: StockLine
    now: float
    deliveries: tuple[date, ...]
    """Of orders on the way."""
    comes: tuple[date, ...]
    """Of what is to be asked for now."""
    order_by: tuple[date, ...]
    stops: tuple[tuple[date, int], ...]

    @property
    def short_from(self) -> date | None:
        """First day on which a tool is missing in more than one draw of twenty."""
        return next((day for day, low in zip(self.line.dates, self.line.p05, strict=True) if low < 0), None)


def shelves(demand: Demand, site: Site, plan: Plan | None) -> tuple[Shelf, ...]:
    """One a type, in the order of the demand."""
    on_way = {stock.tool_type: stock.on_order for stock in site.stores.stock} if site.stores else {}
    stops = [(stop.date, number, stop.changes) for number, stop in enumerate(plan.stops if plan else (), 1)]
    out = []
    for line in demand.stock_lines:
        acts = [action for action in demand.orders if action.tool_type == line.tool_type]
        out.append(
            Shelf(
                line=line, now=line.p50[0] if line.p50 else 0.0,
                deliveries=tuple(order.due for order in on_way.get(line.tool_type, ()) if order.due is not None),
                comes=tuple(a.comes for a in acts if a.comes is not None),
                order_by=tuple(a.order_by for a in acts),
                stops=tuple(
                    (day, number) for day, number, changes in stops
                    if day is not None and any(change.tool_type == line.tool_type for change in changes)
                ),
            )
        )  # fmt: skip
    return tuple(out)


def shelf_sheet(shelf: Shelf, *, width: int, height: int, plain_signs: bool = False) -> Sheet:
    """The chart of one type, its name on the first row."""
    sheet, line = Sheet(width, height, plain=plain_signs), shelf.line
    sheet.text(0, 0, plain(line.tool_type), "head")
    sheet.text(0, len(line.tool_type) + 2, f"{count_text(shelf.now)} now{_short_words(shelf)}"[:width], "dim")
    if not line.dates or height < 4:
        return sheet
    start = line.dates[0]
    mark = sheet.signs
    below = [((day - start).days, mark.arrives, "arrives") for day in shelf.deliveries]
    below += [((day - start).days, mark.ordered, "ordered") for day in shelf.comes]
    below += [((day - start).days, "!", "barred") for day in shelf.order_by]
    below += [((day - start).days, str(number), "stop") for day, number in shelf.stops]
    days = np.array([(day - start).days for day in line.dates], float)
    levels = np.array([line.p05, line.p50, line.p50, line.p50, line.p95], float)
    fan = Fan(
        at=days, levels=levels, step=True, below=tuple(each for each in below if 0 <= each[0] <= days[-1]) or _BLANK,
        names=("", ""),
    )  # fmt: skip
    drawn = fan_sheet(
        fan, width=width, height=height - 1, plain=plain_signs, unit="",
        x_text=lambda day: f"{start + timedelta(days=round(day)):%d %b %y}", y_text=count_text,
    )  # fmt: skip
    sheet.paste(drawn, 1, 0)
    return sheet


_BLANK = ((0.0, " ", ""),)


def _short_words(shelf: Shelf) -> str:
    day = shelf.short_from
    return "" if day is None else f", may be short from {day}"


def shelves_sheet(all_of_them: Sequence[Shelf], *, width: int, height: int, plain_signs: bool = False) -> Sheet:
    """Every type: charts side by side where there is room for them, else one line a type."""
    columns = max(1, min(len(all_of_them), width // 56))
    deep = -(-len(all_of_them) // columns) if all_of_them else 1
    tall = min(12, height // deep)
    if tall < 6:
        return shelf_rows(all_of_them, width=width, height=height, plain_signs=plain_signs)
    sheet, wide = Sheet(width, height, plain=plain_signs), width // columns - 2
    for index, shelf in enumerate(all_of_them):
        drawn = shelf_sheet(shelf, width=wide, height=tall, plain_signs=plain_signs)
        sheet.paste(drawn, (index // columns) * tall, (index % columns) * (wide + 2))
    return sheet


def shelf_rows(all_of_them: Sequence[Shelf], *, width: int, height: int, plain_signs: bool = False) -> Sheet:
    """One line a type: on the shelf now, from when it may be short, by when to order, and the low band by date."""
    sheet = Sheet(width, max(1, height), plain=plain_signs)
    name = min(20, max([9, *(len(plain(shelf.line.tool_type)) for shelf in all_of_them)]))
    sheet.text(0, 0, "Store", "head")
    sheet.right(0, name + 5, "now", "dim")
    sheet.text(0, name + 7, "short from", "dim")
    sheet.text(0, name + 19, "order by", "dim")
    room = width - name - 31
    if room >= 8:
        sheet.text(0, name + 31, "low end of nine in ten by date, x missing"[:room], "dim")
    for row, shelf in enumerate(all_of_them[: height - 1], start=1):
        sheet.text(row, 0, plain(shelf.line.tool_type)[:name], "plain")
        sheet.right(row, name + 5, count_text(shelf.now), "plain")
        none = "-" if plain_signs else "—"
        sheet.text(row, name + 7, str(shelf.short_from or none), "due")
        sheet.text(row, name + 19, str(min(shelf.order_by, default=none)), "due")
        if room >= 8 and shelf.line.dates:
            _spark(sheet, shelf.line, row, name + 31, room)
    return sheet


def _spark(sheet: Sheet, line: StockLine, row: int, left: int, room: int) -> None:
    index = np.linspace(0, len(line.dates) - 1, room).astype(int)
    low, top = np.array(line.p05, float)[index], max(1.0, float(max(line.p05)))
    for column, value in enumerate(low.tolist()):
        if value < 0:
            sheet.text(row, left + column, sheet.signs.barred, "barred")
        else:
            sheet.text(row, left + column, sheet.signs.block(value / top) if value > 0 else " ", "free")


def shelf_key(plain_signs: bool) -> tuple[tuple[str, str], ...]:
    """What the signs under the charts mean."""
    mark = signs(plain_signs)
    return (
        (mark.arrives, "arrives"), (" due already  ", "dim"),
        (mark.ordered, "ordered"), (" asked for now, comes  ", "dim"),
        ("!", "barred"), (" order by  ", "dim"), ("1 2", "stop"), (" stops  ", "dim"),
        ("." if plain_signs else "░", "band"), (" nine in ten, if nothing more is ordered", "dim"),
    )  # fmt: skip

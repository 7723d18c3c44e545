"""One table, written as terminal text, CSV, Markdown or HTML.

The four writings show the same cells, so the terminal, the page and a mail cannot disagree.
"""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from wearplan.report.tables.columns import Column as Column
from wearplan.report.tables.columns import Fitted, fit_columns
from wearplan.report.words import chance_text, count_text, held, marked, percent_text, plain, significant_text, wrapped
from wearplan.site.parse.safe_text import safe_cell


@dataclass(frozen=True, slots=True)
class Band:
    """A middle value with the range it lies in nine times out of ten; an open end is None."""

    p05: float | None
    p50: float | None
    p95: float | None


@dataclass(frozen=True, slots=True)
class Worded:
    """A value that people are told in words; CSV has the value itself, so that a spreadsheet can sort it."""

    value: Any
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under columns, with a title and notes."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]
    notes: tuple[str, ...] = ()
    caution: str = ""
    """Said with a table that names a mode or a pressure: the last note, and in CSV, which has no notes, the last
    column."""

    @property
    def told(self) -> tuple[str, ...]:
        """The notes, the caution last."""
        return (*self.notes, self.caution) if self.caution and self.rows else self.notes

    def cells(self) -> list[list[str]]:
        """Every cell as it is shown."""
        return [
            [shown(value, column.form) for value, column in zip(row, self.columns, strict=True)] for row in self.rows
        ]

    def text(self, width: int = 100) -> str:
        """Lines for a terminal of ``width`` characters.

        Where it is narrow, heads are folded; then spare columns go and are named below; then the last column of long
        text stands under its row.
        """
        cells = self.cells()
        fitted = fit_columns(self.columns, cells, width)
        lines = [plain(self.title), ""] if self.title else []
        heads = [_folded(plain(self.columns[i].head), fitted.wide[i]) for i in fitted.kept]
        deep = max((len(head) for head in heads), default=0)
        lines += self._rows([[""] * (deep - len(head)) + head for head in heads], fitted)
        lines.append("  ".join("─" * fitted.wide[i] for i in fitted.kept))
        for row in cells:
            parts = [_folded(row[i], fitted.wide[i]) if i in fitted.wraps else [row[i]] for i in fitted.kept]
            lines += self._rows(parts, fitted)
            if fitted.below is not None and row[fitted.below]:
                lines += [f"    {line}" for line in _folded(row[fitted.below], width - 4)]
        if not cells:
            lines.append("(none)")
        if fitted.dropped:
            names = dict.fromkeys(self.columns[i].head for i in sorted(fitted.dropped))
            lines += _folded(plain(f"left out for lack of width: {', '.join(names)}"), width)
        for note in self.told:
            lines += _folded(plain(note), width)
        return "\n".join(line.rstrip() for line in lines)

    def _rows(self, parts: Sequence[Sequence[str]], fitted: Fitted) -> list[str]:
        """Cells of one row, folded or not, as lines."""
        widths, right = [fitted.wide[i] for i in fitted.kept], [self.columns[i].right for i in fitted.kept]
        return [
            _line([part[depth] if depth < len(part) else "" for part in parts], widths, right)
            for depth in range(max((len(part) for part in parts), default=0))
        ]

    def csv(self) -> str:
        """CSV with raw numbers; a band takes three columns. Cells a spreadsheet would run are made harmless."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        bands = [any(isinstance(row[i], Band) for row in self.rows) for i in range(len(self.columns))]
        head: list[str] = []
        for column, band in zip(self.columns, bands, strict=True):
            head += [f"{column.key}_{q}" for q in ("p05", "p50", "p95")] if band else [column.key]
        last = [harmless(self.caution)] if self.caution else []
        writer.writerow([*head, *(["caution"] if last else [])])
        for row in self.rows:
            line: list[Any] = []
            for value, band in zip(row, bands, strict=True):
                if band:
                    line += [value.p05, value.p50, value.p95] if isinstance(value, Band) else [value, None, None]
                else:
                    line.append(value.value if isinstance(value, Worded) else value)
            writer.writerow([*(harmless(cell) for cell in line), *last])
        return out.getvalue()

    def markdown(self) -> str:
        """A pipe table; names and notes cannot turn into markup."""
        heads = [marked(column.head) for column in self.columns]
        rule = ["--:" if column.right else "---" for column in self.columns]
        rows = [[marked(cell) for cell in row] for row in self.cells()]
        lines = [f"### {marked(self.title)}", ""] if self.title else []
        lines += [f"| {' | '.join(row)} |" for row in [heads, rule, *rows]]
        notes = [f"{marked(note)}\n" for note in self.told]
        return "\n".join([*lines, "", *notes, ""])

    def html(self) -> str:
        """A ``<table>`` with a caption and header cells; on a phone the rows of one with long text become blocks."""
        stack = any(column.wrap for column in self.columns)
        kinds = [name for name, holds in (("stack", stack), ("short", len(self.rows) <= 12)) if holds]
        role = _role if stack else _no_role
        heads = "".join(
            f'<th scope="col"{_side(column)}{role("columnheader")}>{_safe(column.head)}</th>' for column in self.columns
        )
        lines = []
        for row in self.cells():
            cells = "".join(
                f"<td{_side(column)}{role('cell')}{_label(column) if stack else ''}>{_cell(cell, column)}</td>"
                for cell, column in zip(row, self.columns, strict=True)
            )
            lines.append(f"<tr{role('row')}>{cells}</tr>\n")
        notes = "".join(f'<p class="note">{_safe(note)}</p>' for note in self.told)
        title = _safe(self.title)
        caption = f"<caption>{title}</caption>" if title else ""
        named = f' class="{" ".join(kinds)}"' if kinds else ""
        table = (
            f"<table{named}{role('table')}>{caption}<thead{role('rowgroup')}><tr{role('row')}>{heads}</tr></thead>\n"
            f"<tbody{role('rowgroup')}>{''.join(lines)}</tbody></table>"
        )
        return f'<div class="wide" role="region" aria-label="{title}" tabindex="0">{table}</div>{notes}'


def shown(value: Any, form: str) -> str:
    """One cell as people read it."""
    if value is None:
        return "—"
    if isinstance(value, Band):
        low, mid, high = (shown(part, form) if part is not None else "…" for part in (value.p05, value.p50, value.p95))
        return f"{mid} ({low}–{high})"
    if isinstance(value, Worded | str):
        return plain(value.words if isinstance(value, Worded) else value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if form.startswith("fixed"):
        return count_text(value, int(form[5:]))
    return _FORMS.get(form, str)(value)


_FORMS: dict[str, Callable[[Any], str]] = {
    "percent": percent_text,
    "chance": chance_text,
    "percent1": lambda share: f"{100 * share:.1f} %",
    "sig": significant_text,
    "int": count_text,
}


def harmless(cell: Any) -> Any:
    """A text that a spreadsheet would take for a formula gets a leading apostrophe."""
    if isinstance(cell, str):
        return safe_cell(cell)
    return "" if cell is None else cell


def _safe(words: str) -> str:
    return html.escape(held(plain(words)), quote=True)


def _cell(words: str, column: Column) -> str:
    return _safe(words) if column.wrap else html.escape(words)  # a column of short cells does not break


def _role(name: str) -> str:
    return f' role="{name}"'  # blocks lose what they mean in a table unless it is said


def _no_role(name: str) -> str:
    return ""


def _label(column: Column) -> str:
    return f' data-head="{_safe(column.head)}"'


def _side(column: Column) -> str:
    return f' class="{"n" if column.right else "w" if column.wrap else "s"}"'


def _line(words: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> str:
    return "  ".join(
        word.rjust(width) if flush else word.ljust(width)
        for word, width, flush in zip(words, widths, right, strict=True)
    )


def _folded(text: str, width: int) -> list[str]:
    return wrapped(text, width) or [""]

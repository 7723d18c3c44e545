"""One table, written as terminal text, CSV, Markdown or HTML.

The four writings show the same cells, so the terminal, the page and a mail cannot disagree.
"""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from wearplan.report.words import chance_text, count_text, held, marked, percent_text, plain, significant_text, wrapped
from wearplan.site.safe_text import safe_cell

_LEAST = 24
"""A column of long text is not made narrower."""


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
class Column:
    """One column.

    ``form`` says how a number is written: ``text``, ``id`` (a number that names), ``int``, ``fixed1`` .. ``fixed3``,
    ``sig`` (three significant digits), ``percent`` (of a share), ``percent1`` (to one decimal), ``chance`` (of
    what lies ahead, never certain). ``spare`` columns are the first to go on a narrow screen, highest first.
    """

    key: str
    head: str
    form: str = "text"
    spare: int = 0
    wrap: bool = False

    @property
    def right(self) -> bool:
        return self.form != "text"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under columns, with a title and notes."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]
    notes: tuple[str, ...] = ()

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
        body = [max([len(row[i]) for row in cells], default=0) for i in range(len(self.columns))]
        wide = [max(len(column.head), body[i]) for i, column in enumerate(self.columns)]
        if self._needs(range(len(wide)), wide) > width:
            # A word of a head is not broken.
            wide = [max(body[i], *map(len, column.head.split()), 1) for i, column in enumerate(self.columns)]
        kept = list(range(len(self.columns)))
        dropped: list[int] = []
        while self._needs(kept, wide) > width:
            spare = [i for i in kept if self.columns[i].spare]
            if not spare:
                break
            last = max(spare, key=lambda i: self.columns[i].spare)
            kept.remove(last)
            dropped.append(last)
        below = max((i for i in kept if self.columns[i].wrap), default=None)
        if below is None or len(kept) == 1 or self._needs(kept, wide) <= width:
            below = None
        else:
            kept.remove(below)
        wraps = [i for i in kept if self.columns[i].wrap]
        room = width - sum(wide[i] for i in kept if i not in wraps) - 2 * (len(kept) - 1)
        if not wraps:
            # What is left over takes heads back onto one line, the shortest first.
            for i in sorted(kept, key=lambda i: len(self.columns[i].head) - wide[i]):
                more = len(self.columns[i].head) - wide[i]
                if 0 < more <= room:
                    wide[i], room = wide[i] + more, room - more
        for i in wraps:
            wide[i] = min(wide[i], max(_LEAST, room // len(wraps)))
        lines = [plain(self.title), ""] if self.title else []
        heads = [_folded(plain(self.columns[i].head), wide[i]) for i in kept]
        deep = max((len(head) for head in heads), default=0)
        lines += self._rows([[""] * (deep - len(head)) + head for head in heads], kept, wide)
        lines.append("  ".join("─" * wide[i] for i in kept))
        for row in cells:
            parts = [_folded(row[i], wide[i]) if i in wraps else [row[i]] for i in kept]
            lines += self._rows(parts, kept, wide)
            if below is not None and row[below]:
                lines += [f"    {line}" for line in _folded(row[below], width - 4)]
        if not cells:
            lines.append("(none)")
        if dropped:
            names = dict.fromkeys(self.columns[i].head for i in sorted(dropped))
            lines += _folded(plain(f"left out for lack of width: {', '.join(names)}"), width)
        for note in self.notes:
            lines += _folded(plain(note), width)
        return "\n".join(line.rstrip() for line in lines)

    def _needs(self, kept: Sequence[int], wide: Sequence[int]) -> int:
        """Width of these columns, those of long text at their least."""
        return sum(min(wide[i], _LEAST) if self.columns[i].wrap else wide[i] for i in kept) + 2 * (len(kept) - 1)

    def _rows(self, parts: Sequence[Sequence[str]], kept: Sequence[int], wide: Sequence[int]) -> list[str]:
        """Cells of one row, folded or not, as lines."""
        widths, right = [wide[i] for i in kept], self._right(kept)
        return [
            _line([part[depth] if depth < len(part) else "" for part in parts], widths, right)
            for depth in range(max((len(part) for part in parts), default=0))
        ]

    def _right(self, kept: Sequence[int]) -> list[bool]:
        return [self.columns[i].right for i in kept]

    def csv(self) -> str:
        """CSV with raw numbers; a band takes three columns. Cells a spreadsheet would run are made harmless."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        bands = [any(isinstance(row[i], Band) for row in self.rows) for i in range(len(self.columns))]
        head: list[str] = []
        for column, band in zip(self.columns, bands, strict=True):
            head += [f"{column.key}_{q}" for q in ("p05", "p50", "p95")] if band else [column.key]
        writer.writerow(head)
        for row in self.rows:
            line: list[Any] = []
            for value, band in zip(row, bands, strict=True):
                if band:
                    line += [value.p05, value.p50, value.p95] if isinstance(value, Band) else [value, None, None]
                else:
                    line.append(value.value if isinstance(value, Worded) else value)
            writer.writerow([harmless(cell) for cell in line])
        return out.getvalue()

    def markdown(self) -> str:
        """A pipe table; names and notes cannot turn into markup."""
        heads = [marked(column.head) for column in self.columns]
        rule = ["--:" if column.right else "---" for column in self.columns]
        rows = [[marked(cell) for cell in row] for row in self.cells()]
        lines = [f"### {marked(self.title)}", ""] if self.title else []
        lines += [f"| {' | '.join(row)} |" for row in [heads, rule, *rows]]
        notes = [f"{marked(note)}\n" for note in self.notes]
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
        notes = "".join(f'<p class="note">{_safe(note)}</p>' for note in self.notes)
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
    if isinstance(value, Worded):
        return plain(value.words)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return plain(value)
    if form == "percent":
        return percent_text(value)
    if form == "chance":
        return chance_text(value)
    if form == "percent1":
        return f"{100 * value:.1f} %"
    if form == "sig":
        return significant_text(value)
    if form.startswith("fixed"):
        return count_text(value, int(form[5:]))
    if form == "int":
        return count_text(value)
    return str(value)


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

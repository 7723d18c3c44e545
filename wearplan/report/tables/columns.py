"""Columns of a table, and how many of them a terminal has room for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_LEAST = 24
"""A column of long text is not made narrower."""


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
class Fitted:
    """Which columns are shown in lines, how wide, and what becomes of the others."""

    kept: tuple[int, ...]
    wide: tuple[int, ...]
    """(C,) characters, of every column."""
    wraps: tuple[int, ...]
    """Of those kept, the ones whose text is folded."""
    below: int | None
    """The one that stands under its row."""
    dropped: tuple[int, ...]


def fit_columns(columns: Sequence[Column], cells: Sequence[Sequence[str]], width: int) -> Fitted:
    """Settle the columns for a terminal of ``width`` characters."""
    body = [max([len(row[i]) for row in cells], default=0) for i in range(len(columns))]
    wide = [max(len(column.head), body[i]) for i, column in enumerate(columns)]
    if _needs(columns, range(len(wide)), wide) > width:
        # A word of a head is not broken.
        wide = [max(body[i], *map(len, column.head.split()), 1) for i, column in enumerate(columns)]
    kept, dropped = _dropping(columns, wide, width)
    below = max((i for i in kept if columns[i].wrap), default=None)
    if below is None or len(kept) == 1 or _needs(columns, kept, wide) <= width:
        below = None
    else:
        kept.remove(below)
    wraps = [i for i in kept if columns[i].wrap]
    room = width - sum(wide[i] for i in kept if i not in wraps) - 2 * (len(kept) - 1)
    if not wraps:
        _widen_heads(columns, kept, wide, room)
    for i in wraps:
        wide[i] = min(wide[i], max(_LEAST, room // len(wraps)))
    return Fitted(kept=tuple(kept), wide=tuple(wide), wraps=tuple(wraps), below=below, dropped=tuple(dropped))


def _needs(columns: Sequence[Column], kept: Iterable[int], wide: Sequence[int]) -> int:
    """Width of these columns, those of long text at their least."""
    widths = [min(wide[i], _LEAST) if columns[i].wrap else wide[i] for i in kept]
    return sum(widths) + 2 * (len(widths) - 1)


def _dropping(columns: Sequence[Column], wide: Sequence[int], width: int) -> tuple[list[int], list[int]]:
    """Columns kept and dropped: the spare ones go first, the highest number before the others."""
    kept, dropped = list(range(len(columns))), list[int]()
    while _needs(columns, kept, wide) > width and (spare := [i for i in kept if columns[i].spare]):
        last = max(spare, key=lambda i: columns[i].spare)
        kept.remove(last)
        dropped.append(last)
    return kept, dropped


def _widen_heads(columns: Sequence[Column], kept: Sequence[int], wide: list[int], room: int) -> None:
    """What is left over takes heads back onto one line, the shortest first."""
    for i in sorted(kept, key=lambda i: len(columns[i].head) - wide[i]):
        more = len(columns[i].head) - wide[i]
        if 0 < more <= room:
            wide[i], room = wide[i] + more, room - more

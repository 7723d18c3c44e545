"""Numbers as the plan's sentences write them."""

from __future__ import annotations

from collections.abc import Iterable


def at(chainage_m: float) -> str:
    """Chainage as the trade writes it: 2345.6 is ``2+345.6``."""
    sign = "-" if round(chainage_m, 1) < 0 else ""
    whole, rest = divmod(round(abs(chainage_m), 1), 1000)
    return f"{sign}{int(whole)}+{rest:05.1f}"


def chance(share: float) -> str:
    """A chance in percent, never rounded to a certainty it is not."""
    if share <= 0.0:
        return "0 %"
    if share < 0.005:
        return "< 1 %"
    if share > 0.995:
        return "> 99 %"
    return f"{100 * share:.0f} %"


def some(items: Iterable[object], most: int = 6) -> str:
    """A list in words, cut short where it is long."""
    listed = [str(i) for i in items]
    if len(listed) > most:
        return f"{', '.join(listed[:most])} and {len(listed) - most} more"
    return ", ".join(listed[:-1]) + (" and " if len(listed) > 1 else "") + (listed[-1] if listed else "none")


def plural(count: int, one: str, many: str | None = None) -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"

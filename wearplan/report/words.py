"""How numbers are written for people; never by the machine's locale."""

from __future__ import annotations

import math
import re
import textwrap

_NOT_TEXT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")

FOOT_M = 0.3048
INCH_MM = 25.4
PSI_BAR = 0.0689475729


def plain(text: str) -> str:
    """A person's text without control characters, so that it cannot steer a terminal."""
    return _NOT_TEXT.sub("", text.replace("\n", " ").replace("\t", " "))


_MARKS = re.compile(r"([\\`*\[\]|])")
_ENTITY = re.compile(r"&(?=#|\w+;)")
_TAG = re.compile(r"<(?=[a-zA-Z/!?])")


def marked(text: str) -> str:
    """A person's text for Markdown: nothing in it is taken for markup or HTML."""
    escaped = _ENTITY.sub("&amp;", _MARKS.sub(r"\\\1", plain(text)))
    return _TAG.sub("&lt;", escaped)


def chainage_text(chainage_m: float | None, *, feet: bool = False) -> str:
    """Chainage as the trade writes it.

    Parameters
    ----------
    chainage_m : float or None
        Chainage in m; None gives a dash.
    feet : bool
        Write stations of 100 ft (``12+34.5``) in place of thousands of metres (``2+345.6``).
    """
    if chainage_m is None or not math.isfinite(chainage_m):
        return "—"
    value, base, digits = (chainage_m / FOOT_M, 100, 2) if feet else (chainage_m, 1000, 3)
    sign = "-" if round(value, 1) < 0 else ""
    whole, rest = divmod(round(abs(value), 1), base)
    return f"{sign}{int(whole)}+{rest:0{digits + 2}.1f}"


def chance_text(share: float | None) -> str:
    """A chance ahead as a percentage: as `percent_text`, but nothing ahead is certain."""
    return "> 99 %" if share is not None and share >= 1 else percent_text(share)


def percent_text(share: float | None) -> str:
    """A share as a percentage; never rounded to a certainty it is not, and as the plan's sentences round it."""
    if share is None or math.isnan(share):
        return "—"
    if share <= 0:
        return "0 %"
    if share >= 1:
        return "100 %"
    if share < 0.005:
        return "< 1 %"
    if share > 0.995:
        return "> 99 %"
    return f"{100 * share:.0f} %"


def count_text(value: float | None, digits: int = 0) -> str:
    """A number with a thin grouping of thousands, a dash where there is none, ∞ where it has no bound."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "—"
    if isinstance(value, float) and math.isinf(value):
        return "∞" if value > 0 else "-∞"
    return f"{value:,.{digits}f}".replace(",", " ")


def money_text(value: float | None, currency: str) -> str:
    """An amount in whole units of the site's currency."""
    return "—" if value is None else f"{currency} {count_text(value)}"


def significant_text(value: float | None, digits: int = 3) -> str:
    """A number to so many significant digits without an exponent."""
    if value is None or math.isnan(value):
        return "—"
    if math.isinf(value):
        return "∞"
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return count_text(round(value, places), min(places, 9))


def plural(count: int, one: str, many: str | None = None) -> str:
    """``1 entry``, ``3 entries``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listing(items: list[str] | tuple[str, ...], most: int = 8) -> str:
    """``a, b and c``; a long list is cut and says by how many."""
    shown = list(items[:most])
    if len(items) > most:
        return f"{', '.join(shown)} and {len(items) - most} more"
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


_UNITS = "%|€|h|mm|cm|m|km|m²|m³|bar|kPa|MPa|°|in|ft|yd³|miles?|psi|per|rev|days?|weeks?|months?|hours?"
_COUNTED = "entry|entries|person-hours|stops?|tools?|places?|readings?|rings?"
_HELD = re.compile(
    rf"(?<=\d) (?=\d{{3}}(?!\d))|(?<=[\d∞—]) (?=(?:{_UNITS}|{_COUNTED})(?!\w))"
    r"|(?<=[<>]) (?=\d)|(?<=\b[A-Z]{3}) (?=-?\d)"
)


def held(text: str, joiner: str = "\xa0") -> str:
    """The same text with ``joiner`` for each blank within a number or between it and its sign, unit or currency."""
    return _HELD.sub(joiner, text)


def wrapped(text: str, width: int, *, first: str = "", later: str = "") -> list[str]:
    """Lines of at most ``width`` characters that begin with ``first`` and ``later``.

    A number keeps its thousands, its sign and its unit on one line; words and names with hyphens are not broken.
    """
    lines = textwrap.wrap(
        held(text),
        max(width, 1),
        initial_indent=first,
        subsequent_indent=later,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\xa0", " ") for line in lines]

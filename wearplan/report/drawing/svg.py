"""SVG by hand: frames with axes, bands and marks, each with a title and a description for those who do not see it.

Colours are the set of Okabe & Ito (2008, "Color Universal Design"), told apart by most colour-blind readers; no
drawing rests on colour alone.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BLUE, ORANGE, GREEN, PINK, SKY, YELLOW, GREY = (
    "#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#f0e442", "#777777",
)  # fmt: skip
UNIT_COLOURS = ("#56b4e9", "#e69f00", "#009e73", "#f0e442", "#cc79a7", "#0072b2", "#d55e00", "#bbbbbb")
INK = "#1a1a1a"

Numbers: TypeAlias = "Sequence[float] | NDArray[np.floating[Any]]"


def text(x: float, y: float, words: str, *, anchor: str = "start", size: float = 11, turn: float = 0) -> str:
    """One line of text; ``turn`` in degrees about its own point."""
    spin = f' transform="rotate({turn:g} {x:.1f} {y:.1f})"' if turn else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" fill="{INK}"{spin}>'
        f"{html.escape(words)}</text>"
    )


def line(x1: float, y1: float, x2: float, y2: float, *, colour: str = INK, width: float = 1, dash: str = "") -> str:
    """A straight line."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashes}/>'
    )


def rect(x: float, y: float, width: float, height: float, *, fill: str, stroke: str = "none", hint: str = "") -> str:
    """A filled box, with a hint where a pointer rests on it."""
    told = f"<title>{html.escape(hint)}</title>" if hint else ""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 0):.1f}" height="{max(height, 0):.1f}" fill="{fill}" '
        f'stroke="{stroke}">{told}</rect>'
    )


def path(points: Sequence[tuple[float, float]], *, colour: str, width: float = 1.6, dash: str = "") -> str:
    """A line through points."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    steps = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{steps}" fill="none" stroke="{colour}" stroke-width="{width:g}"{dashes}/>'


def area(points: Sequence[tuple[float, float]], *, fill: str, opacity: float) -> str:
    """A filled outline."""
    steps = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polygon points="{steps}" fill="{fill}" fill-opacity="{opacity:g}" stroke="none"/>'


def drawing(width: float, height: float, parts: Sequence[str], *, title: str, description: str) -> str:
    """A whole picture that scales with the page, named and described."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-label="{html.escape(title, quote=True)}" font-family="sans-serif">'
        f"<title>{html.escape(title)}</title><desc>{html.escape(description)}</desc>" + "".join(parts) + "</svg>"
    )


def round_ticks(low: float, high: float, count: int = 5) -> list[float]:
    """About ``count`` round values that span a range."""
    if not high > low:
        return [low]
    raw = (high - low) / max(count, 1)
    unit = 10.0 ** math.floor(math.log10(raw))
    step = next(unit * factor for factor in (1, 2, 5, 10) if unit * factor >= raw)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [index * step for index in range(first, last + 1)]


class Frame:
    """A plot area with linear axes inside a picture."""

    def __init__(
        self, *, width: float, height: float, x: tuple[float, float], y: tuple[float, float],
        left: float = 56, right: float = 16, top: float = 14, bottom: float = 42,
    ) -> None:  # fmt: skip
        self.width, self.height = width, height
        self.x0, self.x1 = left, width - right
        self.y0, self.y1 = height - bottom, top
        self.x_range, self.y_range = x, y
        self.parts: list[str] = []

    def px(self, value: float) -> float:
        low, high = self.x_range
        return self.x0 + (value - low) / ((high - low) or 1) * (self.x1 - self.x0)

    def py(self, value: float) -> float:
        low, high = self.y_range
        return self.y0 + (value - low) / ((high - low) or 1) * (self.y1 - self.y0)

    def add(self, *parts: str) -> None:
        self.parts += parts

    def axes(
        self, *, x_name: str, y_name: str, x_text: Callable[[float], str] = "{:g}".format,
        y_text: Callable[[float], str] = "{:g}".format, x_ticks: Sequence[float] | None = None,
    ) -> None:  # fmt: skip
        """Axes with round ticks, names and units."""
        for value in round_ticks(*self.y_range):
            y = self.py(value)
            self.add(
                line(self.x0, y, self.x1, y, colour="#dddddd"), text(self.x0 - 6, y + 4, y_text(value), anchor="end")
            )
        for value in round_ticks(*self.x_range) if x_ticks is None else x_ticks:
            x = self.px(value)
            self.add(line(x, self.y0, x, self.y0 + 4), text(x, self.y0 + 17, x_text(value), anchor="middle"))
        self.add(line(self.x0, self.y0, self.x1, self.y0), line(self.x0, self.y0, self.x0, self.y1))
        self.add(text((self.x0 + self.x1) / 2, self.height - 6, x_name, anchor="middle"))
        self.add(text(13, (self.y0 + self.y1) / 2, y_name, anchor="middle", turn=-90))

    def band(self, xs: Numbers, low: Numbers, high: Numbers, *, colour: str, opacity: float) -> None:
        upper = [(self.px(x), self.py(v)) for x, v in zip(xs, high, strict=True)]
        lower = [(self.px(x), self.py(v)) for x, v in zip(xs, low, strict=True)]
        self.add(area([*upper, *reversed(lower)], fill=colour, opacity=opacity))

    def curve(self, xs: Numbers, ys: Numbers, *, colour: str, dash: str = "") -> None:
        self.add(path([(self.px(x), self.py(y)) for x, y in zip(xs, ys, strict=True)], colour=colour, dash=dash))

    def svg(self, *, title: str, description: str) -> str:
        return drawing(self.width, self.height, self.parts, title=title, description=description)

"""Colours of our own: blue for what is known, orange for what presses; a sign and a word always go with them."""

from __future__ import annotations

from textual.theme import Theme

THEME = Theme(
    name="wearplan",
    primary="#5aa9e6",
    secondary="#2f6690",
    accent="#f2a541",
    warning="#f2a541",
    error="#ff7a59",
    success="#7cc6fe",
    foreground="#e6e8ea",
    background="#101418",
    surface="#171c22",
    panel="#202832",
    dark=True,
    variables={"block-cursor-background": "#f2a541", "block-cursor-foreground": "#101418"},
)

LEVEL_STYLES = {
    "unseen": "#c9a7eb",
    "light": "#7f98ad",
    "worn": "#7cc6fe",
    "near": "bold #f2a541",
    "over": "bold #101418 on #ff7a59",
    "plain": "#e6e8ea",
}
"""Style by the level of a mark; under NO_COLOR the app's filter takes the hues away and the signs remain."""

STRIP_STYLES = {
    "windows": "bold #7cc6fe",
    "modes": "#7f98ad",
    "keep-outs": "bold #ff7a59",
    "stops": "bold #f2a541",
    "over": "#f2a541",
    "ticks": "#7f98ad",
    "cursor": "bold #e6e8ea",
}
"""Style by the key of a strip's row."""

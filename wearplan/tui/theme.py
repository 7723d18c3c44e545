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

_UNITS = ("#e6c79c", "#8fb8de", "#b8a1d9", "#e0e0e0", "#7fa37f", "#d98c8c", "#6fc3c3", "#b0b0b0")
SHEET_STYLES = {
    "dim": "#7f98ad", "head": "bold #5aa9e6", "middle": "#ffffff", "limit": "#f2a541", "damage": "#ff7a59",
    "stop": "bold #e6e8ea", "face": "bold #f2a541", "axis": "#55636f", "zero": "#ff7a59", "gap": "#7f98ad",
    "read": "bold #ffffff", "error": "#7f98ad", "half": "#5a97c4", "band": "#2f5d82", "rim": "#6b5a3a",
    "arm": "#3d4b59", "arm name": "#7f98ad", "housing": "#55636f", "track": "#f2a541", "boundary": "#55636f",
    "pick": "bold #101418 on #f2a541", "due": "bold #f2a541", "later": "#7f98ad", "free": "#7cc6fe",
    "pressure": "#f2a541",
    "barred": "bold #ff7a59", "band line": "#2f77a8", "half line": "#7cc6fe", "light": "#7f98ad", "fair": "#a9bccd",
    "worn": "#7cc6fe", "near": "bold #f2a541", "over": "bold #101418 on #ff7a59",
    "damaged": "bold #101418 on #ff7a59",
    "unseen": "#c9a7eb", "plain": "#e6e8ea", "arrives": "#7cc6fe", "ordered": "#f2a541",
    **{f"unit{index}": colour for index, colour in enumerate(_UNITS)},
}  # fmt: skip
"""Colour by meaning, for what is drawn on a sheet; under NO_COLOR hues go and signs remain."""
GROUNDS = {
    "half": "#5a97c4", "band": "#2f5d82", "light": "#55636f", "fair": "#7f98ad", "worn": "#7cc6fe", "near": "#f2a541",
    "over": "#ff7a59", "pick": "#f2a541", "unseen": "#c9a7eb",
}  # fmt: skip
"""Colour of a band behind other signs."""

"""Every sign of the screen from the plain set, for terminals and fonts that have no others."""

from __future__ import annotations

from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter

_ACROSS = "─━═╌┄╴╶╸╺▔▁▂▃▄▀"
_UP = "│┃║┤├▏▎▍▌▋▊▉▐▕"
_TABLE: dict[int, str] = {
    **{ord(sign): "-" for sign in _ACROSS},
    **{ord(sign): "|" for sign in _UP},
    **{code: "+" for code in range(0x2500, 0x2580) if chr(code) not in _ACROSS + _UP},
    **{code: "#" for code in range(0x2580, 0x25A0) if chr(code) not in _ACROSS + _UP + "░▒▓"},
    **{ord(sign): plain for sign, plain in zip("░▒▓×·…–—↑↓←→⏎²³", ".:%x..--^v<>e23", strict=True)},
}


class PlainSigns(LineFilter):
    """Puts plain signs in the place of blocks, boxes and arrows; what users wrote stays."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The same line in plain signs."""
        return [Segment(text.translate(_TABLE), style, control) for text, style, control in segments]

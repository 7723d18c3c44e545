"""Output where the terminal or the file behind it knows few letters: plain stand-ins, never a failure."""

from __future__ import annotations

import codecs
import io
import sys
import unicodedata

_PLAIN = {"─": "-", "│": "|", "–": "-", "—": "-", "…": "...", "∞": "inf", "╌": "-", "█": "#", "▒": "+", "░": "."}


def bear_any_text() -> None:
    """Let stdout and stderr take any text: a letter they lack is written as one they have.

    Bytes of a file name that are no text of this locale come out as they are.
    """
    codecs.register_error("wearplan", _stand_in)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="wearplan")


def _stand_in(error: UnicodeError) -> tuple[bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    out = b""
    for letter in error.object[error.start : error.end]:
        if "\udc80" <= letter <= "\udcff":
            out += bytes([ord(letter) - 0xDC00])
        else:
            plain = _PLAIN.get(letter) or unicodedata.normalize("NFKD", letter)
            out += plain.encode("ascii", "ignore") or b"?"
    return out, error.end

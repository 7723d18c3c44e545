"""Where the details of our own faults go."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from wearplan.site.state_home import state_folder


def keep_log(argv: Sequence[str]) -> Path | str:
    """Write the present exception to a log file and return its path, or the trace itself where that fails."""
    text = f"{datetime.now().astimezone().isoformat()}\nwearplan {' '.join(argv)}\nPython {sys.version}\n\n"
    text += traceback.format_exc()
    path = state_folder() / f"fault-{datetime.now():%Y%m%dT%H%M%S}.log"
    try:
        path.write_text(text, encoding="utf-8", errors="backslashreplace")
    except OSError:
        return text
    return path

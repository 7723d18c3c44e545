"""The small app in a process of its own, for tests that read what it sends to a terminal."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.tui.small import SmallRooms, small_site
from wearplan.tui.app import WearplanApp
from wearplan.tui.keep import Settings

if __name__ == "__main__":
    WearplanApp(Path(sys.argv[1]), rooms=SmallRooms(site=small_site(places=126)), settings=Settings()).run()

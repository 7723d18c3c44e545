"""Driving the app in tests."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from textual.pilot import Pilot

from tests.tui.small import SmallRooms
from wearplan.tui.app import WearplanApp
from wearplan.tui.keep import Settings

SMALL, LARGE = (80, 24), (160, 48)
SIZES = [SMALL, LARGE]


def drive(make: Callable[[], Coroutine[Any, Any, None]]) -> None:
    """Run one flow."""
    asyncio.run(make())


@asynccontextmanager
async def opened(
    folder: Path, *, size: tuple[int, int] = SMALL, rooms: Any = None, settings: Settings | None = None
) -> AsyncIterator[tuple[WearplanApp, Pilot[int]]]:
    """The app with all work done."""
    app = WearplanApp(folder, rooms=rooms if rooms is not None else SmallRooms(), settings=settings or Settings())
    async with app.run_test(size=size, notifications=True) as pilot:
        patient(pilot)
        await settle(app, pilot)
        yield app, pilot


def patient(pilot: Pilot[int]) -> None:
    """Let every key and pause wait until no message is left: the pilot's own wait asks whether this process is
    busy, and on a loaded machine a process that gets no turn looks idle."""
    press, pause = pilot.press, pilot.pause

    async def calm() -> None:
        quiet = 0
        for _ in range(2000):
            await pause(0)
            nodes = (pilot.app, *pilot.app.screen.walk_children(with_self=True))
            waiting = any(node.message_queue_size for node in nodes) or not getattr(pilot.app.screen, "painted", True)
            quiet = 0 if waiting else quiet + 1
            if quiet == 3:
                return

    async def press_calmly(*keys: str) -> None:
        await press(*keys)
        await calm()

    async def pause_calmly(delay: float | None = None) -> None:
        await pause(delay)
        await calm()

    pilot.press, pilot.pause = press_calmly, pause_calmly  # type: ignore[method-assign]


async def settle(app: WearplanApp, pilot: Pilot[int], *, workers: bool = True) -> None:
    """Wait for threads and the messages they sent; without ``workers`` one that waits for an answer may stay."""
    await pilot.pause()
    for _ in range(4 if workers else 2):
        if workers:
            await app.workers.wait_for_complete()
        else:
            await asyncio.sleep(0.01)
        await pilot.pause()


def text_of(app: WearplanApp) -> str:
    """What is on the screen, as text."""
    lines = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in line).rstrip() for line in lines)


async def type_in(pilot: Pilot[int], text: str) -> None:
    """Press keys one by one; a new line is Enter."""
    names = {
        "\n": "enter",
        ".": "full_stop",
        " ": "space",
        "<": "less_than_sign",
        ">": "greater_than_sign",
        ":": "colon",
        "-": "minus",
    }
    await pilot.press(*[names.get(sign, sign) for sign in text])


async def rush(app: WearplanApp, pilot: Pilot[int], text: str) -> None:
    """Type faster than the screen follows, and wait once at the end: a long text costs a tenth of `type_in`."""
    from textual import events

    for sign in text:
        app.post_message(events.Key("enter", "\r") if sign == "\n" else events.Key(sign, sign))
    await pilot.pause()


def killed_once_it_speaks(script: str, folder: Path, *, after_s: float = 0.0) -> str:
    """Run a script on a folder in a process of its own, and kill it when it has printed its first line: that line."""
    root = Path(__file__).resolve().parents[2]
    child = subprocess.Popen(
        [sys.executable, "-c", script, str(folder)], cwd=root, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(root)},
    )  # fmt: skip
    assert child.stdout is not None
    said = child.stdout.readline().strip()
    time.sleep(after_s)
    child.kill()
    child.wait()
    return said

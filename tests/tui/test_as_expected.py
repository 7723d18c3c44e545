"""What people expect of an app: every key is found, Ctrl+Z takes back, Ctrl+S writes, it opens as it was left."""

from __future__ import annotations

import importlib
import inspect
import json
import pkgutil
import re
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Input

import wearplan.tui
from tests.tui.pilot import LARGE, drive, opened, settle, text_of
from wearplan.site.write.state_home import state_folder
from wearplan.tui.actions import ACTIONS, NAMES, TASKS, actions_of, key_words
from wearplan.tui.commands import ActionProvider
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.screens.find import FindScreen
from wearplan.tui.screens.headform import HeadForm
from wearplan.tui.screens.help import HelpScreen
from wearplan.tui.screens.stops import StopsScreen
from wearplan.tui.screens.store import StockForm
from wearplan.tui.widgets.dialogs import Ask, Choose, Confirm, Read

SAMPLE = Path(__file__).resolve().parents[2] / "sample_wheel"


@pytest.mark.parametrize("task", list(TASKS))
def test_every_key_of_a_screen_stands_in_its_help_and_in_the_palette(tmp_path: Path, task: str) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press(TASKS[task][0])
            await settle(app, pilot)
            screen = app.screen
            assert isinstance(screen, TaskScreen)
            bound = [each for node in (screen, app) for each in node.BINDINGS if isinstance(each, Binding)]
            known = {action.name: action for action in (*actions_of(task), *actions_of("app"))}
            told = str(HelpScreen.about(screen)._text)
            provider = ActionProvider(screen)
            found = {str(hit.text) async for hit in provider.discover()}
            for binding in bound:
                if binding.id == "app.stop_work_too":
                    continue  # Ctrl+C, which stops work wherever one is
                action = known[str(binding.id)]
                assert binding.key == action.key
                assert action.help in told, action.name
                if action.name not in ("app.palette", "app.cancel"):
                    assert f"{action.label}  ({key_words(action.key)})" in found, action.name

    drive(flow)


def every_screen() -> list[type[Screen[Any]]]:
    for module in pkgutil.walk_packages(wearplan.tui.__path__, "wearplan.tui."):
        importlib.import_module(module.name)
    found, left = [], [Screen]
    while left:
        left += (below := left.pop().__subclasses__())
        found += [each for each in below if each.__module__.startswith("wearplan.")]
    return found


def test_every_binding_of_every_screen_is_told() -> None:
    """From the table of actions it stands in help and palette; a dialog's own keys stand in its words."""
    screens = every_screen()
    assert {HeadForm, StockForm, FindScreen, Ask, Choose, Confirm, Read} <= set(screens)
    for screen in screens:
        source = inspect.getsource(screen)
        source = source.replace(screen.__doc__ or "", "")
        words = source.replace(source[source.find("BINDINGS") : source.find("]", source.find("BINDINGS"))], "")
        for binding in screen.__dict__.get("BINDINGS", ()):
            assert isinstance(binding, Binding), screen
            if binding.id in NAMES or binding.key == "f1":
                continue  # F1 is help wherever one is
            keys = {key.upper() if len(key) == 1 else key_words(key) for key in binding.key.split(",")}
            keys |= {"Arrows"} if keys & {"↑", "↓"} else set()
            assert any(re.search(rf"{re.escape(key)}[ :,]", words) for key in keys), (screen, binding.key)


def test_dialogs_say_how_they_are_left(tmp_path: Path) -> None:
    async def flow() -> None:
        dialogs = (Ask("How many?"), Choose("Which?", (("a", "the first"),)), Read("Told", "words"), FindScreen())
        async with opened(tmp_path) as (app, pilot):
            for dialog in dialogs:
                app.push_screen(dialog)
                await settle(app, pilot)
                assert "Esc " in text_of(app), dialog
                await pilot.press("escape")
                await settle(app, pilot)
                assert app.screen is not dialog

    drive(flow)


def test_ctrl_s_writes_and_nothing_else() -> None:
    """Where it is bound at all, it is the key that writes to the folder."""
    bound = {action.run for action in ACTIONS if "ctrl+s" in action.key.split(",")}
    for form in (HeadForm, StockForm):
        keys = [each for each in form.BINDINGS if isinstance(each, Binding)]
        bound |= {each.action for each in keys if "ctrl+s" in each.key.split(",")}
    assert bound == {"save", "write"}


def test_the_app_opens_as_it_was_left_within_a_shift(tmp_path: Path, own_home: Path) -> None:
    async def leave() -> None:
        async with opened(tmp_path) as (app, pilot):
            await pilot.press("f7")
            await settle(app, pilot)
            await pilot.press("down")
            await settle(app, pilot)
            assert isinstance(app.screen, StopsScreen)
            chosen.append(app.screen.here)
            await pilot.press("ctrl+q")

    async def return_to(task: str, here: str | None) -> None:
        async with opened(tmp_path) as (app, pilot):
            await settle(app, pilot)
            assert isinstance(app.screen, TaskScreen)
            assert app.screen.task_name == task
            if here is not None:
                assert app.screen.here == here

    chosen: list[str | None] = []
    drive(leave)
    assert chosen[0] is not None
    drive(lambda: return_to("stops", chosen[0]))
    file = state_folder() / "looks.json"
    looks = json.loads(file.read_text())
    looks[0]["at"] = (datetime.now().astimezone() - timedelta(hours=13)).isoformat()
    file.write_text(json.dumps(looks))
    drive(lambda: return_to("start", None))


def test_ctrl_z_takes_back_the_last_wish(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f7")
            await settle(app, pilot)
            await pilot.press("ctrl+z")
            await settle(app, pilot)
            assert "There is no wish to take back." in text_of(app)
            await pilot.press("f")
            await settle(app, pilot)
            first = app.snapshot.wishes
            assert first is not None
            await pilot.press("down", "f")
            await settle(app, pilot)
            assert app.snapshot.wishes not in (None, first)
            await pilot.press("ctrl+z")
            await settle(app, pilot)
            assert app.snapshot.wishes == first
            await pilot.press("ctrl+z")
            await settle(app, pilot)
            assert app.snapshot.wishes is None

    drive(flow)


@pytest.mark.skipif(not (SAMPLE / "stores.toml").is_file(), reason="needs the sample")
def test_ctrl_z_brings_the_stock_back_for_writing(tmp_path: Path) -> None:
    for name in ("site.toml", "stores.toml"):
        shutil.copy(SAMPLE / name, tmp_path / name)

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f8")
            await settle(app, pilot)
            app.screen.query_one("#store-tabs").active = "pane-stock"  # type: ignore[attr-defined]
            await pilot.pause()
            app.screen.query_one("#table-stock").focus()
            await pilot.press("e", "end", "backspace", "9", "ctrl+s")
            await settle(app, pilot)
            assert "on_hand = 9" in (tmp_path / "stores.toml").read_text(encoding="utf-8")
            await pilot.press("ctrl+z")
            await settle(app, pilot)
            assert isinstance(app.screen, StockForm)
            assert app.screen.query_one("#stock-on_hand", Input).value == "4", "as it was read before the edit"

    drive(flow)

"""What the command palette finds: actions of this screen and the app, places, serials, windows and stops."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.command import DiscoveryHit, Hit, Hits, Provider

from wearplan.report.words import plain
from wearplan.tui.actions import Action, actions_of, key_words

if TYPE_CHECKING:
    from wearplan.tui.host import Host


class ActionProvider(Provider):
    """The table of actions, as far as it goes for the present screen."""

    def _actions(self) -> Iterator[Action]:
        yield from actions_of(getattr(self.screen, "task_name", ""))
        yield from (action for action in actions_of("app") if action.name not in ("app.palette", "app.cancel"))

    def _run(self, action: Action) -> Any:
        return partial(self.app.run_action, action.run, default_namespace=self.screen)

    async def discover(self) -> Hits:
        for action in self._actions():
            yield DiscoveryHit(f"{action.label}  ({key_words(action.key)})", self._run(action), help=action.help)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for action in self._actions():
            words = f"{action.label} {action.help}"
            score = matcher.match(words)
            if score > 0:
                text = f"{action.label}  ({key_words(action.key)})"
                yield Hit(score, text, self._run(action), help=action.help)


class PlaceProvider(Provider):
    """Places by number and serial, windows and stops by name."""

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        app: Host = self.app  # type: ignore[assignment]
        for text, task, key in findable(app):
            score = matcher.match(text)
            if score > 0:
                yield Hit(score, text, partial(app.go_to, task, key), text=text)


def findable(app: Host) -> Iterable[tuple[str, str, str]]:
    """(text, task, key) of everything that can be searched for."""
    snapshot, display = app.snapshot, app.units
    site = snapshot.site
    if site is None:
        return
    serials = {number: life.serial for number, life in (snapshot.history.current.items() if snapshot.history else ())}
    for position in site.wheel.positions:
        serial = serials.get(position.number)
        tail = f" · {plain(serial)}" if serial else ""
        yield (
            f"place {position.number}{tail} · {plain(position.tool_type)} · {position.zone}",
            "wheel",
            str(position.number),
        )
    for window in site.stops.windows if site.stops else ():
        yield f"window {plain(window.name)} · {display.chainage(window.from_chainage_m)}", "ahead", f"{window.from_m}"
    for stop in snapshot.plan.stops if snapshot.plan else ():
        yield f"stop {display.chainage(stop.chainage_m)} · {plain(stop.window)}", "stops", f"{stop.driven_m}"

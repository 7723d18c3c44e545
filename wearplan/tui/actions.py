# ruff: noqa: E501  (one action a line reads better than three)
"""Every action of the app in one table: keys, footer, command palette and help all come from here.

A user binds other keys by the action's name in the settings file, ``[keys]``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from textual.binding import Binding


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing the user can do.

    ``where`` is ``app`` or the task whose screen knows it; ``run`` the action string; ``footer`` puts it in the
    footer, so only the few that matter have it.
    """

    name: str
    key: str
    run: str
    label: str
    help: str
    footer: bool = False
    shown_key: str | None = None

    @property
    def where(self) -> str:
        return self.name.partition(".")[0]


def _all(rows: Sequence[tuple[str, str, str, str, str, bool]]) -> tuple[Action, ...]:
    return tuple(
        Action(name=name, key=key, run=run, label=label, help=help_, footer=footer)
        for name, key, run, label, help_, footer in rows
    )


TASKS = {
    "start": ("f2", "Start", "where the face is, what is due, what changed"),
    "wheel": ("f3", "Wheel", "the face to scale, tool by tool"),
    "log": ("f4", "Log", "type in an inspection"),
    "rates": ("f5", "Rates", "what each unit of ground costs each kind of tool"),
    "ahead": ("f6", "Ahead", "the drive ahead, and wear along it"),
    "stops": ("f7", "Stops", "where to stop, what to change, what going on would cost"),
    "store": ("f8", "Store", "tools used by month, stock, what to order by when"),
    "faults": ("f9", "Faults", "what is wrong in the folder, and what to do"),
}
"""Task: its key, its word, what it is for."""

ACTIONS: tuple[Action, ...] = (
    *(
        Action(name=f"app.{task}", key=key, run=f"app.task('{task}')", label=word, help=f"{word}: {what}.")
        for task, (key, word, what) in TASKS.items()
    ),
    *_all((
        ("app.help", "f1,question_mark", "app.help", "Help", "What the part in focus does, and every key of this screen.", True),
        ("app.palette", "ctrl+p", "app.command_palette", "Commands", "Find any action, place, serial or window by typing.", True),
        ("app.find", "slash", "app.find", "Find", "Find a place by number or serial, a window, a stop.", False),
        ("app.cancel", "escape", "app.cancel", "Back", "Leave a dialog or detail; on a task screen go back to Start.", False),
        ("app.back", "less_than_sign,backspace", "app.trail(-1)", "Go back", "To the screen and place you were at before.", False),
        ("app.forward", "greater_than_sign", "app.trail(1)", "Go forward", "Forward again after going back.", False),
        ("app.stop_work", "ctrl+x", "app.stop_work", "Stop the work", "Stop what is being worked out; a plan ends with the best found so far.", False),
        ("app.again", "ctrl+r", "app.again", "Read again", "Read the folder again and work everything out anew.", False),
        ("app.csv", "ctrl+e", "app.csv", "CSV", "Write the table in focus as a CSV file into the folder you started from.", False),
        ("app.svg", "ctrl+g", "app.svg", "Picture", "Write this screen as an SVG picture into the folder you started from.", False),
        ("app.units", "ctrl+u", "app.units", "Metric / US", "Show metric or US units; the folder stays as it is.", False),
        ("app.quit", "ctrl+q", "app.quit", "Quit", "Leave. A record half typed is kept as a draft.", True),
        ("start.open", "o", "recent", "Other site", "Open another site you looked at before.", True),
        ("start.wheel", "w", "app.task('wheel')", "Wheel", "Go to the wheel.", True),
        ("start.log", "l", "app.task('log')", "Log an inspection", "Type in an inspection.", True),
        ("start.stops", "s", "app.task('stops')", "Stops", "Go to the stops.", True),
        ("wheel.up", "up,k", "step(-1, 0)", "Up", "To the next tool above.", False),
        ("wheel.down", "down,j", "step(1, 0)", "Down", "To the next tool below.", False),
        ("wheel.left", "left,h", "step(0, -1)", "Left", "To the next tool on the left.", False),
        ("wheel.right", "right", "step(0, 1)", "Right", "To the next tool on the right.", False),
        ("wheel.next", "n", "number(1)", "Next number", "To the place with the next number.", True),
        ("wheel.before", "N", "number(-1)", "Number before", "To the place with the number before.", False),
        ("wheel.worst", "w", "worst", "Next worst", "To the next most worn place; again for the one after.", True),
        ("wheel.show", "s", "show", "Show", "What the marks say: wear, chance of passing the limit, last seen, zone, number.", True),
        ("wheel.profile", "p", "profile", "Profile", "Wear against limit from the centre to the gauge, and back to the face.", True),
        ("wheel.further", "right_square_bracket", "look(1)", "Look further", "Move the chainage the chance is for to the next window.", False),
        ("wheel.nearer", "left_square_bracket", "look(-1)", "Look nearer", "Move the chainage the chance is for one window back.", False),
        ("wheel.life", "enter", "life", "Life", "Everything recorded of the tool at this place.", True),
        ("wheel.legend", "i", "legend", "Signs", "What the signs on the wheel mean.", False),
        ("log.new", "n", "begin", "New", "Begin a new inspection.", True),
        ("log.resume", "r", "resume", "Go on with draft", "Go on with the draft in the list.", True),
        ("log.correct", "c", "correct", "Correct", "Correct the inspection in the row: a new record takes its place, with a reason.", True),
        ("log.read", "enter", "read", "Read", "Read the record in the row whole; from there correct it or take it back.", True),
        ("log.withdraw", "w,ctrl+z", "withdraw", "Withdraw", "Take the record in the row back: a further record with a reason.", False),
        ("log.discard", "d", "discard", "Discard draft", "Throw the draft in the row away; asks first.", False),
        ("log.event", "e", "event", "Event", "Write an event of the drive: a boulder, steel, a jump of torque.", False),
        ("log.sensor", "s", "sensor", "Sensor", "Write what a wear sensor reported, or that its line was proved live.", False),
        ("log.take", "t", "take_in", "Take in files", "Take in workbooks, CSV or AGS 4 files of the office: questions, preview, then write.", True),
        ("entry.help", "f1", "app.help", "Help", "The keys of the sheet.", True),
        ("entry.save", "f10,ctrl+s", "save", "Save", "Look over what will be written, then write it.", True),
        ("entry.undo", "ctrl+z", "undo", "Undo", "Take back the last change; again for the one before.", True),
        ("entry.head", "ctrl+t", "head", "Stop's data", "Ring, mode, pressure, entries and who measured.", False),
        ("entry.leave", "escape", "leave", "Leave", "Leave; the draft is kept and offered again.", True),
        ("rates.test", "b", "test", "Test past outlooks", "Work out how the outlook has done at every past stop.", True),
        ("rates.behind", "enter", "behind", "Readings behind", "The readings a rate rests on.", True),
        ("ahead.nearer", "plus,equals_sign", "zoom(0.5)", "Closer", "Show a shorter stretch of the drive.", True),
        ("ahead.wider", "minus", "zoom(2)", "Wider", "Show a longer stretch of the drive.", True),
        ("ahead.left", "left", "pan(-1)", "Back", "Move the pointer back along the drive.", False),
        ("ahead.right", "right", "pan(1)", "On", "Move the pointer on along the drive.", False),
        ("ahead.window", "w", "window(1)", "Next window", "Point at the next window.", True),
        ("ahead.window_before", "W", "window(-1)", "Window before", "Point at the window before.", False),
        ("ahead.tool", "n", "tool(1)", "Next tool", "Draw the next tool's wear.", True),
        ("ahead.tool_before", "p", "tool(-1)", "Tool before", "Draw the wear of the tool before.", False),
        ("stops.force", "f", "force", "Stop here", "Make the plan stop at the chosen place, and see what that costs.", True),
        ("stops.forbid", "x", "forbid", "Not here", "Keep the plan from stopping in the chosen window, and see what that costs.", True),
        ("stops.later", "right_square_bracket", "shift(1)", "Later", "Move the chosen stop to the next ring or window further on.", False),
        ("stops.earlier", "left_square_bracket", "shift(-1)", "Earlier", "Move the chosen stop to the ring or window before.", False),
        ("stops.windows", "v", "windows", "Windows", "Every window ahead, to force or forbid one.", True),
        ("stops.standing", "h", "standing", "Stand here", "What to change where the drive stands stopped, its readings logged, before it goes on; again: as before.", False),
        ("stops.entries", "m", "entries", "Fewer entries", "Set how many entries under pressure there may be at most, and see what that costs.", False),
        ("stops.margin", "M", "margin", "Leave in hand", "Leave something in hand against the caps, and see what that costs.", False),
        ("stops.keep", "K", "keep", "Keep wishes", "Keep the wishes in the folder: every plan, the demand, pack, sheet and page follow them.", False),
        ("stops.undo", "ctrl+z", "undo", "Undo", "Take back the last wish; again for the one before.", False),
        ("stops.clear", "u", "clear", "Let go", "Let go of all wishes: the plan is free again.", True),
        ("stops.pack", "w", "pack", "Pack", "Write the work pack of the next stop; asks who has read the cautions.", True),
        ("stops.sheet", "t", "sheet", "Chamber sheet", "Write the sheet to take into the chamber.", False),
        ("stops.meeting", "p", "meeting", "Meeting sheet", "Write the meeting sheet: two sides of A4 to print from a browser.", True),
        ("stops.why", "enter", "why", "Why", "The reason, then what it rests on, then the readings.", True),
        ("store.edit", "e", "edit", "Edit stock", "Change what is on hand, in rebuild or on order for the type in the row.", True),
        ("store.undo", "ctrl+z", "undo", "Undo", "The stock edited last as it was before, to look over and write.", False),
        ("store.keep", "k", "keep", "Keep forecast", "Keep this forecast in the folder; the next one says what moved since, and why.", True),
        ("store.next", "n", "kind(1)", "Next type", "The stock line of one tool type alone; again for the next type.", True),
        ("store.all", "a", "all", "All types", "The stock lines of all types again.", True),
        ("store.before", "p", "kind(-1)", "Type before", "The stock line of the tool type before.", False),
        ("faults.again", "r", "app.again", "Read again", "Read the folder again after mending it.", True),
        ("life.next", "n", "step(1)", "Next", "The next life at this place.", True),
        ("life.before", "p", "step(-1)", "Before", "The life before at this place.", True),
        ("life.back", "escape", "back", "Back", "Back to where you came from.", True),
    )),
)  # fmt: skip

NAMES = frozenset(action.name for action in ACTIONS)


def actions_of(where: str) -> tuple[Action, ...]:
    """The actions a screen knows of itself (``app``: those known everywhere)."""
    return tuple(action for action in ACTIONS if action.where == where)


def bindings_of(where: str) -> list[Any]:
    """Bindings of a screen or the app; their ids are the actions' names, so that users can bind other keys."""
    return [
        Binding(action.key, action.run, action.label, show=action.footer, tooltip=action.help, id=action.name)
        for action in actions_of(where)
    ]


def key_words(key: str) -> str:
    """A key as people read it."""
    words = {
        "question_mark": "?", "slash": "/", "right_square_bracket": "]", "left_square_bracket": "[", "plus": "+",
        "minus": "-", "less_than_sign": "<", "greater_than_sign": ">", "equals_sign": "=", "escape": "Esc", "enter": "Enter", "up": "↑", "down": "↓", "left": "←",
        "right": "→", "space": "Space",
    }  # fmt: skip

    def one(part: str) -> str:
        if part.startswith("ctrl+"):
            return f"Ctrl+{part[5:].upper()}"
        return words.get(part, part.upper() if len(part) > 1 else part)

    return " or ".join(one(part) for part in key.split(","))

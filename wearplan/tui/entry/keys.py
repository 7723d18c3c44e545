"""The single keys of the sheet: what each means, and the questions an action asks one after the other."""

from __future__ import annotations

from dataclasses import dataclass

CONDITION_KEYS = {
    "e": "even", "f": "flat", "c": "chipped", "k": "cracked", "m": "mushroomed", "r": "ring lost", "s": "seized",
    "l": "leaking", "h": "holder worn", "t": "tool lost",
}  # fmt: skip
NOT_READ_KEYS = {"n": "not reached", "o": "not looked at", "b": "seen, not measured"}
ACTION_KEYS = {"C": "change", "M": "move", "W": "swap", "T": "turn", "B": "blank"}
TO_KEYS = {"r": "rebuild", "s": "scrap", "h": "shelf"}
REASON_KEYS = {"l": "limit", "d": "damage", "n": "neighbour", "p": "preventive", "o": "overcut"}
OF_A_FITTING = ("reason", "old_to", "new_serial", "new_batch", "from_position")
"""Said of an action; another action begins without them."""
WEAR_SIGNS = "0123456789.,<> "
PAD = {"decimal": ".", "separator": ","}
"""Keys of the number pad that some terminals send by name and not as a character."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing asked: a single key of ``keys``, or a text (``keys`` empty). Enter leaves it unsaid."""

    field: str
    words: str
    keys: tuple[tuple[str, str], ...] = ()
    digits: bool = False

    def prompt(self) -> str:
        """The question with its keys."""
        if not self.keys:
            return f"{self.words} (Enter: leave it unsaid)"
        return f"{self.words}: " + ", ".join(f"{key} {word}" for key, word in self.keys) + "; Enter: unsaid"


_TO = Question(field="old_to", words="Old tool goes to", keys=tuple(TO_KEYS.items()))
_WHY = Question(field="reason", words="Because of", keys=tuple(REASON_KEYS.items()))
_NEW = Question(field="new_serial", words="Serial of the new tool")
_FROM = Question(field="from_position", words="From which place", digits=True)
SERIAL = Question(field="serial", words="Serial of the tool found")
BATCH = Question(field="new_batch", words="Batch (delivery) of the new tool")
NOTE = Question(field="note", words="Note")
GO_TO = Question(field="", words="Go to place", digits=True)
QUESTIONS: dict[str, tuple[Question, ...]] = {
    "change": (_TO, _WHY, _NEW),
    "move": (_FROM, _WHY),
    "swap": (_FROM, _WHY),
    "turn": (_WHY,),
    "blank": (_TO, _WHY),
}
"""Action: what is asked after it."""


def key_notes() -> str:
    """The keys of the sheet in words, for the help."""

    def row(head: str, keys: dict[str, str]) -> str:
        return f"{head}: " + ", ".join(f"{key} {word}" for key, word in keys.items())

    return "\n".join((
        "Type the wear and press Enter: the next place follows. Several numbers are points round the ring; <1 says",
        "nothing was to be seen at that resolution, >25 that it is past measuring. An empty line is NOT READ.",
        row("Not read", NOT_READ_KEYS),
        row("Condition", CONDITION_KEYS),
        row("Fitted (capitals)", ACTION_KEYS) + ", X nothing after all",
        "i serial found, d batch of the new tool, a note, y other method, g go to a place; Delete empties a line.",
        "A value outside what is expected is asked about once: Enter again keeps it.",
    ))  # fmt: skip

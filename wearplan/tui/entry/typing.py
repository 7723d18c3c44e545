"""What keys do to the sheet: a small machine without widgets, so that it can be tried by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wearplan.site.records import TROUBLE
from wearplan.tui.display import Display
from wearplan.tui.entry import keys as K
from wearplan.tui.entry.expecting import Expected, odd
from wearplan.tui.entry.sheet import Sheet
from wearplan.tui.entry.words import MOST_MM, blank_for_point, read_wear


@dataclass(slots=True)
class Typist:
    """The sheet, the place the cursor is at, what is being typed there, and what is being asked.

    `press` takes one key; ``said`` is the sentence to show after it. ``counted`` is the number of keys pressed.
    """

    sheet: Sheet
    expected: Mapping[int, Expected]
    methods: tuple[str, ...] = ()
    units: Display = field(default_factory=Display)
    most_mm: float = MOST_MM
    at: int = 0
    buffer: str | None = None
    asks: list[K.Question] = field(default_factory=list)
    text: str = ""
    said: str = ""
    doubted: str | None = None
    """The value asked about; the first digit after that question begins it anew."""
    asked: tuple[int, str] | None = None
    """Place and letter of the question whether what stands there gives way to the letter."""
    rang: bool = False
    """Whether the last key is to be heard: something is asked, or what was typed before it is gone."""
    counted: int = 0
    page: int = 12

    @property
    def number(self) -> int:
        """The place the cursor is at."""
        return self.sheet.order[self.at]

    def press(self, key: str, character: str | None) -> bool:
        """Take a key; True if the sheet changed."""
        self.counted += 1
        character = character or K.PAD.get(key)
        self.said, self.rang = "", False
        asked, self.asked = self.asked, None
        if self.asks:
            return self._answer(key, character)
        if key in ("enter", "down"):
            return self._go_on()
        if key == "backspace":
            current = self.buffer if self.buffer is not None else self.sheet.line(self.number).wear
            self.buffer = current[:-1]
            self.doubted = None
            return False
        if key == "delete":
            self.buffer = None
            return self._put(
                wear="", not_read=None, condition=None, kept=None, action=None, reason=None, old_to=None,
                new_serial=None, from_position=None, serial=None, note=None, method=None,
            )  # fmt: skip
        if key in ("up", "pageup", "pagedown", "home", "end"):
            changed, left = self._leave()
            if left:
                step = {"up": -1, "pageup": -self.page, "pagedown": self.page}.get(key)
                last = len(self.sheet.order) - 1
                self.at = (0 if key == "home" else last) if step is None else max(0, min(last, self.at + step))
            return changed
        if character and character in K.WEAR_SIGNS and (character != " " or self.buffer):
            if self.doubted is not None and self.buffer is not None:
                self.said, self.rang, self.buffer = f"{self.buffer.strip()} is gone; type it anew", True, None
            self.buffer = (self.buffer or "") + character
            self.doubted = None
            return False
        sign = character or ""
        if self._gives_way(sign, asked):
            return False
        return self._letter(sign)

    def _gives_way(self, sign: str, asked: tuple[int, str] | None) -> bool:
        """Ask before a letter takes the place of a reading or of a fitting that stands; True while it is asked."""
        line = self.sheet.line(self.number)
        if sign in K.NOT_READ_KEYS:
            stands, then = (self.buffer or "").strip() or line.wear, f"puts '{K.NOT_READ_KEYS[sign]}' in its place"
        elif sign in K.ACTION_KEYS:
            stands = f"{line.action or ''} {line.new_serial or ''}".strip()
            then = f"begins a {K.ACTION_KEYS[sign]} anew"
        else:
            return False
        if not stands or asked == (self.number, sign):
            return False
        self.asked, self.rang = (self.number, sign), True
        self.said = f"! {stands} stands at {self.number}. {sign} again {then}; any other key leaves it."
        return True

    def _letter(self, sign: str) -> bool:
        if sign in K.CONDITION_KEYS:
            trouble = K.CONDITION_KEYS[sign] in TROUBLE  # after which no wear is expected
            changed, left = self._leave(sign=sign, unasked=trouble)
            return self._put(condition=K.CONDITION_KEYS[sign]) or changed if left else changed
        if sign in K.NOT_READ_KEYS:
            self.buffer, self.doubted = None, None
            changed = self._put(not_read=K.NOT_READ_KEYS[sign], wear="", kept=None)
            self._forward()
            return changed
        if sign in K.ACTION_KEYS:
            changed, left = self._leave(sign=sign)
            if not left:
                return changed
            action = K.ACTION_KEYS[sign]
            self._ask(*K.QUESTIONS[action])
            return self._fitted(action) or changed
        if sign == "X":
            return self._fitted(None)
        if sign == "d" and self.sheet.line(self.number).action != "change":
            self.said = "the batch is that of a new tool: C first"
            return False
        if sign in "iagd" and sign:
            self._ask({"i": K.SERIAL, "a": K.NOTE, "g": K.GO_TO, "d": K.BATCH}[sign])
            return False
        if sign == "y" and self.methods:
            now = self.sheet.line(self.number).method
            ways: list[str | None] = [None, *self.methods]
            after = ways[(ways.index(now) + 1) % len(ways)] if now in ways else None
            self.said = f"measured with {after or 'the method of the stop'}"
            return self._put(method=after)
        self.said = "no such key here; F1 lists the keys"
        return False

    def _fitted(self, action: str | None) -> bool:
        return self._put(action=action, **dict.fromkeys(K.OF_A_FITTING))

    def _ask(self, *questions: K.Question) -> None:
        self.asks, self.text = list(questions), ""

    def _answer(self, key: str, character: str | None) -> bool:
        question = self.asks[0]
        if key == "enter":
            self.asks.pop(0)
            text, self.text = self.text.strip(), ""
            if not text or question.keys:
                return False
            if question is K.GO_TO:
                return self._go_to(int(text))
            if question.digits and int(text) not in self.sheet.order:
                self.said = f"there is no place {text} on this wheel"
                self.asks.insert(0, question)
                return False
            return self._put(**{question.field: int(text) if question.digits else text})
        if key == "backspace":
            self.text = self.text[:-1]
            return False
        if question.keys:
            chosen = dict(question.keys).get(character or "")
            if chosen is None:
                self.said = question.prompt()
                return False
            self.asks.pop(0)
            return self._put(**{question.field: chosen})
        if character and character.isprintable() and (not question.digits or character.isdigit()):
            self.text += character
        return False

    def cancel(self) -> bool:
        """Leave the questions or what is being typed; False where there is neither."""
        if self.asks or self.buffer is not None:
            self.asks, self.text, self.buffer, self.doubted = [], "", None, None
            return True
        return False

    def _go_to(self, number: int) -> bool:
        changed, left = self._leave()
        if number not in self.sheet.order:
            self.said = f"there is no place {number} on this wheel"
        elif left:
            self.at = self.sheet.order.index(number)
        return changed

    def go_to_row(self, index: int) -> bool:
        """The cursor to a row, by mouse; True if the sheet changed."""
        changed, left = self._leave()
        if left:
            self.at = max(0, min(len(self.sheet.order) - 1, index))
        return changed

    def _go_on(self) -> bool:
        changed, left = self._leave()
        if left:
            self._forward()
        return changed

    def _forward(self) -> None:
        if self.at < len(self.sheet.order) - 1:
            self.at += 1
        else:
            self.said = "that was the last place; F10 saves"

    def _leave(self, *, sign: str = "Enter", unasked: bool = False) -> tuple[bool, bool]:
        """Take in what is typed; (whether the sheet changed, whether the cursor may go on).

        A value that is none keeps the cursor; one outside what is expected is asked about once, unless ``unasked``.
        """
        if self.buffer is None:
            return False, True
        typed = self.buffer.strip()
        if not typed:
            self.buffer = None
            return self._put(wear="", kept=None), True
        wear = read_wear(typed, inch=self.units.us, most_mm=self.most_mm)
        if isinstance(wear, str):
            self.said, self.rang = wear, True
            return False, False
        known = self.expected.get(self.number)
        spaced = blank_for_point(typed)
        doubt = spaced or (odd(wear, known, self.units) if known is not None else None)
        kept = self.sheet.line(self.number).kept
        if doubt and typed not in (self.doubted, kept) and (spaced or not unasked):
            self.doubted, self.rang = typed, True
            self.said = f"! {doubt}. {sign} again keeps it; or type it anew."
            return False, False
        self.buffer, self.doubted = None, None
        if known is not None and known.low_mm is not None and known.high_mm is not None:
            band = f"{self.units.wear(known.low_mm)} to {self.units.wear(known.high_mm)}"
            self.said = f"place {self.number}: {typed}; expected {band} (99 in 100){', kept' if doubt else ''}"
        return self._put(wear=typed, not_read=None, kept=typed if doubt else None), True

    def _put(self, **typed: object) -> bool:
        return self.sheet.put(self.number, **typed)

    def undo(self) -> bool:
        """Take back the last change and go to where it was."""
        if self.buffer is not None or self.asks:
            self.cancel()
            self.said = "what was being typed is taken back"
            return False
        had = bool(self.sheet.undos)
        number = self.sheet.undo()
        if number is not None and number in self.sheet.order:
            self.at = self.sheet.order.index(number)
        self.said = "taken back" if had else "nothing to take back"
        return had

    def line_below(self) -> str:
        """What is asked or said now, or what is known of the place once its value is typed."""
        if self.asks:
            question = self.asks[0]
            return f"{question.prompt()} {self.text}_" if not question.keys else question.prompt()
        return self.said

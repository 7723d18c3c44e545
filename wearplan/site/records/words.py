"""The words of the format: every value a key may take."""

from typing import Annotated

from wearplan.site.records.key import Key

KINDS = ("disc", "scraper", "ripper", "bucket tool", "centre tool", "copy tool")
ZONES = ("centre", "face", "gauge")
MODES = ("free air", "compressed air", "mixed gas", "saturation", "divers")
PLANNED_MODES = ("free air", "compressed air")
NOT_READ = ("not reached", "not looked at", "seen, not measured")
CONDITIONS = (
    "even", "flat", "chipped", "cracked", "mushroomed", "ring lost", "seized", "leaking", "holder worn", "tool lost",
)  # fmt: skip
TROUBLE = ("flat", "chipped", "cracked", "ring lost", "seized", "tool lost")
"""Conditions after which a reading says nothing of abrasion."""
MINOR = ("chipped", "mushroomed", "leaking")
"""Conditions a tool goes on working with, unless the site's `[costs]` say otherwise."""
ACTIONS = ("change", "move", "swap", "turn", "blank")
OLD_TO = ("rebuild", "scrap", "shelf")
REASONS = ("limit", "damage", "neighbour", "preventive", "overcut")
WINDOW_KINDS = ("shaft", "treated block", "competent ground", "station box", "other")
TERMS = ("stretches", "types", "curves")
"""Terms of the regression that a site may leave out: what stretches of ground differ by, types and batches, and wear
that slows or quickens with its level."""
ANSWERS = ("rates", "outlook", "plan", "demand", "backtest")
"""Answers that a fault can forbid."""

Kind = Annotated[str, Key(words=KINDS)]
Term = Annotated[str, Key(words=TERMS)]
Zone = Annotated[str, Key(words=ZONES)]
Mode = Annotated[str, Key(words=MODES)]
Condition = Annotated[str, Key(words=CONDITIONS)]

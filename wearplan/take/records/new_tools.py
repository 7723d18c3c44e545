"""What a new tool measures: asked where no file says it."""

from __future__ import annotations

import re

from wearplan.take.asking import Answers
from wearplan.take.records.wheel import Tool


def new_diameter(tool: Tool, answers: Answers) -> float | None:
    """The diameter of a new disc: by its type, else asked, with the inches of its name as a hint."""
    if tool.diameter_mm is not None:
        return tool.diameter_mm
    inches = re.search(r"(\d{2})\s*(?:\"|''|zoll|pouces|inch|in\b|pulgadas)", tool.code, re.I)
    hint = f"{round(float(inches[1]) * 25.4):d}" if inches else None
    answer = answers.ask(
        "new diameter",
        "What is the diameter of a new disc, in mm?",
        (),
        form="number",
        about="meaning",
        example={"shown": tool.code},
        suggested=hint,
        holds=("stops",),
    )
    value = float(answer) if answer is not None else (float(hint) if hint else None)
    if answer is not None:
        tool.diameter_mm = value
    return value


def new_height(tool: Tool, answers: Answers) -> float | None:
    """The height of a new tool by its type, else asked."""
    if tool.new_height_mm is not None:
        return tool.new_height_mm
    answer = answers.ask(
        f"new height of {tool.code}",
        f"What is the height of a new '{tool.code}', in mm?",
        (),
        form="number",
        about="meaning",
        holds=("stops",),
    )
    return float(answer) if answer is not None else None

"""The life a tool was foretold at past stops against the life it reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.outlooks.look import look_ahead

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Site
    from wearplan.wear.results import Fit

LOOK_DRAWS = 150


@dataclass(frozen=True, kw_only=True)
class Foretold:
    """One tool at one past stop."""

    life: str
    tool_type: str
    foretold_m: float
    """Median, metres driven from its fitting to its limit; to the end of the drive where it lies beyond."""
    reached_m: float
    """Metres to where its readings cross the limit, else to the last of them: changed earlier, or still going on."""
    crossed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeScore:
    """All tools of one type."""

    tool_type: str
    lives: int
    """Lives whose readings crossed their limit after at least one such foretelling."""
    censored: int
    """Lives taken off, or going on, below their limit: they say only that the life was longer."""
    mean_error: float
    """Mean of foretold over reached, less 1; not a number where no life crossed its limit."""
    mean_absolute_error: float
    outlived: float
    """Share of the censored lives' foretellings that had already been outlived."""


def foretold_lives(then: Site, fit: Fit, full: Sequence[Life]) -> list[Foretold]:
    """What the outlook of a past stop said of the tools then in place, beside what came."""
    outlook = look_ahead(then, fit, draws=LOOK_DRAWS)
    middle = np.median(np.where(np.isfinite(outlook.limit_m()), outlook.limit_m(), outlook.end_m), axis=0)
    later = {life.id: life for life in full}
    out = []
    for place, life in enumerate(outlook.lives):
        whole = later.get(life.id) if life is not None else None
        if life is None or whole is None or life.trouble_from_m is not None:
            continue
        found = crossing(whole, float(outlook.limit_mm[place]))
        if found is not None and found[0] > outlook.face_m:
            out.append(
                Foretold(
                    life=life.id, tool_type=life.tool_type, foretold_m=float(middle[place]) - life.from_m,
                    reached_m=found[0] - life.from_m, crossed=found[1],
                )
            )  # fmt: skip
    return out


def crossing(life: Life, limit_mm: float) -> tuple[float, bool] | None:
    """Driven metres where a life's readings cross a limit, linear between them, and True; else its last reading and
    False; None without a sound value."""
    at_m, at_mm = life.from_m, life.start_wear_mm
    seen = False
    for reading in life.readings:
        if reading.wear_mm is None or not reading.sound or reading.source != "inspection":
            continue
        if reading.wear_mm >= limit_mm:
            rise = reading.wear_mm - at_mm
            part = (limit_mm - at_mm) / rise if rise > 0 else 1.0
            return at_m + float(np.clip(part, 0.0, 1.0)) * (reading.driven_m - at_m), True
        at_m, at_mm, seen = reading.driven_m, reading.wear_mm, True
    return (at_m, False) if seen else None


def score_lives(found: Sequence[Foretold]) -> tuple[LifeScore, ...]:
    """One score a type."""
    out = []
    for code in dict.fromkeys(each.tool_type for each in found):
        mine = [each for each in found if each.tool_type == code]
        crossed = [each for each in mine if each.crossed]
        going = [each for each in mine if not each.crossed]
        error = np.array([each.foretold_m / max(each.reached_m, 1e-6) - 1.0 for each in crossed])
        out.append(
            LifeScore(
                tool_type=code, lives=len({each.life for each in crossed}), censored=len({each.life for each in going}),
                mean_error=float(error.mean()) if len(error) else float("nan"),
                mean_absolute_error=float(np.abs(error).mean()) if len(error) else float("nan"),
                outlived=float(np.mean([each.foretold_m < each.reached_m for each in going])) if going else 0.0,
            )
        )  # fmt: skip
    return tuple(out)


def life_words(score: LifeScore) -> str:
    """One score in a sentence."""
    rest = f"{score.censored} taken off or going on below it, {score.outlived:.0%} of those foretellings outlived"
    if not score.lives:
        return f"{score.tool_type}: no life's readings crossed the limit after it was foretold; {rest}"
    side = "long" if score.mean_error >= 0 else "short"
    return (
        f"{score.tool_type}: life foretold {abs(score.mean_error):.0%} too {side} on the mean,"
        f" {score.mean_absolute_error:.0%} off either way, on {score.lives} lives whose readings crossed the limit;"
        f" {rest}"
    )

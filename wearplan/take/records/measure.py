"""From what a sheet measures (used, remaining, a diameter, a share of the limit) to wear in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wearplan.take.asking import Answers
from wearplan.take.find.words import meaning_of
from wearplan.take.records.legend import measures_said
from wearplan.take.records.new_tools import new_diameter, new_height
from wearplan.take.records.wheel import Place, WheelTaken

CHOICES = ("used", "remaining", "diameter", "share of the limit used", "share of the limit left")


@dataclass(slots=True)
class Measure:
    """How readings of discs and of other tools are to be understood on one sheet."""

    disc: str = "used"
    other: str = "used"


def measure_of(
    label: str,
    words: str,
    head: str,
    samples: Sequence[tuple[Place, float]],
    wheel: WheelTaken,
    answers: Answers,
    example: dict[str, str],
) -> Measure:
    """What wear is on a sheet: said by its words and borne out by its values, else asked, by group of tools."""
    told = by_head(head)
    said = {**measures_said(words), **({"all": told} if told else {})}
    out = Measure()
    both = {
        group: _group(group, said, [(p, v) for p, v in samples if wheel.tool(p).disc == (group == "disc")], wheel)
        for group in ("disc", "other")
    }
    present = {group for group in both if any(wheel.tool(p).disc == (group == "disc") for p, _ in samples)}
    for group in ("disc", "other"):
        likely, sure = both[group]
        if group not in present:
            setattr(out, group, likely)
            continue
        people = "discs" if group == "disc" else "other tools"
        name = f"wear of {people}, {label}"
        if sure:
            setattr(out, group, answers.settle(name, likely, "the words of the sheet and its values agree"))
            continue
        count = sum(wheel.tool(p).disc == (group == "disc") for p, _ in samples)
        answer = answers.ask(
            name,
            f"What do the readings of {people} say on {label}: wear used, what remains, a measured "
            "diameter, or a share of "
            "the limit?",
            CHOICES,
            about="meaning",
            count=count,
            example=example,
            suggested=likely,
            holds=("stops",),
        )
        setattr(out, group, str(answer or likely))
    return out


def by_head(head: str) -> str | None:
    """What a column's head says of its measure, where it says more than wear."""
    meaning = meaning_of(head)
    return {"remaining": "remaining", "measured_diameter": "diameter", "limit_share": "share of the limit"}.get(meaning)


def _group(
    group: str, said: dict[str, str], samples: Sequence[tuple[Place, float]], wheel: WheelTaken
) -> tuple[str, bool]:
    """(Most likely meaning, whether words and values agree on it)."""
    word = said.get(group) or said.get("all")
    values = [value for _, value in samples]
    big = sum(value > 150 for value in values) > 0.5 * max(len(values), 1)
    if group == "disc" and big:
        return "diameter", word == "diameter"
    if word == "diameter":
        return ("used", "all" in said) if not big else ("diameter", False)
    falling = _falls(samples)
    if word == "share of the limit":
        return ("share of the limit left" if falling else "share of the limit used"), False
    if word == "remaining":
        return "remaining", falling or not values or len(values) < 4
    if word == "used":
        return ("remaining" if falling else "used"), not falling
    return ("remaining" if falling else "used"), False


def _falls(samples: Sequence[tuple[Place, float]]) -> bool:
    """Whether the values of a place mostly fall from stop to stop."""
    last: dict[str, float] = {}
    down = up = 0
    for place, value in samples:
        if place.name in last:
            down += value < last[place.name]
            up += value > last[place.name]
        last[place.name] = value
    return down > up


def to_wear(
    measure: str, values: Sequence[float], sign: str, place: Place, wheel: WheelTaken, answers: Answers
) -> tuple[tuple[float, ...], str]:
    """Values as wear in mm, and their sign, which turns round where more means less wear.

    Raises
    ------
    ValueError
        With the cause where a value cannot be, such as more remaining than a new tool has.
    """
    tool = wheel.tool(place)
    if measure == "used":
        return _checked(tuple(values), "wear"), sign
    turned = {"<": ">", ">": "<"}.get(sign, "")
    if measure == "share of the limit used" or measure == "share of the limit left":
        limit = wheel.limit(place)
        if limit is None:
            raise ValueError("a share of the limit, but no limit of this place is known")
        scale = 1.0 if max(values) <= 1.0 else 0.01
        if measure.endswith("used"):
            return _checked(tuple(round(v * scale * limit, 4) for v in values), "wear"), sign
        return _checked(tuple(round((1 - v * scale) * limit, 4) for v in values), "wear"), turned
    if measure == "diameter":
        new = new_diameter(tool, answers)
        if new is None:
            raise ValueError("a diameter, but that of a new disc is not known")
        if max(values) > new + 4:
            raise ValueError(f"{max(values):g} mm is more than a new disc has ({new:g} mm): wear cannot be negative")
        return tuple(max(round((new - v) / 2, 4), 0.0) for v in values), turned
    new = new_height(tool, answers)
    if new is None:
        raise ValueError(f"what remains, but the height of a new {tool.code} is not known")
    if max(values) > new + 1:
        raise ValueError(f"{max(values):g} mm remaining of {new:g} mm new would be negative wear")
    return tuple(max(round(new - v, 4), 0.0) for v in values), turned


def _checked(values: tuple[float, ...], what: str) -> tuple[float, ...]:
    if min(values) < 0:
        raise ValueError(f"{min(values):g} mm: {what} cannot be negative")
    return values

"""The strip of the drive for paper, units by hatch so that they stay apart in grey, and chainages along an axis."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from wearplan.report.drawing import svg
from wearplan.report.drawing.strip import layers_of
from wearplan.report.drawing.svg import Frame
from wearplan.report.words import chainage_text, listing, plain

if TYPE_CHECKING:
    from wearplan.plan import Plan
    from wearplan.site.records import Section, Site, Stops

_TINTS = ("#f7ecda", "#dde9f5", "#e6e0f2", "#eeeeee", "#dfeadf", "#f6e0e0", "#dcf0f0", "#ffffff")
_HATCHES = (
    '<circle cx="3" cy="3" r=".7"/>', '<path d="M0 6 6 0"/>', '<circle cx="1.5" cy="1.5" r=".8"/><circle cx="4.5" '
    'cy="4.5" r=".8"/>',
    '<path d="M0 3H6"/>', '<path d="M0 0 6 6M0 6 6 '
    '0"/>', '<path d="M3 0V6"/>', '<path d="M0 0 6 6"/>', '<path d="M0 2H6M0 5H6"/>',
)  # fmt: skip


def chainage_ticks(site: Site, from_m: float, to_m: float, count: int = 7) -> list[float]:
    """Driven metres of about so many round chainages."""
    ends = sorted((site.drive.chainage_m(from_m), site.drive.chainage_m(to_m)))
    found = (
        site.drive.driven_m(value, near_m=(from_m + to_m) / 2) for value in svg.round_ticks(ends[0], ends[1], count)
    )
    return sorted({driven for driven in found if from_m - 1e-6 <= driven <= to_m + 1e-6})


def short_chainage(site: Site, driven_m: float) -> str:
    return chainage_text(site.drive.chainage_m(driven_m)).split(".")[0]


def drive_svg(
    site: Site,
    plan: Plan | None,
    face_m: float,
    *,
    width: float = 900,
    from_m: float = 0.0,
    to_m: float | None = None,
    name: str = "h",
    legend: bool = True,
) -> str:
    """The drive between two places: ground by height, windows, barred stretches, the face, proposed stops.

    Parameters
    ----------
    name : str
        Beginning of the names of its hatches; another one for each drawing of a page.
    """
    ground = site.ground()
    sections = ground.sections if ground else ()
    end = site.drive.length_m if to_m is None else to_m
    seen = [section for section in sections if section.to_m > from_m and section.from_m < end]
    radius_m = site.wheel.bore_diameter_m / 2
    units = [unit.code for unit in ground.units] if ground else []
    rows = -(-(len(units) + 4) // max(1, int(width // 170))) if legend else 0
    frame = Frame(
        width=width,
        height=152 + 16 * rows,
        x=(from_m, end),
        y=(1.0, 0.0),
        left=46,
        right=10,
        top=26,
        bottom=60 + 16 * rows,
    )
    order = {code: index % len(_HATCHES) for index, code in enumerate(units)}
    frame.add(_patterns(name, sorted(set(order.values()))))
    for section in seen:
        frame.add(*_section(frame, section, order, radius_m, name))
    for section in sections[:-1]:
        frame.add(*_doubt(frame, section, from_m, end))
    for share, words in ((0.0, "crown"), (0.5, "axis"), (1.0, "invert")):
        frame.add(svg.text(frame.x0 - 4, frame.py(share) + 4, words, anchor="end", size=10))
    frame.add(*_access(frame, site.stops, name, from_m, end))
    frame.add(*_marks(frame, plan, face_m, from_m, end))
    for section in seen:
        frame.add(*_codes(frame, section, radius_m))
    for value in chainage_ticks(site, from_m, end, 7):
        frame.add(svg.text(frame.px(value), frame.y0 + 52, short_chainage(site, value), anchor="middle", size=10))
    if legend:
        frame.add(*_legend(frame, site, order, name, 16 * rows))
    said = listing([f"{i} at {chainage_text(s.chainage_m)}" for i, s in enumerate(plan.stops if plan else (), 1)], 20)
    return frame.svg(
        title=f"Ground and stops from {short_chainage(site, from_m)} to {short_chainage(site, end)}",
        description=f"Face at {chainage_text(site.drive.chainage_m(face_m))}. Proposed stops: {said or 'none'}.",
    )


def _patterns(name: str, kinds: list[int]) -> str:
    marks = "".join(
        f'<pattern id="{name}{kind}" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" '
        f'fill="{_TINTS[kind]}"/><g fill="none" stroke="#555" stroke-width=".7">{_HATCHES[kind]}</g></pattern>'
        for kind in kinds
    )
    barred = (
        f'<pattern id="{name}x" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" '
        'fill="#fff"/>'
        '<path d="M0 0 5 5M0 5 5 0" stroke="#000" stroke-width=".9"/></pattern>'
    )
    return f"<defs>{marks}{barred}</defs>"


def _section(frame: Frame, section: Section, order: dict[str, int], radius_m: float, name: str) -> Iterator[str]:
    left, right = max(frame.x0, frame.px(section.from_m)), min(frame.x1, frame.px(section.to_m))
    where = f"{chainage_text(section.from_chainage_m)} to {chainage_text(section.to_chainage_m)}"
    for unit, top, bottom, words in layers_of(section, radius_m):
        y, height = frame.py(top), frame.py(bottom) - frame.py(top)
        fill = f"url(#{name}{order.get(unit, 7)})"
        yield svg.rect(left, y, right - left, height, fill=fill, stroke="#333", hint=f"{where}: {words}")
    if not section.cut:
        yield svg.rect(
            left, frame.y1, right - left, frame.y0 - frame.y1, fill="#fff", stroke="#333", hint=f"{where}: not cut"
        )


def _codes(frame: Frame, section: Section, radius_m: float) -> Iterator[str]:
    """Codes of the units, each on a plain ground of its own, so that neither hatch nor line runs through a letter."""
    left, right = max(frame.x0, frame.px(section.from_m)), min(frame.x1, frame.px(section.to_m))
    for unit, top, bottom, words in layers_of(section, radius_m):
        y, height = frame.py((top + bottom) / 2), frame.py(bottom) - frame.py(top)
        told = next((w for w in (words, unit) if right - left > 7 * len(w) + 6 and height >= 13), None)
        if told is not None:
            x, wide = (left + right) / 2, 7 * len(told) + 4
            yield svg.rect(x - wide / 2, y - 6, wide, 12, fill="#fff")
            yield svg.text(x, y + 4, told, anchor="middle", size=10.5).replace("<text ", '<text font-weight="bold" ', 1)


def _doubt(frame: Frame, section: Section, from_m: float, end: float) -> Iterator[str]:
    """Where the end of a section may lie, nine in ten."""
    low, high = (section.to_m + side * 1.645 * section.boundary_sd_m for side in (-1, 1))
    if section.boundary_sd_m > 0 and high > from_m and low < end:
        yield svg.line(frame.px(max(low, from_m)), frame.y0 + 5, frame.px(min(high, end)), frame.y0 + 5, width=2)


def _access(frame: Frame, stops: Stops | None, name: str, from_m: float, end: float) -> Iterator[str]:
    for window in stops.windows if stops else ():
        if window.to_m >= from_m and window.from_m <= end:
            x = frame.px(max(window.from_m, from_m))
            wide, free = max(frame.px(min(window.to_m, end)) - x, 4), window.mode == "free air"
            hint = f"{plain(window.name)}, {window.mode}, {window.pressure_bar:g} bar"
            yield svg.rect(x, frame.y0 + 10, wide, 9, fill="#fff" if free else "#000", stroke="#000", hint=hint)
    for barred in stops.keep_outs if stops else ():
        if barred.to_m > from_m and barred.from_m < end:
            x, far = frame.px(max(barred.from_m, from_m)), frame.px(min(barred.to_m, end))
            yield svg.rect(
                x, frame.y0 + 24, far - x, 9, fill=f"url(#{name}x)", stroke="#000", hint=plain(barred.reason)
            )
            side = far + 4 if far + 6 * len(barred.reason) < frame.x1 else x - 4
            yield svg.text(side, frame.y0 + 32, plain(barred.reason), anchor="start" if side > far else "end", size=9.5)


def _marks(frame: Frame, plan: Plan | None, face_m: float, from_m: float, end: float) -> Iterator[str]:
    """The face, and numbered stops that never cover one another."""
    if from_m <= face_m <= end:
        x = frame.px(face_m)
        yield svg.line(x, frame.y1 - 8, x, frame.y0 + 22, width=3)
        yield svg.text(x - 4, frame.y1 - 9, "face", anchor="end", size=10.5)
    last = frame.px(face_m) if from_m <= face_m <= end else -99.0
    for number, stop in enumerate(plan.stops if plan else (), start=1):
        if from_m <= stop.driven_m <= end:
            x = frame.px(stop.driven_m)
            last = spot = max(x, last + 17 if number > 1 else last + 12)
            yield svg.line(x, frame.y1, x, frame.y0 + 20, width=1.2, dash="4 2")
            yield f'<circle cx="{spot:.1f}" cy="{frame.y1 - 14:.1f}" r="8"/>'
            yield _white(spot, frame.y1 - 10, str(number))


def _white(x: float, y: float, words: str, size: float = 10.5) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="middle" fill="#fff" font-weight="bold">'
        f"{words}</text>"
    )


def _legend(frame: Frame, site: Site, order: dict[str, int], name: str, deep: float) -> Iterator[str]:
    ground = site.ground()
    entries = [
        (f"url(#{name}{order[unit.code]})", f"{plain(unit.code)} {plain(unit.name or '')}".strip())
        for unit in (ground.units if ground else ())
    ]
    entries += [("#fff", "window in free air"), ("#000", "window under pressure"), (f"url(#{name}x)", "barred")]
    entries += [("line", "a boundary may lie here")]
    columns = max(1, int(frame.width // 170))
    for index, (fill, words) in enumerate(entries):
        x, y = (
            frame.x0 + index % columns * (frame.width - frame.x0 / 2) / columns,
            frame.height - deep + 16 * (index // columns),
        )
        if fill == "line":
            yield svg.line(x, y + 6, x + 13, y + 6, width=2)
        else:
            yield svg.rect(x, y, 13, 11, fill=fill, stroke="#000")
        yield svg.text(x + 17, y + 10, words, size=10)

"""The strip of the drive on the page, and chainages along an axis."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.drawing import svg
from wearplan.report.drawing.svg import Frame
from wearplan.report.words import chainage_text, listing

if TYPE_CHECKING:
    from wearplan.plan import Plan
    from wearplan.site.records import Section, Site


def chainage_ticks(site: Site, from_m: float, to_m: float, count: int = 7) -> list[float]:
    """Driven metres of about so many round chainages."""
    ends = sorted((site.drive.chainage_m(from_m), site.drive.chainage_m(to_m)))
    found = (
        site.drive.driven_m(value, near_m=(from_m + to_m) / 2) for value in svg.round_ticks(ends[0], ends[1], count)
    )
    return sorted({driven for driven in found if from_m - 1e-6 <= driven <= to_m + 1e-6})


def short_chainage(site: Site, driven_m: float) -> str:
    return chainage_text(site.drive.chainage_m(driven_m)).split(".")[0]


def drive_svg(site: Site, plan: Plan | None, face_m: float, *, width: float = 900) -> str:
    """The whole drive: ground by height, windows, keep-outs, the face, proposed stops."""
    ground = site.ground()
    length = site.drive.length_m
    frame = Frame(width=width, height=230, x=(0.0, length), y=(-1.0, 1.0), left=16, top=40, bottom=78)
    units = [unit.code for unit in ground.units] if ground else []
    colour = {code: svg.UNIT_COLOURS[i % len(svg.UNIT_COLOURS)] for i, code in enumerate(units)}
    for section in ground.sections if ground else ():
        frame.add(*_section(frame, section, colour, site.wheel.bore_diameter_m / 2))
    stops = site.stops
    for window in stops.windows if stops else ():
        x, w = frame.px(window.from_m), max(frame.px(window.to_m) - frame.px(window.from_m), 3)
        name = f"{window.name}, {window.mode}, {window.pressure_bar:g} bar"
        frame.add(svg.rect(x, frame.y0 + 4, w, 9, fill=svg.GREEN if window.mode == "free air" else svg.BLUE, hint=name))
    for keep_out in stops.keep_outs if stops else ():
        x, w = frame.px(keep_out.from_m), frame.px(keep_out.to_m) - frame.px(keep_out.from_m)
        frame.add(svg.rect(x, frame.y0 + 16, w, 9, fill=svg.ORANGE, hint=f"keep-out: {keep_out.reason}"))
    face = frame.px(face_m)
    frame.add(
        svg.line(face, frame.y1 - 6, face, frame.y0 + 26, width=2),
        svg.text(face, frame.y1 - 10, "face", anchor="middle"),
    )
    for number, stop in enumerate(plan.stops if plan else (), start=1):
        x = frame.px(stop.driven_m)
        frame.add(svg.line(x, frame.y1, x, frame.y0 + 13, colour=svg.PINK, width=2, dash="4 2"))
        frame.add(svg.text(x, frame.y1 - 24 if number % 2 else frame.y1 - 2, str(number), anchor="middle"))
    for value in chainage_ticks(site, 0.0, length, 8):
        frame.add(svg.text(frame.px(value), frame.y0 + 41, short_chainage(site, value), anchor="middle"))
    legend_x = frame.x0
    for code in units:
        frame.add(
            svg.rect(legend_x, frame.height - 22, 12, 12, fill=colour[code]),
            svg.text(legend_x + 16, frame.height - 12, code),
        )
        legend_x += 34 + 7 * len(code)
    for fill, words in ((svg.GREEN, "window, free air"), (svg.BLUE, "window, pressure"), (svg.ORANGE, "keep-out")):
        frame.add(
            svg.rect(legend_x, frame.height - 22, 12, 12, fill=fill), svg.text(legend_x + 16, frame.height - 12, words)
        )
        legend_x += 34 + 6.2 * len(words)
    said = listing([f"{i} at {chainage_text(s.chainage_m)}" for i, s in enumerate(plan.stops if plan else (), 1)], 20)
    return frame.svg(
        title="The drive: ground, windows, keep-outs, the face and proposed stops",
        description=f"Face at {chainage_text(site.drive.chainage_m(face_m))}. Proposed stops: {said or 'none'}.",
    )


def _section(frame: Frame, section: Section, colour: dict[str, str], radius_m: float) -> list[str]:
    x, width = frame.px(section.from_m), frame.px(section.to_m) - frame.px(section.from_m)
    where = f"{chainage_text(section.from_chainage_m)} to {chainage_text(section.to_chainage_m)}"
    if not section.cut:
        return [
            svg.rect(x, frame.y1, width, frame.y0 - frame.y1, fill="#ffffff", stroke=svg.GREY, hint=f"{where}: not cut")
        ]
    parts = []
    if section.strata:
        tops = [1.0 if layer.top_m is None else max(-1.0, min(1.0, layer.top_m / radius_m)) for layer in section.strata]
        for layer, top, bottom in zip(section.strata, tops, [*tops[1:], -1.0], strict=True):
            y = frame.py(top)
            parts.append(
                svg.rect(
                    x,
                    y,
                    width,
                    frame.py(bottom) - y,
                    fill=colour.get(layer.unit, svg.GREY),
                    hint=f"{where}: {layer.unit}",
                )
            )
        return parts
    top = 1.0
    for code, share in section.mix.items():
        y = frame.py(top)
        hint = f"{where}: {code} {100 * share:.0f} %, mixed"
        parts.append(svg.rect(x, y, width, frame.py(top - 2 * share) - y, fill=colour.get(code, svg.GREY), hint=hint))
        top -= 2 * share
    return parts

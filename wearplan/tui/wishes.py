"""What the user asks of a plan: stops forced, forbidden or shifted. Pure: a wish in, other wishes out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wearplan.report.words import listing, money_text, plain, plural
from wearplan.tui.display import Display

if TYPE_CHECKING:
    from wearplan.plan import Plan, Wishes
    from wearplan.site.records import Site

SAME_M = 0.5
"""Places closer than this are one."""


def force(wishes: Wishes, driven_m: float) -> Wishes:
    """Stop there; asked again, no longer."""
    there = [at for at in wishes.forced_m if abs(at - driven_m) < SAME_M]
    if there:
        return replace(wishes, forced_m=tuple(at for at in wishes.forced_m if at not in there))
    kept = tuple(at for at in wishes.forbidden_m if abs(at - driven_m) >= SAME_M)
    return replace(wishes, forced_m=(*wishes.forced_m, driven_m), forbidden_m=kept)


def force_window(wishes: Wishes, window: str) -> Wishes:
    """Stop somewhere in a window; asked again, no longer."""
    if window in wishes.forced_windows:
        return replace(wishes, forced_windows=tuple(name for name in wishes.forced_windows if name != window))
    kept = tuple(name for name in wishes.forbidden_windows if name != window)
    return replace(wishes, forced_windows=(*wishes.forced_windows, window), forbidden_windows=kept)


def forbid_window(wishes: Wishes, window: str) -> Wishes:
    """Never stop in a window; asked again, it may be used."""
    if window in wishes.forbidden_windows:
        return replace(wishes, forbidden_windows=tuple(name for name in wishes.forbidden_windows if name != window))
    kept = tuple(name for name in wishes.forced_windows if name != window)
    return replace(wishes, forbidden_windows=(*wishes.forbidden_windows, window), forced_windows=kept)


def shift(wishes: Wishes, site: Site, face_m: float, driven_m: float, way: int) -> Wishes | None:
    """Stop one ring further on (or back) where windows allow one, instead of here; None where there is none."""
    places = rings_in_windows(site, face_m)
    other = [at for at in places if (at > driven_m + SAME_M if way > 0 else at < driven_m - SAME_M)]
    if not other:
        return None
    there = other[0] if way > 0 else other[-1]
    forced = tuple(at for at in wishes.forced_m if abs(at - driven_m) >= SAME_M and abs(at - there) >= SAME_M)
    forbidden = tuple(at for at in wishes.forbidden_m if abs(at - there) >= SAME_M and abs(at - driven_m) >= SAME_M)
    return replace(wishes, forced_m=(*forced, there), forbidden_m=(*forbidden, driven_m))


def rings_in_windows(site: Site, face_m: float) -> list[float]:
    """Every ring's end that lies in a window ahead, driven metres."""
    ring = site.drive.ring_length_m
    found = set()
    for window in site.stops.windows if site.stops else ():
        steps = int((site.drive.length_m - face_m) / ring) + 1
        first = max(0, int((window.from_m - face_m) / ring) - 1)
        for k in range(first, steps):
            at = face_m + k * ring
            if at > window.to_m + 1e-6:
                break
            if at >= window.from_m - 1e-6:
                found.add(round(at, 3))
    return sorted(found)


def wishes_words(wishes: Wishes, site: Site, display: Display) -> list[str]:
    """The wishes in words."""
    words = ["what to change where the drive stands"] if wishes.standing else []
    at = [display.chainage(site.drive.chainage_m(m)) for m in wishes.forced_m]
    if at:
        words.append(f"stop at {listing(at)}")
    if wishes.forced_windows:
        words.append(f"stop in {listing([plain(name) for name in wishes.forced_windows])}")
    away = [display.chainage(site.drive.chainage_m(m)) for m in wishes.forbidden_m]
    if away:
        words.append(f"not at {listing(away)}")
    if wishes.forbidden_windows:
        words.append(f"not in {listing([plain(name) for name in wishes.forbidden_windows])}")
    if wishes.margin:
        words.append(MARGIN_WORDS[wishes.margin])
    if wishes.max_entries is not None:
        words.append(f"at most {plural(wishes.max_entries, 'entry', 'entries')} under pressure")
    return words


MARGIN_WORDS = {
    "half": "half of every cap left in hand",
    "1.1": "caps kept in ground 1.1 times as hard",
    "1.2": "caps kept in ground 1.2 times as hard",
}


def not_a_margin(typed: str) -> str | None:
    """A sentence where the answer is no margin; None where it is one, or empty."""
    return None if typed.strip() in ("", *MARGIN_WORDS) else "half, 1.1 or 1.2; or nothing."


def not_a_count(typed: str) -> str | None:
    """A sentence where the answer is no number of entries; None where it is one, or empty."""
    return None if not typed.strip() or typed.strip().isdigit() else "A whole number such as 4, or nothing."


def against_free(plan: Plan, free: Plan | None, site: Site) -> str:
    """What the wishes cost, against the plan without them."""
    if free is None or plan is free:
        return ""
    if not plan.keeps_rules:
        return f"With these wishes {plan.headline}."
    if plan.expected_cost is None or free.expected_cost is None:
        return ""
    extra = plan.expected_cost - free.expected_cost
    more = f"{'+' if extra >= 0 else '-'}{money_text(abs(extra), site.currency)}"
    more += f" ({money_text(free.expected_cost, site.currency)} > {money_text(plan.expected_cost, site.currency)})"
    parts = [more, f"stops {len(free.stops)} > {len(plan.stops)}"]
    parts.append(f"entries under pressure {free.entries_under_pressure} > {plan.entries_under_pressure}")
    late = (_over(free), _over(plan))
    if None not in late:
        parts.append(f"chance of a tool past its limit {100 * late[0]:.0f} > {100 * late[1]:.0f} %")  # type: ignore[operator]
    return "Against the free plan: " + "; ".join(parts)


def _over(plan: Plan) -> float | None:
    """Chance that some tool passes its limit under the plan, where it was played on the draws."""
    found = next((policy for policy in plan.comparison if policy.code == "plan"), None)
    return None if found is None else found.over_limit_probability


def tally(plan: Plan) -> str:
    """Stops, entries and hours in a few words."""
    return (
        f"{plural(len(plan.stops), 'stop')}, {plural(plan.entries_under_pressure, 'entry', 'entries')} and "
        f"{plan.person_hours_under_pressure:.0f} person-hours under pressure"
    )

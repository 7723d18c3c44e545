"""What the plan room answers with, as frozen records.

Lengths along the drive are ``driven_m``; beside each stands the chainage people read. Money is in the site's
currency. A probability is between 0 and 1. Nothing here says that a place may be entered: that is for the site's
approved procedure and the people licensed to decide it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wearplan.wear import Quantiles

STATUSES = ("least_cost", "best_found", "none_needed", "impossible", "not_found")
"""``least_cost``: no plan of this model costs less than the gap allows; ``best_found``: stopped by time or by the
user; ``none_needed``: no stop is the least expected cost; ``impossible``: no plan keeps the rules; ``not_found``: the
search met no plan that keeps them, which does not show that there is none."""
CHANGE_ACTIONS = ("change", "move")
CHANGE_REASONS = ("limit", "damage", "neighbour", "preventive", "overcut")


MARGINS = {"": (1.0, 1.0), "half": (0.5, 1.0), "1.1": (1.0, 1.1), "1.2": (1.0, 1.2)}
"""Share of every cap that is kept, and how many times as hard the ground ahead is taken for that, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the user asks of a plan beyond the folder's rules."""

    forced_m: tuple[float, ...] = ()
    """Stops that must be made: driven metres; the nearest ring of the window there is taken."""
    forced_windows: tuple[str, ...] = ()
    """Windows in which a stop must be made, by name; the plan chooses the ring."""
    forbidden_m: tuple[float, ...] = ()
    """Rings where no stop may be: driven metres."""
    forbidden_windows: tuple[str, ...] = ()
    max_entries: int | None = None
    """Largest number of entries under pressure ahead; None: what the site says."""
    time_limit_s: float = 60.0
    gap: float = 1e-6
    """The search ends when cost and lower bound are this close (relative)."""
    max_candidates: int = 120
    """When the windows ahead hold more rings than this, they are thinned evenly and the plan says so."""
    margin: str = ""
    """One of `MARGINS`: what the plan leaves in hand against the caps."""
    standing: bool = False
    """The machine stands at a stop in the window at the face: its set-up is spent, its readings are in, and the
    question is what to change before it goes on.
    """
    deferral: bool = True
    tradeoff: bool = True
    comparison: bool = True
    """Whether these answers are worked out; a caller in a hurry may ask for the stops alone."""
    priced: bool = True
    """Whether what the wishes cost is worked out, by a plan without them."""
    deferral_windows: int = 5
    seed: int = 1
    free: bool = False
    """True: what is kept of wishes in the folder is not followed."""

    @property
    def asks(self) -> bool:
        """Whether anything is asked of the stops themselves."""
        return bool(
            self.forced_m or self.forced_windows or self.forbidden_m or self.forbidden_windows or self.margin
            or self.max_entries is not None
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A word of care that goes with a stop, on screen, in print and in JSON."""

    code: str
    """A stable word for programs, such as ``ground-fall``."""
    text: str
    source: str | None = None
    """The official text and clause, where one was read."""
    as_read: str | None = None
    """The date the source was read; the text in force must be checked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One tool to change, or to move, at a stop."""

    place: str
    """Code of the place: its housing's code or its position number."""
    positions: tuple[int, ...]
    zone: str
    access: str
    """``chamber`` or ``inside`` (reached from within the wheel in free air)."""
    action: str
    """``change`` or ``move``."""
    tool_type: str
    """What is put on."""
    fitted: str
    """``new`` (or rebuilt: the store does not tell them apart) or ``part-worn``."""
    reason: str
    """``limit``, ``damage``, ``neighbour``, ``preventive`` or ``overcut``."""
    sentence: str
    """The reason with its numbers."""
    from_position: int | None = None
    """For a move: the position the tool comes from; None when it comes from the shelf."""
    destination: str = "rebuild"
    """Where the tool taken off is expected to go: ``rebuild``, ``scrap``, ``shelf`` or ``position N``."""
    wear_mm: Quantiles
    """Expected wear of the tool taken off, at the stop (of the most worn edge of the place)."""
    limit_mm: float
    left_until_m: float
    left_until_chainage_m: float
    """The next stop of the plan, or the end of the drive: where the next two chances are taken."""
    over_limit_probability_if_left: float
    over_damage_probability_if_left: float
    hours: float
    """Hours of one work place."""
    cost: float
    """Tool and work of this change, without the stop's own share."""
    last_read: tuple[float, float, str | None] | None = None
    """(driven_m, chainage_m, inspection id) of the last reading the outlook of this tool rests on."""
    rests_on: tuple[str, ...] = ()
    """Inspection ids whose readings of this life the numbers rest on, oldest first."""
    rings: tuple[int, int] | None = None
    """First and last ring row whose path this life has travelled."""
    basis: str = ""
    """Units met until the next stop with the basis of their rates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One proposed stop."""

    driven_m: float
    chainage_m: float
    ring: int
    window: str
    kind: str
    mode: str
    pressure_bar: float
    pressure_source: str | None
    hours: float
    """Whole standstill: set-up, look, work in whole entries, close-out."""
    entries: int
    """Whole entries, in free air too."""
    entries_under_pressure: int
    person_hours_under_pressure: float
    """Persons times working hours in the chamber under pressure; locking in and out is not counted."""
    person_hours: float
    """The same whatever the mode."""
    cost: float
    """Set-up, standstill, work and tools of this stop; late tools are counted in the plan only."""
    date: date | None
    schedule: tuple[tuple[str, float], ...]
    """(step, hours) in order; their sum is ``hours``."""
    cautions: tuple[Caution, ...]
    changes: tuple[Change, ...]
    not_seen_since: tuple[tuple[int, float | None, str | None], ...]
    """(position, chainage, inspection id) of places not seen at the last stop, or never (None, None)."""
    reason: str
    forced: bool = False
    planning_only: bool = False
    """True when the window names no source for its pressure: not approved, planning only."""
    entry_row: str | None = None
    """The row of the site's procedure used, in words; None in free air without one."""
    exposure_band: str = ""
    """Mode and band of pressure its people are counted in, see `care.exposure`."""
    last_before: str | None = None
    """Said when this is the last place to stop before a long stretch without windows."""
    clear_probability: float | None = None
    """Chance that no tool is past its limit on the way from the stop before (or the face) to here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deferral:
    """What it costs to go on to a later window instead of stopping where the plan says."""

    driven_m: float
    chainage_m: float
    window: str
    ahead_m: float
    """Metres beyond the proposed stop."""
    extra_cost: float
    over_limit_probability: float
    """Chance that at least one tool passes its limit before there."""
    over_damage_probability: float
    """Chance that at least one tool passes its damage limit before there."""
    gauge_over_damage_probability: float
    """The same for gauge tools alone."""
    extra_entries: int
    drivers: tuple[int, ...]
    """Positions that carry the most of the extra risk, the worst first."""
    breaks: tuple[str, ...] = ()
    """Rules that going on would break, in words."""
    note: str = ""

    @property
    def told_cost(self) -> float | None:
        """The extra cost as it may be told: none where it is a saving that only a broken rule allows."""
        return None if self.breaks and self.extra_cost < 0.0 else self.extra_cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One plan of the trade-off between money and hours under pressure."""

    name: str
    stops_m: tuple[float, ...]
    stops_chainage_m: tuple[float, ...]
    windows: tuple[str, ...]
    expected_cost: float
    extra_cost: float
    """Above the plan of least expected cost."""
    entries_under_pressure: int
    person_hours_under_pressure: float
    changes: int
    gap: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """One way of running the drive, played on the same draws as the others."""

    code: str
    """``plan``, ``plan_fixed``, ``run_until_found``, ``every``, ``second_window`` or ``foresight``."""
    name: str
    rule: str
    """The rule in one sentence, with the spacing or threshold chosen."""
    expected_cost: float
    sd_cost: float
    """Spread of the cost over the draws."""
    mean_error: float
    """Standard error of ``expected_cost``, from the number of draws."""
    p10_cost: float
    p90_cost: float
    over_limit_probability: float
    """Chance that at least one tool passes its limit on the drive ahead."""
    over_damage_probability: float
    late_tools: float
    """Expected number of tools past their damage limit."""
    stops: float
    entries_under_pressure: float
    person_hours_under_pressure: float
    tools: float
    """Expected number of tools fitted."""
    draws: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Why no plan keeps the rules: a set of places, a stretch and a rule such that none can be left out."""

    rule: str
    """``cap``, ``row``, ``entries``, ``forced``, ``no window`` or ``forbidden``."""
    places: tuple[str, ...]
    positions: tuple[int, ...]
    from_m: float
    to_m: float
    from_chainage_m: float
    to_chainage_m: float
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusableWindow:
    window: str
    why: str
    code: str = "entry-row"
    """``entry-row``, ``specialist``, ``keep-out``, ``forbidden``, ``change-hours`` or ``passed``."""
    from_m: float = 0.0
    from_chainage_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LastStop:
    """The last place where one may still stop before a long stretch without windows."""

    driven_m: float
    chainage_m: float
    window: str
    next_m: float
    next_chainage_m: float
    next_window: str | None
    length_m: float
    because: str
    planned: bool
    """Whether the plan stops in that window."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundBreak:
    """How much worse the ground may get before the plan as it stands breaks a cap."""

    factor: float | None
    """Wear rates times this; None: it holds up to ``tried_to``."""
    tried_to: float
    place: str | None
    positions: tuple[int, ...]
    from_chainage_m: float | None
    to_chainage_m: float | None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CostParts:
    """Expected cost by cause; they add up to it."""

    stops: float = 0.0
    """Set-up, look, close-out and fixed costs."""
    work: float = 0.0
    """Standstill while tools are changed, and the site's price of hours under pressure."""
    tools: float = 0.0
    """Tools bought less the life left at the end of the drive, and with it the life used of those in place now."""
    late: float = 0.0
    """Tools past their damage limit, and the stops they force."""
    damage: float = 0.0
    """Tools broken before that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A plan of least expected cost in this model, with what speaks for it and against it."""

    status: str
    expected_cost: float | None
    """After repair, whole entries counted: what this plan is expected to cost."""
    model_cost: float | None = None
    """The same stops and changes in the exact model, which ``lower_bound`` and ``gap`` belong to."""
    lower_bound: float | None
    gap: float | None
    """(model_cost - lower_bound) / |model_cost|."""
    parts: CostParts = CostParts()
    forced_stops: float = 0.0
    """How often late tools are expected to stop the drive outside the plan's stops."""
    forced_sentence: str = ""
    """Where that is likeliest; empty where it is hardly expected."""
    cannot_be_planned: float = 0.0
    """The part of ``parts.damage`` that would remain with a look at the wheel at every place to stop."""
    whole_lower_bound: float | None = None
    """What no plan costs less than with entries counted whole; None where that was not worked out."""
    entries_under_pressure: int
    person_hours_under_pressure: float
    stops: tuple[Stop, ...]
    deferral: tuple[Deferral, ...] = ()
    tradeoff: tuple[Alternative, ...] = ()
    comparison: tuple[Policy, ...] = ()
    why_impossible: Clash | None = None
    unusable: tuple[UnusableWindow, ...] = ()
    last_stops: tuple[LastStop, ...] = ()
    ground_break: GroundBreak | None = None
    model_holds: tuple[str, ...] = ()
    """Conditions the exact model holds."""
    met_by_repair: tuple[str, ...] = ()
    """Conditions met afterwards; the gap does not speak of them."""
    gap_belongs_to: str = ""
    cautions: tuple[Caution, ...] = ()
    remarks: tuple[str, ...] = ()
    """What was assumed, thinned or left out."""
    candidates: int = 0
    places: int = 0
    finished: bool = False
    """The face is at the end of the drive."""
    forced_extra_cost: float | None = None
    """What the user's forced and forbidden stops cost, against the plan without them; None without any."""
    wishes: Wishes = Wishes()
    moves_save: float = 0.0
    """What the proposed moves of part-worn tools are expected to save; not counted in ``expected_cost``."""
    thresholds: Mapping[str, tuple[float, ...]] = field(default_factory=lambda: MappingProxyType({}))
    """By place: the measured wear from which the tool is changed, at each stop of the plan (inf: leave)."""

    @property
    def keeps_rules(self) -> bool:
        """False where no plan keeps the rules, or none was found."""
        return self.status not in ("impossible", "not_found")

    @property
    def plannable_cost(self) -> float | None:
        """What of the expected cost a plan can change: without the damage that no look would prevent."""
        return None if self.expected_cost is None else self.expected_cost - self.cannot_be_planned

    @property
    def whole_gap(self) -> float | None:
        """How far, as a share, ``expected_cost`` lies above the least that any plan could cost by ``lower_bound``,
        or by ``whole_lower_bound`` where that shows more.
        """
        if self.expected_cost is None or self.lower_bound is None or self.expected_cost == 0.0:
            return None
        least = self.lower_bound if self.whole_lower_bound is None else max(self.lower_bound, self.whole_lower_bound)
        return max(0.0, (self.expected_cost - least) / abs(self.expected_cost))

    @property
    def headline(self) -> str:
        """The result in the words the project allows itself."""
        if self.status == "impossible":
            return "no plan keeps the rules"
        if self.status == "not_found":
            return "no plan that keeps the rules was found; whether there is one is not known"
        if self.finished:
            return "the drive is finished, so there is nothing left to plan"
        gap = "" if self.gap is None else f", gap {100 * self.gap:.1f} %"
        if self.whole_gap is not None and self.gap is not None and self.whole_gap > self.gap + 5e-4:
            gap += f" ({100 * self.whole_gap:.1f} % once entries are counted whole)"
        if self.status == "none_needed" and not self.candidates:
            return "no window ahead can be used, so there is nothing to choose from"
        if self.status == "none_needed":
            return f"no stop is the least expected cost in this model{gap}"
        if self.status == "best_found":
            return f"best plan found in the time given{gap}"
        return f"least expected cost in this model{gap}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBy:
    """Who read the cautions and when; no approval. A work pack asks for one before it is written."""

    name: str
    at: datetime

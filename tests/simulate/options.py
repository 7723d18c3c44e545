"""What a simulated world may be told to be; everything else is drawn from its seed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Options:
    """Sizes and habits of a world. The group "outside" holds truths that a model of the fleet does not contain."""

    # size
    places: int = 60
    """Cutting edges on the wheel."""
    length_m: float = 1500.0
    driven_share: float = 0.6
    ring_length_m: float = 1.5
    units: int = 4
    layered_share: float = 0.4
    """Share of the sections that are layered."""
    unmet_unit: bool = False
    """One unit occurs only ahead of the face."""

    # chainage
    falling: bool = False
    equation_m: float = 0.0
    """Jump of the chainage half way along the driven part; 0: none."""

    # true process
    life_sd: float = 0.12
    theta_mm: float = 0.10
    """Scale of the gamma steps in which wear is gathered: variance of a life of mean m is theta * m."""
    wear_scale: float = 1.0
    damage_scale: float = 1.0
    boundary_sd_m: float = 8.0
    """Doubt in the boundaries ahead, as drawn and as written in the ground file."""
    boundary_seen_sd_m: float = 1.5
    """The same for boundaries already passed."""

    # crew and gauge
    gauge_sd_mm: float = 0.45
    inspection_sd_mm: float = 0.35
    step_mm: float = 0.5
    go_no_go_share: float = 0.15
    """Share of readings taken with a fixed template only: below it or above it."""
    missed_share: float = 0.25
    boldness: float = 1.0
    """1.3: the crew stops late, so that more tools are found past their limit."""
    swap_share: float = 0.03
    sensors: bool = True

    # log
    missing_rings: int = 4
    doubled_rings: int = 1

    # ahead
    window_every_m: float = 70.0
    late_tool: float = 18000.0
    late_tool_per_m: float = 60.0
    standstill_per_hour: float = 1500.0

    # outside
    boundary_off_m: float = 0.0
    """A boundary already passed lies this far from where every ground file has it."""
    unlogged_regime: float = 1.0
    """Wear is multiplied by this on stretches that nothing in the log tells apart."""
    run_in: float = 1.0
    """Wear of a new ring is multiplied by this over its first 60 m."""
    crude_crew_step_mm: float = 0.0
    """Every third inspection is rounded to this step although it names the fine gauge."""
    misplaced_share: float = 0.0
    """Share of readings swapped with those of the next place."""

    # ground that differs from stretch to stretch, by the same for all tools; the units' own rates are the means
    ground_sd: float = 0.0
    """sd of the log of what a stretch wears against its unit."""
    ground_step_m: float = 60.0
    """Length of the steps; 0: it drifts, going together over 45 m."""
    ground_by_unit: bool = False
    """Each unit drifts on its own."""
    lens_factor: float = 1.0
    """Wear by this on 40 m behind the face that no map shows."""

    # tools that differ
    batch_factor: float = 1.0
    """Every third new ring fitted from the middle stop of the driven part on wears by this."""
    batch_label: str = ""
    """What the record calls that batch; empty: it does not say."""
    grade_factor: float = 1.0
    """Half of the discs put on are of another grade, which wears by this."""

    # wear that bends
    bend: float = 0.0
    """Pace falls as exp(-bend (wear / limit)^3): above 0 it slows near the limit, below 0 it quickens."""

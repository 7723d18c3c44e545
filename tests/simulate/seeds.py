"""The committed worlds of the studies, by seed: fixed before rates, outlook or planner were tuned on any of them.

`WITHIN` holds truths the model of the fleet contains, `OUTSIDE` truths it does not; each list covers rising and falling
chainage, a chainage equation, few and many places, mild and harsh ground, tools past their limit and units met only
ahead. `PLANNER` holds drives in abrasive ground with many windows ahead, where most tools wear out before they break.
`FORCED` holds 24 more, milder and harsher ones and with windows further apart, committed before late tools stopped the
simulated drive and before the planner was changed to reckon with that: its figures are judged on them alone.
`STORE` holds drives whose store is followed to the end, with lead times long and short against the days left;
its stock is drawn by `storehouse.py` from the same seed.
`PACE` holds 30 small drives on which the rule of change that remembers a tool's pace is judged, ten futures each;
committed before that rule was written.
`TUNING`, `TUNING_PLANNER`, `TUNING_FORCED`, `TUNING_STORE` and `TUNING_PACE` are for trying things out: never report
on them.

`WORLDS` are eleven worlds of 24 drives each for wear and outlook: as modelled, ground that varies, tools that differ,
wear that bends, bounds for most readings, a lens no map shows. They stand here before the terms of the model that meet
them; `TUNING_WORLDS` are the same worlds on other seeds, to try things out on, and `QUIET` 200 drives without any
effect, for false alarms.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from .options import Options
from .world import World


@dataclass(frozen=True)
class Case:
    """One committed world."""

    seed: int
    options: Options
    outside: str = ""
    """What of its truth lies outside the model; empty: nothing."""

    def world(self) -> World:
        return World(self.seed, self.options)


def _learning(k: int) -> Options:
    """The k-th mixture of sizes and habits; the same for both halves."""
    return Options(
        places=(45, 60, 80, 120)[k % 4], length_m=(1500.0, 2000.0, 2600.0)[k % 3], units=(3, 4, 5, 6)[(k // 2) % 4],
        driven_share=(0.55, 0.65, 0.6)[k % 3], layered_share=(0.3, 0.6)[k % 2], unmet_unit=k % 6 == 5,
        falling=k % 2 == 1, equation_m=(0.0, 0.0, 12.0, 0.0, -7.0)[k % 5],
        life_sd=0.12, theta_mm=(0.05, 0.10, 0.20)[(k // 3) % 3], wear_scale=(0.8, 1.0, 1.5)[(k // 2) % 3],
        go_no_go_share=(0.11, 0.15, 0.22)[k % 3], missed_share=(0.15, 0.3)[(k // 4) % 2],
        boldness=(1.0, 1.0, 1.25)[(k // 2) % 3], swap_share=(0.0, 0.03)[(k // 2) % 2],
    )  # fmt: skip


_OUTSIDE: tuple[tuple[str, dict[str, float]], ...] = (
    ("boundary off by 15 m", {"boundary_off_m": 15.0}),
    ("unlogged regime", {"unlogged_regime": 1.5}),
    ("run-in of new rings", {"run_in": 1.5}),
    ("crude crew", {"crude_crew_step_mm": 5.0}),
    ("misplaced readings", {"misplaced_share": 0.02}),
    (
        "all of them, milder",
        {
            "boundary_off_m": 15.0, "unlogged_regime": 1.25, "run_in": 1.25, "crude_crew_step_mm": 5.0,
            "misplaced_share": 0.02,
        },
    ),
)  # fmt: skip


def _planner(k: int) -> Options:
    return Options(
        places=(40, 60, 90)[k % 3], length_m=(1800.0, 2400.0)[k % 2], driven_share=0.45, units=(4, 5)[k % 2],
        falling=k % 4 == 3, wear_scale=(2.0, 3.0)[(k // 2) % 2], window_every_m=(45.0, 70.0)[(k // 3) % 2],
        standstill_per_hour=(1000.0, 2000.0)[(k // 2) % 2], missed_share=0.2, theta_mm=0.1,
        damage_scale=0.3,
    )  # fmt: skip


def _forced(k: int) -> Options:
    return Options(
        places=(40, 60, 90)[k % 3], length_m=(1800.0, 2400.0)[k % 2], driven_share=0.45, units=(4, 5)[k % 2],
        falling=k % 4 == 3, wear_scale=(1.5, 2.0, 3.0)[(k // 2) % 3], window_every_m=(45.0, 70.0, 110.0)[(k // 3) % 3],
        standstill_per_hour=(1000.0, 2000.0)[(k // 2) % 2], missed_share=0.2, theta_mm=(0.1, 0.2)[(k // 6) % 2],
        life_sd=(0.12, 0.18)[(k // 4) % 2], damage_scale=0.3,
    )  # fmt: skip


def _pace(k: int) -> Options:
    """Small drives, so that ten futures of each can be followed: tools worn out two to five times on the way."""
    return Options(
        places=(30, 40, 50)[k % 3], length_m=(1200.0, 1500.0)[k % 2], driven_share=0.5, units=(3, 4)[k % 2],
        falling=k % 4 == 3, wear_scale=(1.5, 2.0, 3.0)[(k // 2) % 3], window_every_m=(45.0, 70.0)[(k // 3) % 2],
        standstill_per_hour=(1000.0, 2000.0)[(k // 2) % 2], missed_share=0.2, theta_mm=(0.1, 0.2)[(k // 6) % 2],
        life_sd=(0.12, 0.18)[(k // 4) % 2], damage_scale=0.3,
    )  # fmt: skip


def _store(k: int) -> Options:
    return Options(
        places=(30, 45, 60)[k % 3], length_m=(1800.0, 2400.0, 3000.0)[(k // 2) % 3], driven_share=(0.4, 0.5)[k % 2],
        units=(3, 4, 5)[(k // 3) % 3], falling=k % 4 == 1, wear_scale=(1.5, 2.0, 3.0)[(k // 2) % 3],
        window_every_m=(50.0, 75.0)[(k // 3) % 2], missed_share=0.2, damage_scale=(0.3, 0.6)[(k // 4) % 2],
    )  # fmt: skip


WITHIN: tuple[Case, ...] = tuple(Case(1001 + k, _learning(k)) for k in range(24))
OUTSIDE: tuple[Case, ...] = tuple(
    Case(2001 + k, replace(_learning(k), **_OUTSIDE[k % 6][1]), _OUTSIDE[k % 6][0]) for k in range(24)
)
PLANNER: tuple[Case, ...] = tuple(Case(3001 + k, _planner(k)) for k in range(12))
FORCED: tuple[Case, ...] = tuple(Case(3101 + k, _forced(k)) for k in range(24))
TUNING: tuple[Case, ...] = tuple(Case(9001 + k, _learning(5 * k + 2)) for k in range(6))
PACE: tuple[Case, ...] = tuple(Case(3201 + k, _pace(k)) for k in range(30))
TUNING_PACE: tuple[Case, ...] = tuple(Case(9301 + k, _pace(7 * k + 2)) for k in range(6))
TUNING_PLANNER: tuple[Case, ...] = tuple(Case(9101 + k, _planner(5 * k + 1)) for k in range(4))
TUNING_FORCED: tuple[Case, ...] = tuple(
    Case(seed, _forced(k)) for k, seed in ((5, 9503), (8, 9501), (8, 9504), (17, 9502), (17, 9505), (17, 9520))
)
STORE: tuple[Case, ...] = tuple(Case(4001 + k, _store(k)) for k in range(24))
TUNING_STORE: tuple[Case, ...] = tuple(Case(9201 + k, _store(5 * k + 3)) for k in range(6))


def _drive(k: int) -> Options:
    """The k-th drive of a world: of middling size, so that ten worlds of 24 can be run."""
    return Options(
        places=(45, 60, 75)[k % 3], length_m=(1200.0, 1500.0, 1800.0)[(k // 2) % 3], units=(3, 4, 5)[(k // 3) % 3],
        driven_share=(0.6, 0.65)[k % 2], layered_share=(0.3, 0.6)[k % 2], falling=k % 4 == 3,
        equation_m=(0.0, 0.0, 0.0, 9.0)[k % 4], theta_mm=(0.05, 0.10, 0.20)[(k // 3) % 3],
        wear_scale=(1.0, 1.5, 2.0)[(k // 2) % 3], go_no_go_share=0.12, missed_share=0.2, damage_scale=0.5,
    )  # fmt: skip


_WORLDS: dict[str, dict[str, Any]] = {
    "as modelled": {},
    "steps of 60 m": {"ground_sd": 0.25},
    "drifting": {"ground_sd": 0.25, "ground_step_m": 0.0},
    "unit by unit": {"ground_sd": 0.25, "ground_step_m": 0.0, "ground_by_unit": True},
    "batch": {"batch_factor": 2.0},
    "batch, labelled": {"batch_factor": 2.0, "batch_label": "K7"},
    "grade": {"grade_factor": 0.82},
    "slowing": {"bend": 1.0},
    "quickening": {"bend": -0.8},
    "bounds": {"go_no_go_share": 0.6},
    "lens": {"lens_factor": 2.0},
}
WORLDS: dict[str, tuple[Case, ...]] = {
    name: tuple(Case(5001 + 100 * number + k, replace(_drive(k), **changes), name) for k in range(24))
    for number, (name, changes) in enumerate(_WORLDS.items())
}
TUNING_WORLDS: dict[str, tuple[Case, ...]] = {
    name: tuple(Case(9501 + 20 * number + k, replace(_drive(5 * k + 1), **changes), name) for k in range(8))
    for number, (name, changes) in enumerate(_WORLDS.items())
}
QUIET: tuple[Case, ...] = tuple(Case(7001 + k, _drive(k)) for k in range(200))

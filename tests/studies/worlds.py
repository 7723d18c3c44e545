"""Do the bands hold where the world is not the model's? Eleven worlds, each of 24 drives whose truth is known.

    python -m tests.studies.worlds "steps of 60 m" [first [last]]     # one world, or `all`
    python -m tests.studies.worlds --tuning "steps of 60 m"           # the seeds for trying things out

One line a seed: the share of tools whose true wear now lies in its 90 % band, the same for the driven metres where the
limit is reached (tools that more likely than not reach it on the drive) and for the true rates of units that stand on
readings; the mean score of wear now (mm), the mean width of the limit's band (m) and of the rates' (upper by lower
bound); CPU seconds of learning; the sd of the ground by stretch that was learnt; what was said.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import numpy as np

from tests.simulate.seeds import QUIET, TUNING_WORLDS, WORLDS, Case
from wearplan.wear import learn, look_ahead
from wearplan.wear.scoring.scores import crps

BENT = ("slowing", "quickening")
SAYS = ("batch", "slows", "quickens", "stretch ", "shifted", "lie off")


@dataclass(frozen=True)
class Row:
    """One drive; pairs are (inside, of)."""

    seed: int
    now: tuple[int, int]
    limit: tuple[int, int]
    rates: tuple[int, int]
    crps_mm: float
    limit_width_m: float
    rate_width: float
    seconds: float
    ground_sd: float
    remarks: tuple[str, ...]


def measure(case: Case) -> Row:
    """All figures of one drive."""
    world = case.world()
    start = time.process_time()
    fit = learn(world.site)
    seconds = time.process_time() - start
    outlook = look_ahead(world.site, fit)
    truth = world.truth
    wear = np.array([truth.wear_mm(int(n), world.face_m) for n in outlook.numbers])
    fine = np.array([life is not None and life.trouble_from_m is None for life in outlook.lives])
    low, high = np.quantile(outlook.wear_now_mm, [0.05, 0.95], axis=0)
    reached = outlook.limit_m()
    likely = (np.isfinite(reached).mean(axis=0) > 0.5) & fine
    first, last = np.quantile(np.where(np.isfinite(reached), reached, 1e9), [0.05, 0.95], axis=0)
    true_limit = np.minimum([truth.limit_m(int(n)) for n in outlook.numbers], 1e9)
    hit = (true_limit >= first - 1e-6) & (true_limit <= last + 1e-6)
    known = [rate for rate in fit.rates if rate.basis.startswith("readings") and "few" not in rate.basis]
    graded = {comparison.kind: reference_factor(comparison, case) for comparison in getattr(fit, "types", ())}
    inside = [
        rate.mm_per_km.p05
        <= truth.rates_mm_per_km[rate.kind, rate.unit] * graded.get(rate.kind, 1.0)
        <= rate.mm_per_km.p95
        for rate in known
    ]
    bent = case.outside in BENT
    return Row(
        seed=case.seed, now=(int(((wear >= low) & (wear <= high))[fine].sum()), int(fine.sum())),
        limit=(int(hit[likely].sum()), int(likely.sum())), rates=(0, 0) if bent else (sum(inside), len(inside)),
        crps_mm=float(crps(outlook.wear_now_mm, wear)[fine].mean()),
        limit_width_m=float((np.minimum(last, outlook.end_m) - first)[likely].mean()) if likely.any() else float("nan"),
        rate_width=float(np.mean([rate.mm_per_km.p95 / rate.mm_per_km.p05 for rate in known] or [np.nan])),
        seconds=seconds, ground_sd=float(getattr(getattr(fit, "ground", None), "sd", np.nan)), remarks=fit.remarks,
    )  # fmt: skip


def reference_factor(comparison, case: Case) -> float:
    """What the true rate of a kind is to be multiplied by: rates are those of the type with most readings."""
    return case.options.grade_factor if comparison.reference == "disc-b" else 1.0


def share(pairs) -> float:
    """Inside over all."""
    return sum(a for a, _ in pairs) / max(sum(b for _, b in pairs), 1)


def line(row: Row) -> str:
    """One seed in one line."""
    pct = lambda pair: f"{100 * pair[0] / max(pair[1], 1):3.0f}"  # noqa: E731
    said = [word.strip() for word in SAYS if any(word in remark for remark in row.remarks)]
    return (
        f"{row.seed} now {pct(row.now)} limit {pct(row.limit)} of {row.limit[1]:2d} rates {row.rates[0]:2d}/"
        f"{row.rates[1]:2d} crps {row.crps_mm:.3f} limit width {row.limit_width_m:4.0f} rate width {row.rate_width:.2f}"
        f" cpu {row.seconds:.2f} sd {row.ground_sd:.3f} said {said}"
    )


def whole(rows: list[Row]) -> str:
    """The figures over all seeds of a world."""
    return (
        f"now90 {share([r.now for r in rows]):.3f} limit90 {share([r.limit for r in rows]):.3f}"
        f" rates90 {share([r.rates for r in rows]):.3f} crps {np.mean([r.crps_mm for r in rows]):.3f}"
        f" limit width {np.nanmean([r.limit_width_m for r in rows]):.0f}"
        f" rate width {np.nanmean([r.rate_width for r in rows]):.2f}"
        f" cpu {np.mean([r.seconds for r in rows]):.2f} sd {np.mean([r.ground_sd for r in rows]):.3f}"
        f" worst now {min(r.now[0] / max(r.now[1], 1) for r in rows):.2f}"
    )


def main(arguments: list[str]) -> None:
    worlds = WORLDS
    if arguments[:1] == ["--tuning"]:
        worlds, arguments = TUNING_WORLDS, arguments[1:]
    worlds = {**worlds, "quiet": QUIET}
    names = list(WORLDS) if arguments[0] == "all" else [arguments[0]]
    for name in names:
        cases = worlds[name]
        first, last = (
            (int(arguments[1]) if len(arguments) > 1 else 0),
            (int(arguments[2]) if len(arguments) > 2 else len(cases)),
        )
        print(f"{name}", flush=True)
        rows = []
        for case in cases[first:last]:
            rows.append(measure(case))
            print(line(rows[-1]), flush=True)
            if name in ("quiet", "batch", "batch, labelled", "grade"):
                for remark in rows[-1].remarks:
                    print("      -", remark[:160], flush=True)
        print(f"{name}: {whole(rows)}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])

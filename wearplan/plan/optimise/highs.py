"""Solving the arc model with HiGHS: exact for the full model at small and middle sizes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from . import fixed
from .arc_model import ArcModel, arc_model
from .problem import Bools, Floats, Problem
from .result import Solved, Status, Watch, relative_gap

OUT_OF_NODES = "out of nodes"


def solve_arc_model(
    problem: Problem,
    *,
    gap: float = 1e-6,
    watch: Watch | None = None,
    keep: Bools | None = None,
    open_only: Bools | None = None,
    most_nodes: int | None = None,
    threads: int = 1,
) -> Solved:
    """Solve the full model in one piece.

    Parameters
    ----------
    gap : relative gap at which to stop.
    watch : clock and stop button; a minute by default.
    most_nodes : of HiGHS's own tree, after which the best so far is given; None for no end of them.
    keep, open_only : restrict the model, see `model.arc_model`; cost and bound then belong to the restricted model.
    """
    watch = watch or Watch()
    model = arc_model(problem, keep=keep, open_only=open_only)
    if watch.over():
        return Solved(
            "nothing found", (), None, np.inf, -np.inf, np.inf, "arc model in HiGHS", seconds=watch.seconds,
            stopped=watch.stopped,
        )  # fmt: skip
    status, values, bound, nodes, out = run(model, gap=gap, watch=watch, threads=threads, most_nodes=most_nodes)
    if status == "impossible":
        return Solved("impossible", (), None, np.inf, np.inf, 0.0, "arc model in HiGHS", seconds=watch.seconds)
    plan = None if values is None else _plan(problem, model, values)
    if plan is None:
        return Solved(
            "nothing found", (), None, np.inf, bound, np.inf, "arc model in HiGHS", seconds=watch.seconds,
            stopped=out or watch.stopped or "time limit", nodes=nodes,
        )  # fmt: skip
    stops, visits, cost = plan
    bound = min(bound, cost)
    left = relative_gap(cost, bound)
    return Solved(
        "least cost" if left <= gap * (1 + 1e-6) + 1e-12 else "best found",
        stops, visits, cost, bound, left, "arc model in HiGHS",
        nodes=nodes, seconds=watch.seconds, stopped=out or watch.stopped,
    )  # fmt: skip


def _plan(problem: Problem, model: ArcModel, values: Floats) -> tuple[tuple[int, ...], Bools, float] | None:
    stops = model.opened(values)
    if problem.is_path_model:
        visits = fixed.best_visits(problem, stops)
        if visits is None:
            return None
    else:
        visits = model.visits(values, problem.places)
    cost = fixed.plan_cost(problem, stops, visits)
    return (stops, visits, cost) if np.isfinite(cost) else None


def run(
    model: ArcModel,
    *,
    gap: float,
    watch: Watch,
    threads: int = 1,
    most_nodes: int | None = None,
) -> tuple[Status, Floats | None, float, int, str]:
    """Hand a model to HiGHS: (status, values of the best solution or None, lower bound, nodes, why it ended early)."""
    import highspy

    solver = _quiet_solver()
    solver.setOptionValue("threads", threads)
    solver.setOptionValue("mip_rel_gap", gap)
    solver.setOptionValue("mip_abs_gap", 1e-9)
    if most_nodes is not None:
        solver.setOptionValue("mip_max_nodes", most_nodes)
    solver.passModel(_passed(model))

    def look(event: Any) -> None:
        out = event.data_out
        watch.tell(float(out.mip_primal_bound), float(out.mip_dual_bound), "arc model in HiGHS")
        if watch.over():
            event.interrupt()

    # Last of all: handing over a large model takes seconds of its own.
    solver.setOptionValue("time_limit", max(0.05, watch.left_s))
    solver.cbMipInterrupt += look
    solver.cbSimplexInterrupt += look
    solver.run()
    state = solver.getModelStatus()
    info = solver.getInfo()
    impossible = (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kUnboundedOrInfeasible)
    if state in impossible:
        return "impossible", None, np.inf, int(info.mip_node_count), ""
    if state == highspy.HighsModelStatus.kTimeLimit:
        watch.over()
        watch.stopped = watch.stopped or "time limit"
    found = info.primal_solution_status == 2  # feasible
    values = np.array(solver.getSolution().col_value) if found else None
    # Without whole numbers the model is a linear programme, and its value is its bound.
    bound = float(info.mip_dual_bound if model.whole.any() else info.objective_function_value if found else -np.inf)
    out = OUT_OF_NODES if state == highspy.HighsModelStatus.kSolutionLimit else ""
    return ("best found" if found else "nothing found"), values, bound, int(info.mip_node_count), out


def _passed(model: ArcModel) -> Any:
    """The model as HiGHS takes it."""
    import highspy

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = model.cost.size, model.row_lower.size
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = model.cost, model.lower, model.upper
    lp.row_lower_, lp.row_upper_ = model.row_lower, model.row_upper
    matrix = model.matrix
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = matrix.indptr.astype(np.int32)
    lp.a_matrix_.index_ = matrix.indices.astype(np.int32)
    lp.a_matrix_.value_ = matrix.data
    kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
    lp.integrality_ = [kinds[int(w)] for w in model.whole]
    return lp


def row_duals(model: ArcModel) -> Floats | None:
    """(rows,) dual values of the model without whole numbers, what one unit more on a row's right side adds to the
    cost; None where it has no solution.
    """
    import highspy

    solver = _quiet_solver()
    solver.setOptionValue("threads", 1)  # all solves of a process must ask for the same number
    lp = _passed(replace(model, whole=np.zeros_like(model.whole)))
    solver.passModel(lp)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().row_dual)


def _quiet_solver() -> Any:
    """A HiGHS object that prints nothing: its constructor would print a banner on turning the callbacks on."""
    import highspy

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    solver = Quiet()  # type: ignore[no-untyped-call]
    # HiGHS 1.16 was seen never to come back from a restart, deaf to callbacks and clock.
    solver.setOptionValue("mip_allow_restart", False)
    return solver

"""The price method: prices at the root, stops fixed by penalties, branching on stops with inherited prices, HiGHS for
what remains.

Everything ruled out on the way is ruled out by a bound, and the least of these bounds is kept: the lower bound
reported is never better than the weakest reason by which anything was set aside.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import replace
from itertools import count

import numpy as np

from . import paths, prices
from .highs import OUT_OF_NODES, solve_arc_model
from .local import Search
from .prices import Penalties, Priced
from .problem import Problem, restricted
from .repair import repaired, widened
from .result import Clash, Solved, Watch, relative_gap
from .rowprices import row_prices
from .smooth import smooth
from .trials import WARM, Trials

METHOD = "prices and branching on stops"
SMALL_REST = 1500  # arcs left at which HiGHS is quicker than more branching
SMALL_TIED_REST = 3000  # the same where conditions tie places together
ROOT_ROUNDS = 10
NODE_ROUNDS = 2
ROOT_SWEEPS = 6  # smoothed sweeps at one temperature
NODE_SWEEPS = 3
BUDGET_SWEEPS = 4  # times as many where a budget has a price: it moves only a stride between two sweeps
HOT, COLD = 0.5, 0.06  # temperatures, as shares of what is left to prove on average for each place
COOLING = 0.4
KICKS = 3  # local searches from nearby sets, each round at the root
SEARCH_EVERY = 4  # nodes between two local searches further down
HIGHS_NODES = 2000  # of HiGHS, on a rest whose rows tie places together, before it is split after all

FirstPlan = Callable[[Problem, Watch], tuple[tuple[int, ...], ...]]
Explain = Callable[[Problem, Watch], Clash | None]


class Branching:
    """One solve by prices; see the module's text."""

    def __init__(
        self,
        problem: Problem,
        gap: float,
        watch: Watch,
        *,
        explain: tuple[FirstPlan, Explain] | None = None,
        most_nodes: int | None = None,
        whole: float = 0.0,
        enough: float = -np.inf,
    ) -> None:
        self.problem, self.gap, self.watch = problem, gap, watch
        self.whole = whole  # every plan costs a multiple of this; 0 where that is not known
        self.enough = enough  # all that is asked is whether a plan costs no more than this; -inf for the least cost
        self.explain = explain  # where no plan comes up: plans that use least of a limit, and why there is none
        self.most_nodes = most_nodes  # branchings to stop at; None for no end of them
        self.stops: tuple[int, ...] = ()
        self.visits: np.ndarray | None = None
        self.cost = np.inf
        self.set_aside = np.inf  # least bound of all that was ruled out
        self.nodes = 0
        self.iterations = 0
        self.tried: set[tuple[int, ...]] = set()
        self.open: list[tuple[float, int, Priced]] = []
        self.order = count()
        self.current = -np.inf
        self.plain_search: Search | None = None
        self.charged = problem  # with the prices of rows in its arcs
        self.rows_priced_at: tuple[int, ...] = ()
        self.clash: Clash | None = None
        self.trials = Trials(problem)

    # What is known so far

    @property
    def threshold(self) -> float:
        """Whatever costs this much or more is not worth looking for."""
        if self.cost <= self.enough:
            return -np.inf
        asked = self.enough + 2e-6 if np.isfinite(self.enough) else np.inf
        if not np.isfinite(self.cost):
            return asked
        return min(asked, self.cost - self._worth())

    def _worth(self) -> float:
        return max(0.95 * self.gap * abs(self.cost), 1e-9 * max(abs(self.cost), 1e-9), 0.999 * self.whole)

    @property
    def lower_bound(self) -> float:
        """Least bound of everything ruled out and everything still open."""
        waiting = self.open[0][0] if self.open else np.inf
        return float(min(self.set_aside, waiting, self.current, self.cost))

    def offer(self, stops: tuple[int, ...]) -> None:
        """Cost a set of stops, its rows kept, and keep it where it is the best so far."""
        if stops in self.tried:
            return
        self.tried.add(stops)
        self.keep(repaired(self.problem, stops, watch=self.watch))

    def keep(self, found: Solved) -> None:
        """Keep a plan where it is the best so far."""
        if found.visits is not None and found.cost < self.cost:
            self.stops, self.visits, self.cost = found.stops, found.visits, found.cost

    def rule_out(self, bound: float) -> None:
        """Note that something was set aside because nothing in it costs less than ``bound``."""
        self.set_aside = min(self.set_aside, bound)

    @property
    def used_up(self) -> bool:
        """True once it has branched as often as it may."""
        return self.most_nodes is not None and self.nodes >= self.most_nodes

    # The steps

    def searcher(self, priced: Priced) -> Search:
        """Local search in the path model, with the prices of the conditions that tie places together."""
        if not priced.ties.any or self.problem.is_path_model:
            if self.plain_search is None:
                self.plain_search = Search(self.charged)
            search = self.plain_search
        else:
            search = Search(self.charged, extra=priced.ties.stop_terms(np.arange(self.problem.end + 1)))
        search.within = self.problem.at(priced.stops)
        return search

    def search_from(self, priced: Priced, stops: tuple[int, ...], *, kicks: int = 0) -> None:
        """Improve a set of stops by local search, cost the result, and try again from nearby sets ``kicks`` times."""
        search = self.searcher(priced)
        best, least = search.improve(stops, self.watch)
        self.offer(best)
        likely = np.zeros(self.problem.end + 1)
        likely[priced.nodes] = 0.1 if priced.weight is None else priced.weight
        for _ in range(kicks):
            if self.watch.over():
                break
            other, value = search.improve(search.kicked(best, likely), self.watch)
            # With the ties priced, the search's value is a bound for its stops: what cannot win is not costed.
            if value + priced.ties.constant() < self.cost:
                self.offer(other)
            if value < least:
                best, least = other, value

    def fix(self, priced: Priced) -> tuple[Priced, Penalties]:
        """Close and open for good what the penalties allow, at the present prices."""
        found = prices.penalties(priced)
        free = ~priced.opened
        at = self.threshold
        if_open = found.if_open.copy()
        for b in self.problem.budgets:  # a stop that no longer fits the budget cannot be opened at any cost
            weight = b.weight[priced.nodes]
            if_open[weight[priced.opened].sum() + weight > b.at_most + 1e-9] = np.inf
        close, open_ = free & (if_open >= at), free & (found.if_closed >= at)
        both = close & open_
        if both.any():
            self.rule_out(float(np.minimum(if_open, found.if_closed)[both].max()))
            priced.bound = np.inf
            return priced, found
        ruled = np.concatenate((if_open[close], found.if_closed[open_]))
        if ruled.size:
            self.rule_out(float(ruled.min()))
            priced = priced.without(close, open_)
            found = prices.penalties(priced)
        return priced, found

    def tighten(self, priced: Priced, rounds: int, *, root: bool) -> tuple[Priced, Penalties | None]:
        """Smooth, sweep and fix in turn, ever colder, while it pays."""
        if root:
            prices.sweep(priced, 2, self.watch)
            self.current = priced.bound
            self.first_plans(priced)
            self.price_rows(priced)
        found: Penalties | None = None
        share = HOT if root else WARM
        for _ in range(rounds):
            self.current = max(self.current, priced.bound) if root else priced.bound
            if priced.bound >= self.threshold or self.watch.over():
                break
            before, size = priced.bound, priced.stops.size
            self.smoothed(priced, share, ROOT_SWEEPS if root else NODE_SWEEPS)
            if priced.bound >= self.threshold:
                break
            priced, found = self.fix(priced)
            self.watch.tell(self.cost, self.lower_bound, METHOD)
            if priced.bound >= self.threshold or priced.opened.all():
                break
            if root and priced.weight is not None:
                likely = priced.where(priced.weight > 0.4)
                self.search_from(priced, likely, kicks=KICKS)
                self.price_rows(priced)
            closing = (priced.bound - before) / max(self.threshold - before, 1e-12)
            if share < COLD or (size - priced.stops.size < 0.1 * size and closing < 0.1 and share < WARM):
                break
            share *= COOLING
        if found is None and priced.bound < self.threshold:
            priced, found = self.fix(priced)
        return priced, found

    def smoothed(self, priced: Priced, share: float, times: int) -> None:
        """Smooth at a share of the room left to the goal, then sweep."""
        goal = self.cost if np.isfinite(self.cost) else priced.bound + 0.02 * abs(priced.bound)
        room = min(self.threshold, goal) - priced.bound
        times *= BUDGET_SWEEPS if priced.ties.nu.any() else 1
        smooth(priced, share * room / self.problem.places, times, self.watch)
        self.iterations += times
        prices.sweep(priced, 1, self.watch)

    def price_rows(self, priced: Priced) -> None:
        """Price the rows by the best stops so far."""
        if not self.problem.rows or not self.visits_known or self.stops == self.rows_priced_at:
            return
        self.rows_priced_at = self.stops
        pays, lost = row_prices(self.problem, self.stops)
        cost = self.problem.interval_cost.copy()
        for p, more in pays.items():
            cost[p] += more
        self.charged, self.plain_search = replace(self.problem, interval_cost=cost), None
        priced.arcs = self.charged.arcs[np.ix_(priced.nodes[:-1], priced.nodes)]
        priced.ties.lost = lost

    def first_plans(self, priced: Priced) -> None:
        """Plans to start with: grown from nothing, and from what the paths visit at the first prices."""
        self.search_from(priced, ())
        at_prices = paths.forward(priced.arcs, priced.prices)
        visited = np.asarray(paths.trace(priced.arcs, at_prices).any(axis=1))
        self.search_from(priced, priced.where(visited))
        if not self.visits_known:
            self.search_from(priced, tuple(int(n) for n in priced.stops))
        if self.explain is None or self.visits_known or not np.isfinite(priced.bound):
            return
        first_plan, why_infeasible = self.explain
        for stops in first_plan(self.problem, self.watch):
            self.offer(stops)
            self.search_from(priced, stops)
        if not self.visits_known:
            self.clash = why_infeasible(self.problem, self.watch)
            if self.clash is not None:
                priced.bound = np.inf
        if not self.visits_known and self.clash is None:
            self.keep(solve_arc_model(self.problem, gap=1e9, watch=self.watch))

    @property
    def visits_known(self) -> bool:
        """True once there is a plan."""
        return self.visits is not None

    def finish_with_highs(self, priced: Priced, found: Penalties, keep: np.ndarray) -> bool:
        """Solve what is left in one piece; False where that takes too many nodes: it must then be split after all."""
        small = restricted(self.problem, priced.stops, priced.where(priced.opened))
        at = self.threshold
        most = None if self.problem.is_path_model else HIGHS_NODES
        solved = solve_arc_model(small, gap=max(0.04 * self.gap, 1e-9), watch=self.watch, keep=keep, most_nodes=most)
        self.keep(widened(self.problem, priced.stops, solved))
        if solved.stopped == OUT_OF_NODES:
            return False
        self.rule_out(at)  # arcs left out lift the bound to the threshold
        self.rule_out(max(found.bound, solved.lower_bound))
        return True

    def step(self, priced: Priced, *, root: bool = False) -> None:
        """Work on one node: rule it out, finish it, or split it in two."""
        self.nodes += 1
        priced, found = self.tighten(priced, ROOT_ROUNDS if root else NODE_ROUNDS, root=root)
        if not root and priced.weight is not None and self.nodes % SEARCH_EVERY == 0:
            self.search_from(priced, priced.where(priced.opened | (priced.weight > 0.4)), kicks=1)
        self.current = np.inf
        if priced.bound >= self.threshold:
            self.rule_out(priced.bound)
            return
        if self.watch.over() or found is None:
            self.rule_out(priced.bound)  # left unfinished: its bound stays in the gap
            return
        if priced.opened.all():
            done = repaired(self.problem, (int(n) for n in priced.stops), watch=self.watch)
            self.keep(done)
            self.rule_out(max(priced.bound, done.lower_bound))
            return
        keep = prices.arcs_within(found, self.threshold)
        rest = SMALL_REST if self.problem.is_path_model else SMALL_TIED_REST
        if int(keep.sum()) <= rest and self.finish_with_highs(priced, found, keep):
            return
        for child in self.trials.children(priced, found, self.threshold, self.watch):
            if child.bound >= self.threshold:
                self.rule_out(child.bound)
            else:
                heapq.heappush(self.open, (child.bound, next(self.order), child))

    def run(self) -> Solved:
        """Search until the gap is closed, the nodes are used up or somebody asks to stop."""
        self.step(prices.start_prices(self.problem), root=True)
        while self.open and not self.watch.over() and not self.used_up:
            bound, _, priced = heapq.heappop(self.open)
            if bound >= self.threshold:
                self.rule_out(bound)
                continue
            self.current = bound
            self.step(priced)
            self.current = np.inf
            self.watch.tell(self.cost, self.lower_bound, METHOD)
        return self.result()

    def result(self) -> Solved:
        """The best plan with its gap."""
        bound = self.lower_bound
        if self.whole and np.isfinite(bound):
            bound = float(np.ceil(bound / self.whole - 5e-4) * self.whole)
        left = relative_gap(self.cost, bound)
        relaxed = self.problem.tied_by
        if not self.visits_known:
            status = "nothing found" if self.watch.stopped or self.open else "impossible"
        else:
            status = "least cost" if left <= self.gap * (1 + 1e-6) + 1e-9 else "best found"
        return Solved(
            status, self.stops, self.visits, self.cost, bound, left, METHOD,  # type: ignore[arg-type]
            bound_model="path model with linear terms" if relaxed and left > self.gap else "full model",
            relaxed=relaxed if left > self.gap else (), repaired=relaxed,
            iterations=self.iterations, nodes=self.nodes, seconds=self.watch.seconds,
            stopped=self.watch.stopped or (OUT_OF_NODES if self.open else ""), clash=self.clash,
        )  # fmt: skip


def solve_by_prices(
    problem: Problem,
    *,
    gap: float = 1e-6,
    watch: Watch | None = None,
    most_nodes: int | None = None,
    explain: tuple[FirstPlan, Explain] | None = None,
) -> Solved:
    """Solve by prices and branching; made for many places and stops. See `Branching`.

    Raises
    ------
    ValueError
        Where entries are to be counted whole: only the arc model holds that.
    """
    if problem.entries is not None:
        raise ValueError("prices do not hold whole entries: solve the arc model")
    if not problem.required[~problem.allowed].any():
        return Branching(problem, gap, watch or Watch(), most_nodes=most_nodes, explain=explain).run()
    return Solved("impossible", (), None, np.inf, np.inf, 0.0, METHOD)

"""The one place where the app calls the rooms below; each is imported when it is first needed.

Every function takes a snapshot and gives the parts of the next one. They run in worker threads, so none touches a
widget.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wearplan.tui.state import History, Snapshot

if TYPE_CHECKING:
    from wearplan.site.records import Site

Progress = Callable[..., None]
ShouldStop = Callable[[], bool]
DRAWS = 400
STOPPED = (
    "The search was stopped: the plan is the best until then; left to its end, it may find a cheaper one, and "
    "comparisons it had not come to are left out. Ctrl+R searches anew."
)


class Barred(Exception):
    """Faults of the folder, or a missing file, forbid this answer; the text says which."""


class Cancelled(Exception):
    """The step was asked to stop."""


class Rooms:
    """Calls to the rooms. Tests put their own in its place."""

    def read(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan.site import load

        loaded = load(snapshot.folder)
        if loaded.site is None:
            raise _NoSite(loaded.faults)
        return {"site": loaded.site, "faults": loaded.faults}

    def history(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan import history, wheel

        site = snapshot.site
        assert site is not None
        face_m = float(history.face_m(site))
        layout = wheel.layout_at(site.wheel, face_m)
        if not site.grounds:
            return {"history": History(layout=layout, face_m=face_m, calendar=history.Calendar(site))}
        rings = history.clean_rings(site)
        exposure = history.measure_exposure(site, rings)
        lives = history.lives(site, exposure)
        return {
            "history": History(
                layout=layout,
                face_m=face_m,
                rings=rings,
                exposure=exposure,
                lives=lives,
                current=history.current_lives(lives),
                last_seen=history.last_seen(site),
                calendar=history.Calendar(site, rings),
            )
        }

    def rates(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan import wear

        return {"fit": wear.learn(_site(snapshot, "rates"), progress=progress)}

    def outlook(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan import wear

        site = _site(snapshot, "outlook")
        if snapshot.fit is None:
            raise Barred(not_given("outlook", "there are no rates to look ahead with"))
        outlook = wear.look_ahead(site, snapshot.fit, draws=DRAWS)
        # Worked out here, in the thread, so that no key has to wait for it.
        over = (outlook.wear_mm > outlook.limit_mm.astype("float32")[None, :, None]).mean(axis=0).sum(axis=0)
        tools = {tool.position: tool for tool in outlook.tools()}
        return {"outlook": outlook, "tools": tools, "over_ahead": over}

    def plan(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan import plan

        site = _site(snapshot, "plan")
        if site.stops is None:
            raise Barred(not_given("plan", "stops.toml is missing or faulty, and with it costs and windows"))
        if snapshot.outlook is None:
            raise Barred(not_given("plan", "there is no outlook to plan with"))
        wishes = snapshot.wishes or plan.Wishes()
        found = plan.propose(site, snapshot.outlook, wishes=wishes, progress=progress, should_stop=should_stop)
        if should_stop():
            if found.status == "not_found":
                raise Cancelled
            found = replace(found, remarks=(STOPPED, *found.remarks))
        parts = {"plan": found, "plan_is_first": False}
        return parts if snapshot.wishes else {**parts, "free_plan": found}

    def plan_first(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        """First numbers for a wish, without what stands beside the plan and the last per mille; `plan` refines them."""
        from wearplan import plan

        if snapshot.wishes is None or snapshot.site is None or snapshot.outlook is None or snapshot.site.stops is None:
            return {}
        quick = replace(
            snapshot.wishes, deferral=False, tradeoff=False, comparison=False, priced=False, gap=2e-3
        )  # fmt: skip
        found = plan.propose(snapshot.site, snapshot.outlook, wishes=quick, progress=progress, should_stop=should_stop)
        return {} if found.status == "not_found" else {"plan": found, "plan_is_first": True}

    def demand(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan.demand.answer import with_memory

        site, outlook, plan = _site(snapshot, "demand"), snapshot.outlook, snapshot.plan
        if outlook is None or plan is None:
            raise Barred(not_given("demand", "there is no plan to count from"))
        if site.stores is None:
            raise Barred(not_given("demand", "the folder has no stores.toml"))
        if not plan.keeps_rules:
            raise Barred(not_given("demand", f"{plan.headline}, so no tools can be counted"))
        demand, kept = with_memory((site, outlook, plan), snapshot.folder)
        return {"demand": demand, "forecast": kept}

    def backtest(self, snapshot: Snapshot, progress: Progress, should_stop: ShouldStop) -> dict[str, Any]:
        from wearplan import wear

        return {"backtest": wear.backtest(_site(snapshot, "backtest"), progress=progress)}


_SUBJECTS = {"rates": "The rates are", "backtest": "The test of past outlooks is"}


def not_given(answer: str, why: str) -> str:
    """A sentence for an answer that cannot be had."""
    return f"{_SUBJECTS.get(answer, f'The {answer} is')} not given: {why}"


class _NoSite(Barred):
    def __init__(self, faults: tuple[Any, ...]) -> None:
        self.faults = faults
        what = faults[0].what if faults else "nothing there can be read"
        super().__init__(f"No site can be made of this folder: {what}")


def _site(snapshot: Snapshot, answer: str) -> Site:
    """The site, unless faults forbid this answer."""
    site = snapshot.site
    if site is None:
        raise Barred(not_given(answer, "there is no site"))
    faults = site.forbidding(answer)
    if faults:
        more = f" (and {len(faults) - 1} more, see Faults)" if len(faults) > 1 else ""
        raise Barred(not_given(answer, f"{faults[0]}{more}"))
    return site

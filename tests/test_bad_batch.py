"""Month 5: every third ring fitted since stop 6 wears twice as fast, and no record says so. What the program says at
stop 8, and what it makes of it for the plan and the store."""

import numpy as np
import pytest

import wearplan.wear.fit as learning
from tests.simulate.crew import Crew
from tests.simulate.options import Options
from tests.simulate.process import Process
from tests.simulate.run import Run
from tests.simulate.world import draw_blueprint
from wearplan import demand, plan, wear

SEED = 9702  # one for trying out
QUICK = plan.Wishes(deferral=False, tradeoff=False, comparison=False, gap=0.02, max_candidates=60, time_limit_s=60)


@pytest.fixture(scope="module")
def run() -> Run:
    options = Options(
        places=75, length_m=1000.0, units=3, window_every_m=30.0, wear_scale=2.0, missed_share=0.1, go_no_go_share=0.05,
        damage_scale=0.3, batch_factor=2.0,
    )  # fmt: skip
    process = Process(draw_blueprint(SEED, options), np.random.default_rng([SEED, 2]))
    process.batch_from = 10**9
    found = Run(process, np.random.default_rng([SEED, 3]))
    crew = Crew(found, np.random.default_rng([SEED, 4]))
    while len(found.inspections) < 8:
        found.drive_to(found.ring + 1)
        if crew.wants_to_stop():
            if len(found.inspections) == 5:
                process.batch_from = found.ring
            crew.stop_here(reach=1.0)
    return found


def answers(site):
    fit = wear.learn(site)
    outlook = wear.look_ahead(site, fit, draws=150)
    proposed = plan.propose(site, outlook, wishes=QUICK)
    return fit, outlook, proposed, demand.demand_of([(site, outlook, proposed)])


def test_it_is_named_with_each_tools_chance_and_moves_plan_and_store(run, monkeypatch):
    site = run.site()
    fit, outlook, proposed, wanted = answers(site)
    (batch,) = fit.batches
    assert batch.since_id == site.inspections[5].id
    assert batch.kind == "disc"
    assert batch.label is None
    assert batch.wear_times.p05 < 2.0 < 1.1 * batch.wear_times.p95
    assert any(remark.startswith("a batch of discs differs") for remark in fit.remarks)
    # every disc in place fitted since has its chance, and those most suspected are nearly all of it
    since = {
        life.position for life in fit.lives
        if life.open and life.kind == "disc" and life.tool_type in fit.by_kind["disc"].suspicion.types
        and life.from_m >= batch.since_m - 1e-3
    }  # fmt: skip
    chance = {place: each for place, _, each in batch.in_place}
    assert since <= set(chance)
    state, process = run.state, run.process
    bad = {int(number) for i, number in enumerate(process.numbers) if process.bad(i, int(state.fitted_ring[i]))}
    sure = {place for place, each in chance.items() if each > 0.9}
    assert len(sure & bad) > 0.8 * len(sure)
    # had nobody looked for it
    monkeypatch.setattr(learning, "suspect", lambda *_: None)
    _, blind_outlook, blind_plan, blind_wanted = answers(site)
    at = [int(np.flatnonzero(outlook.numbers == place)[0]) for place in sure]
    later = outlook.face_m + 40.0
    assert outlook.wear_at(later)[:, at].mean() > blind_outlook.wear_at(later)[:, at].mean()
    assert [s.driven_m for s in proposed.stops] != [s.driven_m for s in blind_plan.stops]
    used, blind_used = (dict(each.totals)["disc-a"].p50 for each in (wanted, blind_wanted))
    assert used > 1.2 * blind_used
    ordered, blind_ordered = (
        sum(order.quantity for order in each.orders if order.tool_type == "disc-a") for each in (wanted, blind_wanted)
    )
    assert ordered > blind_ordered

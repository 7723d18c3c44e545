"""One small simulated drive with every answer, made once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.simulate import World
from wearplan.report.answers import Answers
from wearplan.site.records import OnOrder, PartWorn, Stock, Stores


@pytest.fixture(scope="session")
def answers() -> Answers:
    from wearplan import demand, history, plan, wear

    site = World(3, places=24, length_m=1200.0, window_every_m=90.0).site
    site = replace(site, stores=Stores(stock=tuple(_stock(kind.code) for kind in site.wheel.tool_types)))
    fit = wear.learn(site)
    outlook = wear.look_ahead(site, fit, draws=100)
    wishes = plan.Wishes(time_limit_s=5, max_candidates=12, deferral_windows=2)
    proposed = plan.propose(site, outlook, wishes=wishes)
    assert proposed.stops
    return Answers(
        site=site,
        fit=fit,
        outlook=outlook,
        plan=proposed,
        demand=demand.demand_of([(site, outlook, proposed)]),
        backtest=wear.backtest(site),
        ring_notes=history.clean_rings(site).notes,
    )


def _stock(code: str) -> Stock:
    from datetime import date

    return Stock(
        tool_type=code,
        on_hand=1,
        in_rebuild=1,
        part_worn=(PartWorn(serial=f"{code}-9", wear_mm=5.0),),
        on_order=(OnOrder(quantity=2, due=date(2026, 12, 20), due_doubt_days=8.0),),
    )

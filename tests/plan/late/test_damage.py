"""Damage apart from lateness: minor and major by the site's words, and what no plan can change."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest

from tests.plan.makers import forced_stop, make_outlook, make_site, window
from wearplan.plan import propose
from wearplan.plan.ahead import damage as damage_module
from wearplan.plan.ahead.damage import damage_of, is_major
from wearplan.plan.model.asked import task
from wearplan.plan.play.play import play
from wearplan.plan.play.policies import Planned
from wearplan.plan.play.worlds import worlds
from wearplan.plan.records import Plan, Wishes
from wearplan.report.plan_text import headline
from wearplan.site.records import Costs, Site

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False)
WINDOWS = tuple(window(f"w{k}", 400.0 + 150.0 * k, 403.0 + 150.0 * k) for k in range(4))


def site_of(**costs: object) -> Site:
    given: dict[str, object] = {"standstill_per_hour": 800.0, "late_tool": 18000.0, "late_tool_per_m": 60.0, **costs}
    return make_site(
        discs=6,
        windows=WINDOWS,
        costs=Costs(**given),
        forced_stops=(forced_stop(0.0, 1000.0, 60.0),),  # type: ignore[arg-type]
    )


def plan_of(site: Site, hazard: float = 0.8) -> Plan:
    return propose(site, make_outlook(site, draws=60, hazard_per_km=hazard), wishes=ALONE)


@dataclass(frozen=True)
class Life:
    kind: str
    trouble_condition: str | None


def test_the_share_of_minor_damage_comes_from_the_sites_own_lives(monkeypatch: pytest.MonkeyPatch) -> None:
    words = ["chipped"] * 6 + ["cracked", "seized", None, None]
    monkeypatch.setattr("wearplan.history.lives", lambda _: [Life("disc", w) for w in words])
    site = replace(site_of(), inspections=("any",))  # type: ignore[arg-type]
    found = damage_of(site)
    assert found.share("disc") == pytest.approx(7.0 / 10.0)
    assert found.share("scraper") == pytest.approx(0.5)
    stricter = replace(site, stops=replace(site.stops, costs=replace(site.stops.costs, minor_conditions=())))  # type: ignore[type-var, union-attr]
    assert damage_of(stricter).share("disc") == pytest.approx(1.0 / 10.0)
    assert damage_module.__doc__
    assert "no published source" in damage_module.__doc__


def test_words_are_the_sites() -> None:
    site = site_of()
    assert not is_major(site, "chipped")
    assert is_major(site, "cracked")
    assert is_major(site, None)
    assert is_major(site_of(minor_conditions=("flat",)), "chipped")
    assert not is_major(site_of(minor_conditions=("flat",)), "flat")


def test_prices_are_the_sites_and_the_parts_add_up() -> None:
    plain = plan_of(site_of())
    assert plain.parts.damage > 0.0
    assert plan_of(site_of(), hazard=0.0).parts.damage == 0.0
    assert plan_of(site_of(major_damage=0.0, major_damage_per_m=0.0)).parts.damage < 0.5 * plain.parts.damage
    assert plan_of(site_of(minor_damage=9000.0)).parts.damage > 1.2 * plain.parts.damage


def test_what_no_look_prevents_is_named_apart() -> None:
    plan = plan_of(site_of())
    assert plan.expected_cost is not None
    assert plan.plannable_cost is not None
    assert 0.0 < plan.cannot_be_planned <= plan.parts.damage
    assert plan.plannable_cost == pytest.approx(plan.expected_cost - plan.cannot_be_planned)
    said = " ".join(headline(plan, site_of()))
    assert "cannot be planned away" in said
    # Without a price by the metre nothing is gained by looking, so all of it stays but the tools changed early.
    flat = plan_of(site_of(late_tool_per_m=0.0))
    assert flat.cannot_be_planned == pytest.approx(flat.parts.damage, rel=0.05)


def test_play_counts_what_the_plan_counts() -> None:
    """No wear at all: what stays is damage, looked for at three stops. Played and reckoned alike."""
    site = site_of(minor_damage=5000.0)
    outlook = make_outlook(site, draws=400, hazard_per_km=0.8, mm_per_100m=0.001, wear_now_mm=1.0)
    model, _ = task(site, outlook, ALONE)
    stops = (2, 5, 8)
    visits = np.zeros((model.places, len(stops) + 2), dtype=bool)
    played = play(worlds(model, draws=4000, seed=3), Planned(where=stops, model=model, visits=visits))
    nodes = model.nodes_at(stops)
    reckoned = sum(float(model.inter.look_cost[a, b]) for a, b in pairwise(nodes))
    renewal = sum(t.price - 0.5 * t.life_value for t in model.ahead.tools) / model.places
    # The early change is steel and work in play, so it is taken out of what the model counts as damage.
    assert played.late_cost.mean() < reckoned
    assert played.late_cost.mean() == pytest.approx(reckoned - played.broken_tools.mean() * (renewal + 2000.0), rel=0.1)
